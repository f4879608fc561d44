from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from lapkit.simulate.courses import built_in
from lapkit.simulate.motion import Moment
from lapkit.simulate.ride import HOLD_S, ride
from lapkit.simulate.style import STYLES, Habit, RiderStyle

G = 9.80665


@pytest.fixture(scope="module")
def times(rough):
    return np.arange(HOLD_S + 20.0, rough.end_s - HOLD_S - 20.0, 0.02)


def test_velocity_and_acceleration_are_the_derivatives_of_position(rough, times):
    h = 1e-3
    before, here, after = (rough.at(times + d) for d in (-h, 0.0, h))
    assert np.allclose((after.x_m - before.x_m) / (2 * h), here.vx_mps, atol=1e-4)
    assert np.allclose((after.y_m - before.y_m) / (2 * h), here.vy_mps, atol=1e-4)
    assert np.allclose((after.vx_mps - before.vx_mps) / (2 * h), here.ax_mps2, atol=1e-3)


def test_lean_balances_the_curvature_of_finite_differences(rough, times):
    h = 0.02
    x0, x1, x2 = (np.stack([m.x_m, m.y_m]) for m in (rough.at(times + d) for d in (-h, 0.0, h)))
    a, b, c = x1 - x0, x2 - x1, x2 - x0
    area = a[0] * b[1] - a[1] * b[0]
    curvature = 2.0 * area / (np.hypot(*a) * np.hypot(*b) * np.hypot(*c))
    speed = np.hypot(*c) / (2 * h)
    # Lifted where the road's height over the length ridden bends upwards: by the chain rule, in time.
    z0, z1, z2 = (rough.height_at(times + d) for d in (-5 * h, 0.0, 5 * h))
    quickens = (np.hypot(*b) - np.hypot(*a)) / h**2
    lifted = (z2 - 2 * z1 + z0) / (5 * h) ** 2 - (z2 - z0) / (10 * h) * quickens / speed
    expected = np.degrees(np.arctan(speed**2 * curvature / (G + lifted)))
    assert np.ptp(expected) > 60.0
    assert np.allclose(rough.at(times).lean_deg, expected, atol=0.1)


def test_the_crest_makes_the_rider_lean_further(rough, times):
    moment = rough.at(times)
    flat = np.degrees(np.arctan(moment.speed_mps**2 * moment.curvature_1pm / G))
    station = rough.station_at(times) % rough.course.reference.length_m
    corner = rough.course.corner("Ravens Drop")
    there = np.abs(station - corner.apexes_m[0]) < 8.0
    assert np.all(np.abs(moment.lean_deg[there]) > np.abs(flat[there]) + 0.5)


@pytest.mark.parametrize(("height", "name"), [(-0.6, "tyre"), (0.3, "antenna")])
def test_tyres_and_antenna_stand_on_the_leaning_machine(rough, times, height, name):
    moment = rough.at(times)
    x, y = getattr(rough, f"{name}_xy")(times)
    # Left of the direction of riding, by height × sin(lean), and not ahead or behind.
    left = np.stack([-moment.vy_mps, moment.vx_mps]) / moment.speed_mps
    moved = np.stack([x - moment.x_m, y - moment.y_m])
    assert np.allclose(np.sum(moved * left, axis=0), height * np.sin(np.radians(moment.lean_deg)))
    assert np.allclose(moved[0] * left[1] - moved[1] * left[0], 0.0, atol=1e-9)


def test_antenna_velocity_is_the_derivative_of_its_position(rough, times):
    fine = np.arange(100.0, 110.0, 0.001)
    x, _ = rough.antenna_xy(fine)
    vx, _ = rough.antenna_velocity(fine)
    assert np.allclose(np.gradient(x, fine)[1:-1], vx[1:-1], atol=1e-3)


@pytest.mark.parametrize("style", STYLES)
def test_no_style_rolls_or_brakes_beyond_its_rider(style):
    run = ride(built_in("twisty"), STYLES[style], laps=1, seed=3)
    dense = run.dense
    roll = np.abs(np.gradient(dense.lean_deg, dense.time_s))
    assert roll.max() < 1.1 * STYLES[style].roll_dps < 75.0
    assert roll.max() > 25.0
    along = np.gradient(dense.speed_mps, dense.time_s)
    assert along.min() > -1.15 * STYLES[style].brake_mps2
    assert along.max() < 1.15 * STYLES[style].drive_mps2
    assert np.abs(np.gradient(along, dense.time_s)).max() < 45.0
    most = np.abs(dense.lean_deg).max()
    assert STYLES[style].lean_deg - 4.0 < most < STYLES[style].lean_deg + 8.0


def test_he_stands_on_the_hold_point_before_and_after(rough):
    for first, last in ((0.0, HOLD_S - 2.0), (rough.end_s - HOLD_S + 2.0, rough.end_s)):
        moment = rough.at(np.linspace(first, last, 50))
        assert np.allclose(moment.speed_mps, 0.0, atol=1e-6)
        assert np.allclose(moment.sin_lean, 0.0)
        away = np.hypot(
            *(np.stack([moment.x_m, moment.y_m], axis=1) - rough.course.hold_points[0]).T
        )
        assert away.max() < 0.01


def test_tyres_stay_between_the_edges_outside_the_pit_lane(rough):
    x, y = rough.tyre_xy(rough.dense.time_s)
    station, offset = rough.course.reference.follow(x, y)
    length = rough.course.reference.length_m
    on_track = (station > station[0] + 0.5 * length) & (station < station[-1] - 0.5 * length)
    left, right = rough.course.edges_at(station)
    assert np.all(offset[on_track] < left[on_track] + 0.1)
    assert np.all(offset[on_track] > right[on_track] - 0.1)


def test_a_quiet_rider_runs_his_tyres_on_the_marker_line():
    quiet = RiderStyle(offset_sd_m=0.0, phase_sd_m=0.0, wobble_deg=0.0, lean_sd_deg=0.0)
    run = ride(built_in("flowing"), quiet, laps=1, seed=0)
    line = run.course.marker_line
    inside = np.abs(run.dense.time_s - 0.5 * run.end_s) < 40.0
    _, offset = line.project(*run.tyre_xy(run.dense.time_s[inside]))
    assert np.sqrt(np.mean(offset**2)) < 0.15
    # The mass runs further in: what is drawn as his path is not where his tyres ran.
    moment = run.dense
    _, mass = line.project(moment.x_m[inside], moment.y_m[inside])
    leant = np.abs(moment.lean_deg[inside]) > 30.0
    inward = (mass - offset)[leant] * np.sign(moment.lean_deg[inside][leant])
    assert np.all(inward > 0.25)


def test_the_same_seed_gives_the_same_ride_and_another_does_not():
    course, style = built_in("twisty"), RiderStyle(habit=Habit(apex_wide_m=0.5))
    first, again, other = (ride(course, style, laps=1, seed=s).dense for s in (7, 7, 8))
    for each in fields(Moment):
        assert np.array_equal(getattr(first, each.name), getattr(again, each.name))
    n = min(len(first.x_m), len(other.x_m))
    assert np.abs(first.x_m[:n] - other.x_m[:n]).max() > 0.5
