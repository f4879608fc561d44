from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.errors import LogError
from lapkit.importer import Dropped, Log, assess
from lapkit.units import KMH_MPS


def circling(
    rate_hz, speed_mps, radius_m, laps=4.0, decimals=8, velocity=False, keep=None, **channels
):
    """A log of someone going round a circle."""
    seconds = laps * 2 * np.pi * radius_m / speed_mps
    time_s = np.arange(0, seconds, 1 / rate_hz)
    angle = speed_mps * time_s / radius_m
    lat = 52 + radius_m * np.sin(angle) / METRES_PER_DEGREE
    lon = radius_m * np.cos(angle) / METRES_PER_DEGREE / np.cos(np.radians(52))
    if velocity:
        channels["speed_mps"] = np.full(len(time_s), speed_mps)
        channels["heading_deg"] = np.degrees(-angle) % 360
    log = Log(
        "ride", "0" * 64, 1e9 + time_s, np.round(lat, decimals), np.round(lon, decimals), **channels
    )
    return log if keep is None else log.part(keep(time_s))


def test_a_fast_receiver_is_good():
    quality = assess(circling(10, 25, 60, velocity=True))
    assert quality.verdict == "good"
    assert quality.rate_hz == pytest.approx(10, rel=1e-6)
    assert quality.has_velocity and quality.velocity_agrees and quality.missing_s == 0
    assert quality.pace_mps == pytest.approx(25, rel=0.03)
    assert quality.radius_m < 10
    assert "10 fixes a second" in quality.sentences[0]
    assert "with speed and heading" in quality.sentences[0]


def test_speed_without_heading_is_not_called_missing():
    log = circling(10, 25, 60, velocity=True)
    for channel, told in (
        ("heading_deg", "with speed but without heading, so by positions alone."),
        ("speed_mps", "with heading but without speed, so by positions alone."),
    ):
        assert told in assess(replace(log, **{channel: None})).sentences[0]


def test_one_fix_a_second_on_a_motorcycle_carries_laps_only_and_says_why():
    quality = assess(circling(1, 80 * KMH_MPS, 150))
    assert quality.verdict == "laps only"
    assert quality.radius_m > 45
    # Derived: a quarter turn of 30 m radius is 47.1 m, at 80 km/h 2.12 s.
    assert "a quarter turn of 30 m radius has 2.1 fixes" in quality.sentences[1]
    assert "no radius and no lean" in quality.sentences[1]
    assert "without speed and heading" in quality.sentences[0]
    assert quality.sentences[0].startswith("1 fix a second")


@pytest.mark.parametrize("decimals", [6, 7])
def test_one_fix_a_second_of_a_runner_carries_a_bend_of_40_m(decimals):
    quality = assess(circling(1, 4.0, 40, decimals=decimals))
    assert quality.verdict == "fair"
    assert quality.radius_m < 30
    assert "At 80 km/h" in quality.sentences[1]


def test_what_is_missing_is_counted_and_told():
    quality = assess(circling(10, 20, 100, keep=lambda t: (t < 30) | (t > 45)))
    assert quality.missing_s == pytest.approx(15.1)  # from 29.9 to 45.1, less one step
    assert any(s.startswith("15.1 s are missing in 1 gap.") for s in quality.sentences)
    assert quality.verdict == "fair"
    worse = assess(circling(10, 20, 100, keep=lambda t: t % 10 < 6))
    assert worse.verdict == "laps only"


@pytest.mark.parametrize("pushed_m", [0, 50])
def test_a_pause_without_riding_is_not_missing(pushed_m):
    ride = circling(10, 20, 100)
    time_s = np.array(ride.time_s)
    time_s[600:] += 500
    lat, lon = np.array(ride.lat_deg), np.array(ride.lon_deg)
    lat[600:], lon[600:] = lat[599:-1] + pushed_m / METRES_PER_DEGREE, lon[599:-1]
    quality = assess(Log("ride", "", time_s, lat, lon))
    assert quality.missing_s == 0
    assert any("paused for 500 s" in s for s in quality.sentences)


def test_the_pace_of_coarse_positions_is_that_of_a_second_not_of_a_fix():
    """At 10 Hz a fix is 1.2 m from the last, and positions stand in steps of 1.1 m."""
    quality = assess(circling(10, 12, 100, decimals=5))
    assert quality.pace_mps == pytest.approx(12, rel=0.05)


def test_coarse_positions_are_told():
    quality = assess(circling(10, 25, 60, decimals=4))
    assert quality.step_m == pytest.approx(METRES_PER_DEGREE * 1e-4)
    assert any("in steps of 11 m" in s for s in quality.sentences)
    assert quality.verdict == "laps only"
    # Ten fixes a second are enough: to set the receiver to more would not help.
    assert quality.sentences[1] == (
        "Its positions are written too coarsely: no radius and no lean from this log, lap times only."
    )
    assert not any("in steps" in s for s in assess(circling(10, 25, 60, decimals=7)).sentences)


