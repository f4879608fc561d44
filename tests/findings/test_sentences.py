import pytest

from lapkit.findings import sentences
from lapkit.units import Units


def test_lengths_are_read_with_as_many_figures_as_they_deserve():
    assert sentences.metres(1.44, Units.METRIC) == "1.4 m"
    assert sentences.metres(-1.44, Units.METRIC) == "1.4 m"
    assert sentences.metres(9.97, Units.METRIC) == "10 m"
    assert sentences.metres(48.6, Units.METRIC) == "49 m"
    assert sentences.metres(1.5, Units.US) == "4.9 ft"
    assert sentences.metres(50.0, Units.US) == "164 ft"


def test_how_often():
    assert sentences.often(6, 8) == "in 6 of 8 laps"
    assert sentences.often(1, 8) == "in one of 8 laps"
    assert sentences.often(8, 8) == "in all 8 laps"
    assert sentences.often(0, 8) == "in none of 8 laps"
    assert sentences.often(1, 1) == "in the one lap"


@pytest.mark.parametrize(
    ("p", "words"),
    [(1.0, "almost certain"), (0.97, "very likely"), (0.9, "likely"), (0.6, "not certain")],
)
def test_how_sure_in_words(p, words):
    assert sentences.sure(p) == words


def test_ranges_of_one_value_are_one_value():
    assert sentences.between_degrees(3.2, 4.8) == "3 to 5°"
    assert sentences.between_degrees(3.9, 4.2) == "4°"
    assert sentences.between_seconds(0.11, 0.32) == "0.1 to 0.3 s"
    assert sentences.between_speeds(1.0, 2.0, Units.METRIC) == "4 to 7 km/h"
    assert sentences.between_speeds(1.0, 2.0, Units.US) == "2 to 4 mph"


@pytest.mark.parametrize(
    ("name", "what", "words"),
    [("exit", "cone", "exit cone"), ("Exit cone", "cone", "Exit cone"), ("", "cone", "cone"),
     ("second seam", "seam", "second seam"), ("A", "seam", "seam A"), ("seam 1", "seam", "first seam"),
     ("2", "seam", "second seam"), ("seam 12", "seam", "seam 12")],
)  # fmt: skip
def test_a_thing_is_named_once(name, what, words):
    assert sentences.thing(name, what) == words


def test_units_are_known_in_any_case():
    assert Units.named("US") is Units.US


def test_how_far_after_an_apex_is_told_by_the_metre_and_not_where_the_window_begins():
    assert sentences.after_apex(5.0, Units.METRIC) == "right"
    assert sentences.after_apex(7.3, Units.METRIC) == "7 m"
    assert sentences.after_apex(12.0, Units.US) == "39 ft"
