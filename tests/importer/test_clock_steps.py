"""A clock that is set right in mid-ride is told from fixes that are missing, and its times are mended."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.importer import read_logs
from lapkit.importer.clock_steps import clock_steps

START = 1_777_713_240.0
METRES = 111_195.0


def ride(rate_hz, seconds=40.0, mps=25.0):
    """Times, latitudes and longitudes of a machine on a circle of 80 m radius, away from the equator."""
    t = np.arange(0.0, seconds, 1.0 / rate_hz)
    turned = mps * t / 80.0
    lat = 52.0 + 80.0 * np.sin(turned) / METRES
    lon = -1.0 - 80.0 * np.cos(turned) / METRES / np.cos(np.radians(52.0))
    return t, lat, lon


@pytest.mark.parametrize("ahead", [1.0, -1.0, 3.0, -3.0, 18.0, 0.6])
@pytest.mark.parametrize("rate_hz", [5, 10, 25])
def test_a_step_of_the_clock_is_found_where_it_was(rate_hz, ahead):
    t, lat, lon = ride(rate_hz)
    at = len(t) // 2
    found = clock_steps(np.where(np.arange(len(t)) > at, t + ahead, t), lat, lon)
    assert np.flatnonzero(found).tolist() == [at]
    assert found[at] == pytest.approx(ahead, abs=1e-9)


@pytest.mark.parametrize("seconds", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("rate_hz", [1, 5, 10, 25])
def test_missing_fixes_are_no_step(rate_hz, seconds):
    t, lat, lon = ride(rate_hz)
    left = np.abs(t - 20.0) > seconds / 2.0
    assert not clock_steps(t[left], lat[left], lon[left]).any()


def test_a_pause_in_which_he_stood_is_no_step():
    t, lat, lon = ride(10, mps=3.0)
    assert not clock_steps(np.where(t > 20.0, t + 5.0, t), lat, lon).any()


@pytest.mark.parametrize("way", [1, -1], ids=["he stops", "he rides off"])
def test_where_he_stood_on_either_side_of_it_he_may_have_stood_in_between(way):
    t = np.arange(0.0, 40.0, 0.1)
    north = 25.0 * np.minimum(way * (t - 20.0), 0.0)
    dated = np.where(t > 20.0, t + 5.0, t)
    assert not clock_steps(dated, 52.0 + north / METRES, np.full(len(t), -1.0)).any()


def test_positions_that_jump_with_the_clock_are_no_step():
    t, lat, lon = ride(10)
    later = t > 20.0
    assert not clock_steps(np.where(later, t + 3.0, t), np.where(later, lat + 5e-4, lat), lon).any()


def test_times_cut_to_whole_seconds_now_and_then_skip_one_and_stay():
    _, lat, lon = ride(1, seconds=300.0)
    t = np.floor(1.01 * np.arange(300.0))
    assert np.count_nonzero(np.diff(t) == 2.0) in (2, 3)
    assert not clock_steps(t, lat, lon).any()


def test_times_that_step_time_and_again_stay_as_they_are():
    t, lat, lon = ride(10)
    assert not clock_steps(t + np.floor(t / 8.0), lat, lon).any()


def test_across_the_antimeridian_the_clock_alone_has_moved():
    t, lat, lon = ride(10)
    lon = (lon + 1.0 + 180.0 + 180.0) % 360.0 - 180.0
    assert np.ptp(lon) > 300.0
    assert np.count_nonzero(clock_steps(np.where(t > 20.0, t + 1.0, t), lat, lon)) == 1


@pytest.mark.parametrize(("ahead", "words"), [(1.0, "1.0 s ahead"), (-1.0, "1.0 s back")])
def test_a_log_is_dated_by_what_its_clock_said_afterwards(write, ahead, words):
    t, lat, lon = ride(10)
    logged = START + np.where(t > 20.0, t + ahead, t)
    rows = "\n".join(f"{a:.3f},{b:.8f},{c:.8f}" for a, b, c in zip(logged, lat, lon, strict=True))
    (log,) = read_logs(write(f"time (s),lat,lon\n{rows}\n"))
    assert np.allclose(log.time_s, START + t + ahead, atol=1e-6)
    (told,) = log.dropped
    assert told.text == (
        f"201 fixes before the clock stepped {words} in mid-ride were dated by what it said afterwards"
    )


@pytest.mark.parametrize("from_end", [1, 3, 5])
def test_a_step_too_near_an_end_to_see_how_the_clock_ran_stays(from_end):
    t, lat, lon = ride(10)
    late = np.arange(len(t)) >= len(t) - from_end
    assert not clock_steps(np.where(late, t + 2.0, t), lat, lon).any()
    assert not clock_steps(np.where(late[::-1], t - 2.0, t), lat, lon).any()


@pytest.mark.parametrize(("step_s", "found"), [(0.6, False), (1.1, True)])
def test_the_times_as_dated_must_be_far_worse_than_the_usual_ones(step_s, found):
    """At 9 m/s a position that lies 0.9 m ahead might as well be half a second's ride away."""
    t = np.arange(0.0, 20.0, 0.1)
    later = np.arange(len(t)) >= 100
    north = 9.0 * t + np.where(later, 0.9, 0.0)
    dated = np.where(later, t + step_s - 0.1, t)
    steps = clock_steps(dated, 50.0 + north / METRES, np.zeros(len(t)))
    assert bool(steps.any()) == found
