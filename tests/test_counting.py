import pytest

from lapkit.counting import all_of, corner_name, counted, first_of, listed, run_names


@pytest.mark.parametrize(
    ("number", "told"), [(0, "no timed lap"), (1, "1 timed lap"), (8, "8 timed laps")]
)
def test_one_is_told_from_several(number, told):
    assert counted(number, "timed lap") == told


def test_a_plural_of_its_own():
    assert counted(2, "lap is broken", "laps are broken") == "2 laps are broken"
    assert counted(1, "lap is broken", "laps are broken") == "1 lap is broken"


@pytest.mark.parametrize(
    ("number", "told"), [(1, "the one lap"), (2, "both laps"), (8, "all 8 laps")]
)
def test_all_of_some_things(number, told):
    assert all_of(number, "lap") == told


@pytest.mark.parametrize(
    ("things", "told"),
    [((), ""), (("a",), "a"), (("a", "b"), "a and b"), (("a", "b", "c"), "a, b and c")],
)
def test_things_are_listed(things, told):
    assert listed(things) == told


@pytest.mark.parametrize(
    ("things", "told"),
    [("abc", "a, b and c"), ("abcd", "a, b, c and d"), ("abcde", "a, b, c and 2 more"), ("", "")],
)
def test_of_many_things_the_first_are_named(things, told):
    assert first_of(list(things)) == told


def test_runs_are_named_in_singular_and_plural():
    assert run_names(["1"]) == "run 1"
    assert run_names(["1", "2", "late"]) == "runs 1, 2 and late"


@pytest.mark.parametrize(
    ("name", "told"), [("3", "Corner 3"), ("3a", "3a"), ("Hairpin", "Hairpin")]
)
def test_a_corner_that_is_a_number_is_called_a_corner(name, told):
    assert corner_name(name) == told