@pytest.mark.parametrize(
    ("factor", "agrees"), [(1.0, True), (1.05, True), (3.6, False), (0.447, False)]
)
def test_a_speed_in_the_wrong_unit_is_told(factor, agrees):
    log = circling(10, 25, 60, velocity=True)
    wrong = Log(
        "ride", "", log.time_s, log.lat_deg, log.lon_deg, log.speed_mps * factor, log.heading_deg
    )
    quality = assess(wrong)
    assert quality.velocity_agrees is agrees
    assert any("its unit may be wrong" in s for s in quality.sentences) is not agrees
    assert (quality.verdict == "good") is agrees


def test_a_true_velocity_agrees_even_at_one_fix_a_second_in_a_tight_bend():
    assert assess(circling(1, 15, 30, velocity=True)).velocity_agrees


def test_a_heading_that_does_not_fit_is_told():
    log = circling(10, 25, 60, velocity=True)
    turned = Log(
        "ride",
        "",
        log.time_s,
        log.lat_deg,
        log.lon_deg,
        log.speed_mps,
        (log.heading_deg + 90) % 360,
    )
    quality = assess(turned)
    assert not quality.velocity_agrees
    assert any("heading is 90° off" in s or "heading is 89° off" in s for s in quality.sentences)


def test_a_receiver_that_stood_is_fit_for_a_base_log_only():
    noise = np.random.default_rng(0).normal(0, 0.3, (2, 2000)) / METRES_PER_DEGREE
    quality = assess(Log("base", "", np.arange(2000.0), 52 + noise[0], 1 + noise[1]))
    assert quality.verdict == "standing receiver"
    assert any("base log" in s for s in quality.sentences)
    assert quality.radius_m == np.inf
    short = assess(Log("base", "", np.arange(300.0), 52 + noise[0, :300], 1 + noise[1, :300]))
    assert short.verdict == "unusable"
    assert "It stood still for 299 s." in short.sentences
    undated = Log("base", "", np.arange(2000.0), 52 + noise[0], 1 + noise[1], has_clock=False)
    assert assess(undated).verdict == "unusable"
    assert (
        "It stood still, and without dates it is no base log either." in assess(undated).sentences
    )


def test_too_short_a_ride_and_times_that_do_not_fit():
    short = assess(circling(10, 20, 40, laps=1))
    assert "too short for a lap" in short.sentences[1] and not short.tells_radius
    absurd = assess(circling(10, 300, 1500))
    assert absurd.verdict == "unusable"
    assert "Times and positions do not fit" in absurd.sentences[1]


def test_logs_of_one_fix_and_of_two_are_judged():
    one = assess(Log("one", "", [0.0], [52.0], [1.0]))
    assert (one.verdict, one.sentences) == ("unusable", ("A single fix tells nothing.",))
    assert np.isnan(one.rate_hz)
    two = Log("two", "", [0.0, 1.0], [52.0, 52.0], [1.0, 1.0])
    assert assess(two).fault == "It stood still for 1 s."


def test_times_in_whole_seconds_are_told():
    ride = circling(1, 20, 100)
    dropped = (Dropped("repeating the time of an earlier fix", 9 * len(ride)),)
    told = assess(Log("ride", "", ride.time_s, ride.lat_deg, ride.lon_deg, dropped=dropped))
    assert any("whole seconds" in s for s in told.sentences)
    dropped = (replace(dropped[0], count=len(ride)), Dropped("without a readable position", 999))
    half = assess(Log("ride", "", ride.time_s, ride.lat_deg, ride.lon_deg, dropped=dropped))
    assert not any("whole seconds" in s for s in half.sentences)


def test_notes_of_the_reader_are_told():
    log = Log("ride", "", [0.0, 1.0], [52.0, 52.0], [1.0, 1.0], notes=("the file breaks off",))
    assert assess(log).sentences[-1] == "The file breaks off."


def test_gaps_spoil_no_corners_where_none_is_told_of():
    """A fix a second on a motorcycle carries laps only, and one every 15 s carries nothing, gaps or none."""
    seldom = assess(circling(1, 20, 30, laps=60.0, keep=lambda t: t % 100 < 96))
    assert seldom.verdict == "laps only"
    assert sum("lap times only" in s for s in seldom.sentences) == 1
    nothing = assess(circling(1 / 15, 14, 400, laps=6.0, keep=lambda t: t % 400 < 300))
    assert nothing.verdict == "unusable"
    for one in (seldom, nothing):
        (told,) = [s for s in one.sentences if "missing" in s]
        assert told.endswith(" gaps.")


def test_a_walk_is_not_called_a_standing_receiver():
    quality = assess(circling(1, 1.2, 200, laps=1.0))
    assert quality.verdict == "unusable"
    assert "Nothing in it is faster than 7 km/h" in quality.sentences[1]
    assert not any("base log" in sentence for sentence in quality.sentences)


