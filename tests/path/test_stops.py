"""Stops at the hold point: how they are found, how far they are believed, and what they show of the offset."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.offset import find_offset
from lapkit.path.stops import Stop, find_stops, hold_sights


def test_two_stops_pin_the_ends_and_leave_the_bridge(knots, steady, mark):
    stops = [Stop(20.0, 40.0, 1.0, -2.0), Stop(880.0, 40.0, -1.4, 1.0)]
    sights, notes = hold_sights(knots, stops, mark, steady)
    offset = find_offset(knots, sights, draws=48, seed=1)
    assert notes == ()
    for stop, knot in zip(stops, (2, 88), strict=True):
        error = offset.rows[0, :, knot] - [stop.x_m, stop.y_m]
        assert np.all(np.abs(error) < offset.sd_m[:, knot])
        assert np.all(offset.sd_m[:, knot] <= 0.3)
    assert offset.sd_m[0, 45] > 2.0 * offset.sd_m[0, 2]


def test_a_stop_too_far_from_the_mark_is_said_and_not_used(knots, steady, mark):
    sights, notes = hold_sights(knots, [Stop(20.0, 40.0, 5.0, 3.0)], mark, steady)
    assert sights == []
    assert "5.8 m from the hold point" in notes[0]


def test_positions_that_jumped_may_lie_further_from_the_mark(knots, steady, mark):
    (sight,), notes = hold_sights(knots, [Stop(20.0, 40.0, 5.0, 3.0)], mark, steady, reach_m=2.0)
    assert sight.firm
    assert notes == ()


def test_a_stop_tells_less_where_the_receiver_wanders(knots, steady, mark):
    stops = [Stop(20.0, 40.0, 1.0, -2.0)]
    (sure,), _ = hold_sights(knots, stops, mark, steady)
    (unsure,), _ = hold_sights(knots, stops, mark, replace(steady, wander_m=0.5))
    # A mean over T of a process of memory τ has the variance 2 τ / T of one value (derived, T ≫ τ).
    assert unsure.sd_m**2 - sure.sd_m**2 == pytest.approx(0.5**2 * 2 * 4 / 40, rel=0.01)


def test_a_stop_elsewhere_is_no_business_of_the_hold_point(knots, steady, mark):
    assert hold_sights(knots, [Stop(20.0, 40.0, 300.0, 0.0)], mark, steady) == ([], ())


def test_stops_are_found_by_standing_still():
    t = np.arange(0.0, 60.0, 0.5)
    speed = np.where((t > 10) & (t < 30), 0.1, 15.0)
    (stop,) = find_stops(t, t * 0 + 3.0, t * 0 + 4.0, speed)
    assert (stop.x_m, stop.y_m) == (3.0, 4.0)
    assert stop.lasted_s == pytest.approx(19.0, abs=0.6)


@pytest.mark.parametrize(
    ("speed_mps", "lasts_s", "found"),
    [(0.5, 20.0, 1), (0.7, 20.0, 0), (0.1, 7.0, 0), (0.1, 9.0, 1)],
)
def test_who_rolls_or_stands_for_a_moment_has_not_stopped(speed_mps, lasts_s, found):
    t = np.arange(0.0, 60.0, 0.5)
    speed = np.where((t >= 10.0) & (t <= 10.0 + lasts_s), speed_mps, 15.0)
    assert len(find_stops(t, t * 0.0, t * 0.0, speed)) == found


def test_riders_who_stop_within_a_step_of_the_mark_are_believed_no_further(knots, steady, mark):
    rng = np.random.default_rng(5)
    held = []
    for _ in range(200):
        off = rng.normal(0.0, 1.2, 2)
        beside = [off + rng.normal(0.0, 0.3, 2) for _ in range(2)]
        stops = [Stop(t, 40.0, *at) for t, at in zip((30.0, 870.0), beside, strict=True)]
        sights, _ = hold_sights(knots, stops, mark, steady)
        offset = find_offset(knots, sights, 4, 1)
        held.append(np.abs(offset.rows[0, :, 3] - off) < 1.96 * offset.sd_m[:, 3])
    assert 0.92 <= np.mean(held) <= 0.99


def test_of_several_hold_points_it_is_the_nearest_that_he_stood_on(knots, steady):
    marks = np.array([[200.0, 50.0], [120.0, 80.0]])
    ((sight,), notes) = hold_sights(knots, [Stop(20.0, 40.0, 121.0, 78.5)], marks, steady)
    assert notes == ()
    # East and then north of the receiver's error at that time.
    assert sight.readings.value_m.tolist() == [1.0, -1.5]
    assert sight.firm


def test_a_long_stop_is_evaluated_in_parts_of_about_ten_seconds():
    t = np.arange(0.0, 60.0, 0.5)
    speed = np.where((t >= 10.0) & (t <= 50.0), 0.1, 15.0)
    (stop,) = find_stops(t, 0.1 * t, np.zeros(len(t)), speed)
    assert [part.time_s for part in stop.parts] == pytest.approx([15.0, 25.0, 35.0, 45.0], abs=0.4)
    assert [part.x_m for part in stop.parts] == pytest.approx([1.5, 2.5, 3.5, 4.5], abs=0.05)
