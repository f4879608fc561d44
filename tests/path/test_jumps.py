"""Positions that jump to one side between two fixes and go on from there."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.jumps import find_jumps
from lapkit.path.model import Observed
from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES


def jumped(seen, moments, by=3.0 - 2.0j):
    """Each moment the positions jump, there and back by turns."""
    away = sum(((-1) ** i * (seen.time_s > at) for i, at in enumerate(moments)), 0) * by
    return replace(seen, x_m=seen.x_m + away.real, y_m=seen.y_m + away.imag)


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 25.0])
@pytest.mark.parametrize("led", [True, False])
def test_jumps_are_found_to_the_moment_and_to_a_few_decimetres(curves, rate_hz, led):
    seen = curves(rate_hz, 200.0, led=led)
    moments = [50.03, 88.07, 130.01]
    found = find_jumps(jumped(seen, moments))
    assert found.time_s == pytest.approx(moments, abs=0.5 / rate_hz + 0.01)
    assert found.by_m == pytest.approx(np.array([1.0, -1.0, 1.0]) * (3.0 - 2.0j), abs=0.4)
    assert found.largest_m == pytest.approx(np.hypot(3.0, 2.0), abs=0.4)


@pytest.mark.parametrize("led", [True, False])
def test_a_log_without_jumps_stays_as_it_is(curves, led):
    seen = curves(seconds=200.0, led=led)
    found = find_jumps(seen)
    assert found.count == 0
    assert found.largest_m == found.furthest_m == found.sd_m == 0.0
    assert found.taken_out(seen) is seen


@pytest.mark.parametrize("led", [True, False])
def test_without_its_jumps_a_log_lies_beside_itself_by_the_mean_of_them(curves, led):
    seen = curves(seconds=200.0, led=led)
    leapt = jumped(seen, [60.03, 110.03], by=4.0)
    away = leapt.x_m - seen.x_m
    mended = find_jumps(leapt).taken_out(leapt)
    assert mended.x_m - seen.x_m == pytest.approx(np.full(len(away), np.mean(away)), abs=0.3)
    assert mended.y_m - seen.y_m == pytest.approx(np.zeros(len(away)), abs=0.3)


@pytest.mark.parametrize("led", [True, False])
def test_a_fix_half_way_makes_no_difference(curves, led):
    seen = curves(seconds=200.0, led=led)
    leapt = jumped(seen, [60.03, 110.03], by=4.0)
    half_way = np.searchsorted(seen.time_s, 60.03)
    leapt.x_m[half_way] -= 2.0
    assert find_jumps(leapt).by_m == pytest.approx(np.array([4.0, -4.0]), abs=0.4)


@pytest.mark.parametrize("led", [True, False])
@pytest.mark.parametrize("wild", [[1000], [1000, 1001], range(1000, 1006), [1000, 1002, 1003]])
@pytest.mark.parametrize("off_m", [3.0, 15.0])
def test_wild_fixes_are_no_jumps(curves, led, wild, off_m):
    seen = curves(seconds=200.0, led=led)
    seen.x_m[wild] += off_m
    assert find_jumps(seen).count == 0


def test_a_jump_back_is_believed_beside_a_wild_fix_too(curves):
    seen = jumped(curves(seconds=200.0), [60.03, 110.03], by=4.0)
    seen.y_m[1110] += 15.0
    assert find_jumps(seen).by_m == pytest.approx(np.array([4.0, -4.0]), abs=0.4)


def test_what_slides_and_what_is_small_is_no_jump(curves):
    seen = curves(seconds=200.0)
    slide = 6.0 * np.sin(np.pi * np.clip((seen.time_s - 100.0) / 6.0, 0.0, 1.0)) ** 2
    assert find_jumps(replace(seen, x_m=seen.x_m + slide)).count == 0
    assert find_jumps(jumped(seen, [60.0], by=0.7)).count == 0


@pytest.mark.parametrize("led", [True, False])
def test_nothing_is_said_of_gaps_and_of_slow_or_few_fixes(curves, led):
    seen = jumped(curves(seconds=200.0, led=led), [60.03])

    def part(kept):
        return Observed(*[value[kept] for value in vars(seen).values()])

    assert find_jumps(part(np.abs(seen.time_s - 60.03) > 1.0)).count == 0
    assert find_jumps(part(slice(None, None, 10))).count == 0
    assert find_jumps(part(slice(598, 606))).count == 0
    assert find_jumps(part(slice(0, 1))).count == 0


def test_positions_written_coarsely_do_not_jump_while_they_stand():
    t = np.arange(0.0, 60.0, 0.1)
    zeros, ones = np.zeros((2, len(t))), np.ones(len(t))
    x = np.where(t > 30.0, 1.1, 0.0)
    seen = Observed(t, x, zeros[0], ones, t, *zeros, ones)
    assert find_jumps(seen).count == 1
    assert find_jumps(seen, written_m=1.1).count == 0


@pytest.mark.parametrize("velocity_mps", [0.07, None])
@pytest.mark.parametrize("lasts_s", [12.0, 45.0, 1e4])
def test_a_path_keeps_its_place_while_positions_lie_aside(velocity_mps, lasts_s):
    """Before, laps came out five metres to the side, and half a second of a lap was lost over wild fixes."""
    course = built_in("twisty")
    ride_ = ride(course, STYLES["quick"], laps=4, seed=2, epoch_s=1.78e9)
    log = observe(ride_, Receiver(velocity_mps=velocity_mps), 3)
    x, y = course.plane.to_xy(log.lat_deg, log.lon_deg)
    since_s = log.time_s - log.time_s[0] - 150.0
    aside = (since_s >= 0.0) & (since_s < lasts_s)
    lat, lon = course.plane.to_lat_lon(x + 4.0 * aside, y - 3.0 * aside)
    at = np.arange(60.0, ride_.end_s - 60.0, 0.2)
    truth = np.stack(ride_.tyre_xy(at))

    def off(log):
        path = ride_path(log, course.plane, course=course, draws=4)
        x, y = path.at(1.78e9 + at).tyre_xy_m
        return np.hypot(x[0] - truth[0], y[0] - truth[1]).max(), path.estimate.wild.sum()

    worst_m, wild = off(replace(log, lat_deg=lat, lon_deg=lon))
    assert worst_m < off(log)[0] + 0.6
    assert wild == 0