def test_a_fix_now_and_then_tells_no_lap():
    quality = assess(circling(0.05, 25, 400))
    assert quality.verdict == "unusable"
    assert quality.sentences[0].startswith("A fix every 20 s over ")
    assert quality.sentences[1] == "A fix every 20 s is too seldom to tell a lap."


@pytest.mark.parametrize(
    ("rate_hz", "speed_mps", "verdict"),
    [(5, 12, "good"), (4, 12, "fair"), (5, 25, "fair"), (1, 14, "fair"), (1, 14.5, "laps only")],
)
def test_good_takes_five_fixes_a_second_and_ten_metres_fair_takes_forty_five(
    rate_hz, speed_mps, verdict
):
    # Derived: R = 5 v / (f π/2) is 7.6, 9.5, 15.9, 44.6 and 46.2 m.
    assert assess(circling(rate_hz, speed_mps, 150, velocity=True)).verdict == verdict


@pytest.mark.parametrize(("missing_s", "verdict"), [(15, "good"), (25, "fair")])
def test_two_hundredths_of_a_good_log_may_be_missing(missing_s, verdict):
    log = circling(10, 20, 100, laps=32.0, keep=lambda t: (t < 500) | (t > 500 + missing_s))
    assert assess(log).verdict == verdict


@pytest.mark.parametrize(
    ("speed_factor", "turned_deg", "agrees"),
    [(1.09, 0, True), (1.11, 0, False), (1, 14, True), (1, 16, False)],
)
def test_a_velocity_agrees_within_a_tenth_and_fifteen_degrees(speed_factor, turned_deg, agrees):
    log = circling(10, 25, 60, velocity=True)
    other = replace(
        log,
        speed_mps=log.speed_mps * speed_factor,
        heading_deg=(log.heading_deg + turned_deg) % 360,
    )
    assert assess(other).velocity_agrees is agrees


@pytest.mark.parametrize(("seconds", "verdict"), [(18.5, "unusable"), (22.5, "good")])
def test_twenty_seconds_on_the_move_may_be_a_lap(seconds, verdict):
    assert assess(circling(10, 20, 100, laps=seconds * 20 / (2 * np.pi * 100))).verdict == verdict


@pytest.mark.parametrize(("speed_mps", "verdict"), [(145, "laps only"), (155, "unusable")])
def test_nothing_rides_above_150_metres_a_second(speed_mps, verdict):
    assert assess(circling(10, speed_mps, 1500)).verdict == verdict


@pytest.mark.parametrize(("every_s", "seldom"), [(9.8, False), (10.2, True)])
def test_a_fix_every_ten_seconds_is_the_least(every_s, seldom):
    quality = assess(circling(1 / every_s, 25, 400))
    assert ("too seldom" in quality.fault) is seldom


@pytest.mark.parametrize(
    ("reach_m", "seconds", "verdict", "words"),
    [
        (50, 620, "standing receiver", "base log"),
        (50, 580, "unusable", "It stood still for 579 s"),
        (56, 620, "unusable", "no ride in it"),
    ],
)
def test_a_base_log_stays_ten_minutes_within_fifty_metres(reach_m, seconds, verdict, words):
    # A slow drift from end to end: 95 % of it lie within 0.95 of the reach.
    drift = np.linspace(-reach_m, reach_m, seconds) / METRES_PER_DEGREE
    quality = assess(Log("base", "", np.arange(float(seconds)), 52 + drift, np.full(seconds, 1.0)))
    assert quality.verdict == verdict
    assert words in quality.fault


@pytest.mark.parametrize(("decimals", "told"), [(6, False), (5, True)])
def test_steps_of_five_decimals_are_told_and_those_of_six_are_not(decimals, told):
    sentences = assess(circling(10, 25, 60, decimals=decimals)).sentences
    assert any("in steps of" in sentence for sentence in sentences) is told


def test_of_a_log_that_is_of_no_use_neither_velocity_nor_laps_are_spoken_of():
    log = circling(10, 20, 100, laps=1.0, velocity=True, keep=lambda t: (t < 6) | (t > 20))
    quality = assess(replace(log, speed_mps=3 * log.speed_mps))
    assert quality.verdict == "unusable"
    assert not quality.velocity_agrees
    assert not any("unit may be wrong" in sentence for sentence in quality.sentences)
    assert not any("A lap of which" in sentence for sentence in quality.sentences)


def test_a_log_of_no_use_is_refused_in_the_words_of_its_fault():
    standing = Log("a.csv", "", np.arange(100.0), np.full(100, 52.0), np.full(100, 1.0))
    with pytest.raises(LogError, match=r"^a\.csv: it stood still for 99 s\. Give another log;"):
        assess(standing).require_usable("a.csv")
    assess(circling(10, 25, 60)).require_usable("b.csv")
