"""Riders whose names are nearly the same are pointed out where they may be one."""

import pytest

from lapkit.importer.rider_names import look_alike_riders


def test_names_that_differ_by_capitals_or_spaces_alone_are_pointed_out():
    # In one run, too: nobody else is called so.
    (told,) = look_alike_riders({"Iska": "12", "Bo": "12", "iska": "1", "Mc Coy": "1"})
    assert told.text.startswith("“Iska” and “iska” are kept apart as 2 riders")
    assert told.riders == ("Iska", "iska")
    assert len(list(look_alike_riders({"Mc Coy": "1", "McCoy": "2"}))) == 1
    assert not list(look_alike_riders({"Iska": "1", "Bo": "1"}))


@pytest.mark.parametrize(
    ("one", "other"),
    [("Bea", "Beea"), ("Tove", "Tore"), ("Marlo", "Malro"), ("Anna Lind", "Ana Lindt")],
)
def test_a_name_spelt_wrong_in_one_run_is_pointed_out(one, other):
    (told,) = look_alike_riders({one: ["1", "3"], "Odel": ["1", "2", "3"], other: ["2"]})
    assert told.text.startswith(
        f"“{one}” and “{other}” are spelt almost alike, and no run has both."
    )
    # Two who ride together are two.
    assert not list(look_alike_riders({one: ["1", "2"], other: ["2"]}))


@pytest.mark.parametrize(
    ("one", "other"), [("Jan", "Jon"), ("Rider 1", "Rider 2"), ("Odel", "Iska")]
)
def test_names_of_their_own_are_not(one, other):
    assert not list(look_alike_riders({one: ["1"], other: ["2"]}))
