"""Numbers as sentences write them."""

import math

import pytest

from lapkit.findings import numbers
from lapkit.units import Units


def test_lengths_are_read_with_as_many_figures_as_they_deserve():
    assert numbers.metres(1.44, Units.METRIC) == "1.4 m"
    assert numbers.metres(-1.44, Units.METRIC) == "1.4 m"
    assert numbers.metres(9.97, Units.METRIC) == "10 m"
    assert numbers.metres(48.6, Units.METRIC) == "49 m"
    assert numbers.metres(1.5, Units.US) == "4.9 ft"
    assert numbers.metres(50.0, Units.US) == "164 ft"


def test_ranges_of_one_value_are_one_value():
    assert numbers.between_degrees(3.2, 4.8) == "3 to 5°"
    assert numbers.between_degrees(3.9, 4.2) == "4°"
    assert numbers.between_seconds(0.11, 0.32) == "0.1 to 0.3 s"
    assert numbers.between_speeds(1.0, 2.0, Units.METRIC) == "4 to 7 km/h"
    assert numbers.between_speeds(1.0, 2.0, Units.US) == "2 to 4 mph"


def test_how_far_after_an_apex_is_told_by_the_metre_and_not_where_the_window_begins():
    assert numbers.after_apex(5.0, Units.METRIC) == "just"
    assert numbers.after_apex(7.3, Units.METRIC) == "7 m"
    assert numbers.after_apex(12.0, Units.US) == "39 ft"


@pytest.mark.parametrize(
    ("value", "half", "units", "told"),
    [
        (1.62, 0.38, Units.METRIC, ("1.6 m", "0.4")),
        (-8.96, 1.1, Units.METRIC, ("9 m", "1")),
        (8.96, 1.1, Units.US, ("29 ft", "4")),
        (6.64, 0.24, Units.METRIC, ("6.6 m", "0.3")),
        (6.64, 0.24, Units.US, ("22 ft", "1")),
        (163.7, 33.0, Units.METRIC, ("160 m", "40")),
        (48.6, math.nan, Units.METRIC, ("49 m", "")),
    ],
)
def test_a_size_is_told_to_the_digits_that_are_known(value, half, units, told):
    assert numbers.size(value, half, units) == told


def test_a_radius_is_told_by_the_whole_metre():
    assert numbers.radius(9.62, 0.4, Units.METRIC) == ("10 m", "1")
    assert numbers.radius(9.62, math.nan, Units.METRIC) == ("10 m", "")
    assert numbers.radius(57.2, 4.6, Units.US) == ("188 ft", "15")


def test_a_lean_is_told_by_the_degree():
    assert numbers.lean(4.2, 0.8) == ("4°", "1°")
    assert numbers.lean(-4.2, math.nan) == ("4°", "")


def test_doubt_is_told_in_words_and_only_where_it_is_known():
    assert numbers.doubt("2") == ", give or take 2"
    assert numbers.aside("2") == ", give or take 2,"
    assert numbers.doubt("") == numbers.aside("") == ""
