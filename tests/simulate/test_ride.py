"""A whole ride: within the rider's limits, on the course, where and as fast as he means to be."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.errors import TrackError
from lapkit.simulate.courses import built_in
from lapkit.simulate.motion import Moment
from lapkit.simulate.ride import HOLD_S, KNOT_S, _distance, _eased, ride
from lapkit.simulate.style import STYLES, Habit, RiderStyle
from lapkit.simulate.truth import true_laps


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


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.75])
def test_he_rides_the_timed_laps_asked_for_wherever_the_hold_point_is(share):
    course = built_in("twisty")
    spot = course.reference.offset_points(np.array([share * course.reference.length_m]), -18.0)
    course = replace(course, hold_points=np.stack(spot, axis=1), pit_lanes=())
    laps = true_laps(ride(course, STYLES["smooth"], laps=2, seed=1))
    assert [lap.kind for lap in laps] == ["out", "timed", "timed", "in"]


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


def test_a_course_without_corners_or_line_is_ridden_along_its_reference():
    course = replace(built_in("twisty"), corners=(), marker_line=None)
    run = ride(course, STYLES["smooth"], laps=1, seed=1)
    middle = np.abs(run.dense.time_s - 0.5 * run.end_s) < 20.0
    _, offset = course.reference.project(*run.tyre_xy(run.dense.time_s[middle]))
    assert np.abs(offset).max() < 1.2


def test_an_open_course_is_refused():
    with pytest.raises(TrackError, match="closed course"):
        ride(
            replace(
                built_in("twisty"), reference=StationLine.through([0.0, 500.0], [0.0, 0.0], False)
            ),
            STYLES["smooth"],
        )


def test_distance_at_times_is_the_integral_of_a_speed_that_runs_straight():
    # Three metres at 1 to 2 m/s, four at 2 m/s: 2 s each.
    at, length = np.array([0.0, 2.0, 4.0]), np.array([0.0, 3.0, 7.0])
    speed = np.array([1.0, 2.0, 2.0])
    ridden = _distance(np.array([-1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 9.0]), at, length, speed)
    # derived: s = t + t² / 4 in the first stretch; he stands before the first point and after the last
    assert ridden == pytest.approx([0.0, 0.0, 1.25, 3.0, 5.0, 7.0, 7.0])


def test_easing_a_step_takes_twice_the_pedal_time_and_ends_where_it_was_going():
    step = np.where(np.arange(400) < 200, 0.0, 1.0)
    eased = _eased(step, 0.8)
    rising = (eased > 1e-9) & (eased < 1.0 - 1e-9)
    assert np.count_nonzero(rising) * KNOT_S == pytest.approx(1.6, abs=2 * KNOT_S)
    assert np.all(np.diff(eased) > -1e-12)
    assert eased[[0, -1]] == pytest.approx([0.0, 1.0])
    assert 0.5 * (eased[199] + eased[200]) == pytest.approx(0.5)
