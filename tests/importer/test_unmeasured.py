"""Velocities that were not measured: zeros and repeats written while the rider rode on."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.importer.unmeasured import leapt, unmeasured

RATE_HZ = 10.0
FIXES = 600


@pytest.fixture
def ride():
    """A minute of weaving at 20 m/s after twenty seconds on the spot: time, lat, lon, speed, heading."""
    time_s = np.arange(FIXES) / RATE_HZ
    rng = np.random.default_rng(4)
    speed = np.clip(5.0 * (time_s - 20.0), 0.0, 20.0)
    heading = np.degrees(0.5 * np.sin(time_s))
    north = np.cumsum(speed * np.cos(np.radians(heading))) / RATE_HZ
    east = np.cumsum(speed * np.sin(np.radians(heading))) / RATE_HZ
    north, east = np.array([north, east]) + 0.06 * rng.standard_normal((2, FIXES))
    logged = np.round(np.abs(speed + 0.05 * rng.standard_normal(FIXES)), 3)
    return (
        time_s,
        52 + north / METRES_PER_DEGREE,
        east / METRES_PER_DEGREE / np.cos(np.radians(52)),
        logged,
        np.round(heading % 360.0, 2),
    )


def test_a_measured_velocity_is_left_alone(ride):
    assert not unmeasured(*ride).any()


@pytest.mark.parametrize("lasted", [1, 5, 40])
def test_a_speed_of_zero_in_mid_ride_was_not_measured(ride, lasted):
    time_s, lat, lon, speed, heading = ride
    speed[400 : 400 + lasted] = 0.0
    found = unmeasured(time_s, lat, lon, speed, heading)
    assert np.flatnonzero(found).tolist() == list(range(400, 400 + lasted))


def test_so_is_a_speed_of_zero_where_no_heading_was_logged(ride):
    time_s, lat, lon, speed, _ = ride
    speed[400:440] = 0.0
    assert np.count_nonzero(unmeasured(time_s, lat, lon, speed, np.full(FIXES, np.nan))) == 40


def test_a_velocity_that_goes_on_unchanged_was_measured_once(ride):
    time_s, lat, lon, speed, heading = ride
    speed[400:420], heading[400:420] = speed[400], heading[400]
    found = unmeasured(time_s, lat, lon, speed, heading)
    assert np.flatnonzero(found).tolist() == list(range(401, 420))


def test_whole_numbers_stay_the_same_along_a_straight(ride):
    time_s, lat, lon, speed, heading = ride
    speed[400:420], heading = 20.0, np.round(heading)
    heading[400:420] = 7.0
    assert not unmeasured(time_s, lat, lon, speed, heading).any()


def test_a_receiver_on_the_spot_may_leap_and_stand_all_the_same(ride):
    time_s, lat, lon, speed, heading = ride
    lat[100:120] += 12.0 / METRES_PER_DEGREE
    assert not unmeasured(time_s, lat, lon, speed, heading).any()


def test_a_ride_without_any_speed_is_judged_as_a_whole_elsewhere(ride):
    time_s, lat, lon, speed, heading = ride
    assert not unmeasured(time_s, lat, lon, 0.0 * speed, heading).any()


def test_a_speed_of_minus_one_means_not_known_and_is_no_fault(ride):
    time_s, lat, lon, speed, heading = ride
    speed[400:440] = heading[400:440] = -1.0
    assert not unmeasured(time_s, lat, lon, speed, heading).any()


@pytest.mark.parametrize("count", [0, 1, 2, 49])
def test_a_few_fixes_tell_nothing(ride, count):
    few = [column[300 : 300 + count] for column in ride]
    few[3] = 0.0 * few[3]
    assert unmeasured(*few).tolist() == [False] * count


@pytest.mark.parametrize("lasted", [1, 2])
@pytest.mark.parametrize("turned_deg", [20.0, 180.0])
def test_a_velocity_that_leaps_for_a_fix_or_two_was_not_measured(ride, lasted, turned_deg):
    time_s, _, _, speed, heading = ride
    heading[400 : 400 + lasted] = (heading[400 : 400 + lasted] + turned_deg) % 360.0
    found = leapt(time_s, speed, heading)
    assert np.flatnonzero(found).tolist() == list(range(400, 400 + lasted))


@pytest.mark.parametrize("every", [1, 2, 5])
def test_no_ride_leaps(ride, every):
    time_s, _, _, speed, heading = (column[::every] for column in ride)
    assert not leapt(time_s, speed, heading).any()


def test_a_velocity_after_a_gap_has_no_neighbours_to_be_held_against(ride):
    time_s, _, _, speed, heading = ride
    time_s[401:] += 3.0
    heading[401:] += 90.0
    assert not leapt(time_s, speed, heading).any()


def test_velocities_that_leap_again_and_again_are_noisy_all(ride):
    time_s, _, _, speed, heading = ride
    heading[::7] += 90.0
    assert not leapt(time_s, speed, heading).any()


@pytest.mark.parametrize("count", [0, 1, 4, 5])
def test_of_a_few_velocities_none_leaps(ride, count):
    time_s, _, _, speed, heading = (column[300 : 300 + count] for column in ride)
    assert leapt(time_s, speed, heading).tolist() == [False] * count
