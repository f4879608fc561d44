"""What the messages of errors say."""

import pytest

from lapkit.errors import LapkitError, LogError, OptionError, OutputError, named, no_such, printable


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (LapkitError("it is empty"), "it is empty."),
        (LapkitError("it is empty", where="a.gpx"), "a.gpx: it is empty."),
        (
            LapkitError("it is empty", where="a.gpx", remedy="Copy it"),
            "a.gpx: it is empty. Copy it.",
        ),
        (LapkitError("what?", remedy="Do this!"), "what? Do this!"),
    ],
)
def test_a_message_is_where_what_and_the_remedy_as_sentences(error, text):
    assert str(error) == text


def test_nothing_in_a_message_steers_a_terminal():
    assert printable("a\x1b[31m\u202eb\n") == "a�[31m�b�"
    assert str(LapkitError("bad \x1b", where="\x07")) == "�: bad �."


def test_wrong_use_has_a_status_of_its_own():
    assert LogError("x").exit_status == 1
    assert OptionError("x").exit_status == OutputError("x").exit_status == 2


def test_a_name_that_is_nearly_right_is_guessed_in_any_case():
    error = no_such("corner", "hairpn", ["Larch", "HAIRPIN"])
    assert str(error) == "there is no corner 'hairpn'. Did you mean 'HAIRPIN'?"


def test_without_a_similar_name_those_there_are_are_listed():
    assert no_such("rider", "zzz", ["Ada", "Bo", "Ada"]).remedy == "There are: Ada, Bo."
    assert no_such("rider", "zzz", []).remedy == "There are: none."
    assert no_such("lap", "12", ["1", "2"]).remedy == "There are: 1, 2."  # 12 is not nearly 1
    many = no_such("rider", "zzz", [f"n{i}" for i in range(15)]).remedy
    assert many.endswith("n10, n11 and 3 more.")


def test_the_thing_of_a_name_is_given_or_its_name_refused():
    assert named("rider", "Ada", {"Ada": 5}) == 5
    with pytest.raises(OptionError, match=r"there is no rider 'Adda'\. Did you mean 'Ada'\?"):
        named("rider", "Adda", {"Ada": 5})
