import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.reporter import display
from lapkit.reporter.display import EMPTY, Measured
from lapkit.units import Units

METRIC, US = Units.METRIC, Units.US
NAN = math.nan


@pytest.mark.parametrize(
    ("value", "half", "unit", "finest", "text"),
    [
        (41.37, 1.6, "°", 0, "41° ± 2°"),
        (41.37, 0.3, "°", 0, "41° ± 1°"),
        (41.37, NAN, "°", 0, "41°"),
        (63.2, 1.1, "m", 0, "63 ± 1 m"),
        (163.7, 33.0, "m", 0, "160 ± 40 m"),
        (0.84, 0.33, "m", 1, "0.8 ± 0.4 m"),
        (1.84, 1.3, "m", 1, "1.8 ± 1.3 m"),
        (1.24, 1.3, "m", 1, "1 ± 2 m"),
        (-2.4, 1.6, "°", 0, "-2.4° ± 1.6°"),
        (0.34, 0.33, "m", 1, "0.3 ± 0.4 m"),
        (34.0, 33.0, "m", 0, "34 ± 33 m"),
        (1.84, 0.97, "m", 1, "2 ± 1 m"),
        (1.84, 0.91, "m", 1, "1.8 ± 0.9 m"),
        (12.345, 0.995, "s", 2, "12 ± 1 s"),
        (NAN, 1.0, "m", 0, EMPTY),
        (12.0, NAN, "", 0, "12"),
    ],
)
def test_numbers_are_rounded_to_what_is_known(value, half, unit, finest, text):
    assert display.rounded(value, half, unit, finest) == text


@given(st.floats(-500, 500), st.floats(0.01, 200))
def test_the_interval_shown_claims_no_more_than_is_known(value, half):
    shown, wide = display.rounded(value, half, "", 1).split(" ± ")
    step = 10.0 if half >= 25 else 1.0 if half > 0.92 else 0.1
    assert abs(float(shown) - value) <= 0.51 * step
    assert half - 0.25 * step <= float(wide) <= half + 1.01 * step


@given(st.floats(1.0, 500.0), st.floats(1.5, 20.0), st.sampled_from((0, 1)))
def test_what_is_surely_not_zero_is_not_shown_as_if_it_might_be(half, times, finest):
    shown, wide = display.rounded(half * times, half, "", finest).split(" ± ")
    assert float(shown) > float(wide)


def test_units_change_with_the_reader():
    assert display.length_text(30.48, METRIC) == "30 m"
    assert display.length_text(30.48, US) == "100 ft"
    assert display.speed_text(44.704, US) == "100"
    assert display.speed_text(25.0, METRIC) == "90"
    assert display.radius_text(Measured(30.48, 28.956, 32.004), US) == "100 ± 5 ft"
    assert display.radius_text(Measured(30.48), US, bare=True) == "100"


def test_sides_are_words_and_never_signs():
    assert display.gap_text(Measured(0.8, 0.5, 1.1), METRIC) == "0.8 ± 0.3"
    assert display.gap_text(Measured(-0.8, -1.1, -0.5), METRIC) == "0.8 ± 0.3 on the wrong side"
    assert display.gap_text(Measured(-0.2, -0.7, 0.3), METRIC) == "at it ± 0.7"
    assert display.gap_text(Measured(-0.2, -0.7, 0.3), US) == "at it ± 3"
    assert display.gap_text(Measured(0.04, -0.53, 0.62), METRIC) == "at it ± 0.6"
    assert display.gap_text(Measured(0.04, -0.53, 0.62), US) == "at it ± 2"
    assert display.wide_text(Measured(1.2, 0.9, 1.5), METRIC) == "1.2 ± 0.3 wide"
    assert display.wide_text(Measured(-1.2, -1.5, -0.9), METRIC) == "1.2 ± 0.3 inside"
    assert display.wide_text(Measured(NAN), METRIC) == EMPTY
    assert display.wide_text(Measured(0.04, -0.46, 0.54), METRIC) == "0.0 ± 0.5"
    assert display.wide_text(Measured(-0.04), METRIC) == "0.0"
    assert display.wide_text(Measured(-0.1, -0.7, 0.5), US) == "0 ± 2"


@pytest.mark.parametrize(
    ("seconds", "sd", "text"),
    [
        (92.408, 0.006, "1:32.41"),
        (92.408, 0.2, "1:32.4"),
        (59.996, 0.0, "1:00.00"),
        (NAN, NAN, EMPTY),
        (7.0, NAN, "0:07.00"),
    ],
)
def test_a_lap_time_has_as_many_digits_as_are_known(seconds, sd, text):
    assert display.clock_text(seconds, sd) == text


@pytest.mark.parametrize(
    ("start", "lon_deg", "text"),
    [
        ("2031-06-04T09:02:44.205Z", -33.0, "4 June 2031, 09:02 UTC"),
        ("2031-06-30T20:05:00Z", 175.0, "1 July 2031, 20:05 UTC the day before"),
        ("2031-07-01T01:10:00Z", -105.0, "30 June 2031, 01:10 UTC the day after"),
    ],
)
def test_a_day_is_that_of_the_place_and_the_time_says_its_zone(start, lon_deg, text):
    assert display.moment_text(start, lon_deg) == text


def test_lanes_that_are_not_sure_say_so():
    assert display.lane_text(2.0, 0.97) == "2"
    assert display.lane_text(2.0, 0.6) == "2?"
    assert display.lane_text(NAN, NAN) == EMPTY


def test_text_that_is_none_is_marked_and_length_is_bounded():
    assert display.plain("a\x07b\u202ec\nd") == "a\ufffdb\ufffdc\ufffdd"
    assert display.plain("Änne 中 می‌روم") == "Änne 中 می‌روم"
    assert display.plain("x" * 900, 10) == "x" * 9 + "…"


def test_a_number_keeps_its_unit_on_its_line():
    assert display.unbroken("at it ± 1") == "at\xa0it\xa0±\xa01"
    assert display.unbroken("34 m radius in 14 laps, 3 ft") == "34\xa0m radius in 14 laps, 3\xa0ft"
    assert display.unbroken("7 to 10° less, give or take 2, run 1 to run 2") == (
        "7\xa0to\xa010° less, give or take\xa02, run\xa01 to run\xa02"
    )
    assert display.unbroken("in lane 2 in laps 3 and 6 of run 2, 3 wide") == (
        "in lane\xa02 in laps\xa03 and 6 of run\xa02, 3 wide"
    )
    assert display.unbroken("a lap of overrun 5, lap one") == "a lap of overrun 5, lap one"


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("At 76 km/h it tells a radius down to 7 m.", "At 47 mph it tells a radius down to 23 ft."),
        ("steps of 0.5 m", "steps of 1.6 ft"),
        ("10 fixes a second over 17.9 min, 3.1 s", "10 fixes a second over 17.9 min, 3.1 s"),
        (
            "it never comes nearer than 1 609 km to it",
            "it never comes nearer than 1,000 miles to it",
        ),
        (
            "nearer than 1 km to it, nearer than 16 km",
            "nearer than 0.6 miles to it, nearer than 9.9 miles",
        ),
        # Names are the coach's own.
        (
            "5 m.geojson, corner '30 m dip': the rider's turn-in lies 10 m before corner \"5 m's\"",
            "5 m.geojson, corner '30 m dip': the rider's turn-in lies 33 ft before corner \"5 m's\"",
        ),
    ],
)
def test_sentences_are_put_in_the_reader_s_units(metric, us):
    assert display.in_units(metric, Units.US) == us
    assert display.in_units(metric, Units.METRIC) == metric
