"""A ride looked at closely: means, curvature, passages and crossings of a steady ride round a circle."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.simulate.dense import Dense, crossings_s
from lapkit.units import GRAVITY_MPS2


@pytest.fixture(scope="module")
def seen(circle):
    return Dense.of(circle)


@pytest.fixture(scope="module")
def steady_m(seen):
    """Distances in the middle of the run, a lap apart from either end."""
    return np.linspace(0.35, 0.65, 40) * seen.distance_m[-1]


def test_over_a_steady_circle_curvature_lean_and_speed_are_in_balance(seen, steady_m):
    bend = seen.curvature(steady_m)
    speed, lean = seen.speed_along.mean(steady_m), seen.lean_along.mean(steady_m)
    np.testing.assert_allclose(np.tan(np.radians(lean)), speed**2 * bend / GRAVITY_MPS2, rtol=2e-3)
    # The tyres are on the middle of a course of 60 m, the mass inside them.
    inside = seen.ride.style.com_height_m * np.sin(np.radians(lean))
    np.testing.assert_allclose(1.0 / bend, 60.0 - inside, rtol=5e-3)
    assert np.all(np.abs(seen.offset_along.mean(steady_m)) < 0.05)


@pytest.mark.parametrize("name", ["speed", "lean", "offset"])
@pytest.mark.parametrize("last", [400, 2600])
def test_means_are_those_over_the_way_ridden(seen, name, last):
    quantity, values = {
        "speed": (seen.speed_along, seen.speed_mps),
        "lean": (seen.lean_along, seen.lean_deg),
        "offset": (seen.offset_along, seen.offset_m),
    }[name]
    way, part = seen.distance_m, slice(300, last + 1)
    whole = np.trapezoid(values[part], way[part])
    length = way[last] - way[300]
    found = quantity.mean(way[300:301], length)
    assert found[0] == pytest.approx(whole / length, rel=1e-9)


def test_means_are_over_ten_metres_where_nothing_else_is_said(seen):
    start = np.array([300.0])
    assert seen.lean_along.mean(start) == seen.lean_along.mean(start, 10.0)
    assert seen.lean_along.mean(start) != seen.lean_along.mean(start, 11.0)
    assert seen.curvature(start) == seen.curvature(start, 10.0)


def test_curvature_is_the_turn_of_heading_over_the_way(seen):
    start = np.array([300.0, 700.0])
    at = np.interp(np.stack([start, start + 25.0]), seen.distance_m, seen.heading_rad)
    np.testing.assert_allclose(seen.curvature(start, 25.0), (at[1] - at[0]) / 25.0)


def test_distance_grows_all_the_time_even_where_he_stands(seen):
    assert np.all(np.diff(seen.distance_m) > 0.0)
    standing = seen.speed_mps[:-1] == 0.0
    assert np.max(np.diff(seen.distance_m)[standing], initial=0.0) < 1e-6
    whole = np.sum(0.01 * 0.5 * (seen.speed_mps[1:] + seen.speed_mps[:-1]))
    assert seen.distance_m[-1] == pytest.approx(whole, rel=1e-4)
    assert seen.ridden_m(float(seen.time_s[500])) == pytest.approx(seen.distance_m[500])


def test_tyres_reach_a_station_when_they_are_there(seen, circle):
    length = circle.course.reference.length_m
    for station in (1.4 * length, 2.75 * length):
        time = np.array([seen.reached_s(station)])
        x, y = (float(v[0]) for v in circle.tyre_xy(time))
        expected_x, expected_y = (float(v) for v in circle.course.reference.at(station % length))
        assert np.hypot(x - expected_x, y - expected_y) < 0.06
    first = seen.reached_s(1.4 * length)
    assert first < seen.reached_s(2.4 * length) < seen.reached_s(3.4 * length)


@pytest.mark.parametrize(("name", "laps"), [("circle", 3), ("rough", 2)])
def test_the_start_line_is_crossed_once_a_lap_on_it_and_ahead(request, name, laps):
    ride = request.getfixturevalue(name)
    times = crossings_s(ride)
    assert len(times) == laps + 1
    left, right = ride.course.start_line
    across = (left - right) / np.linalg.norm(left - right)
    ahead = np.array([across[1], -across[0]])
    for time in times:
        here, later = ride.mass(time), ride.mass(time + 0.1)
        assert abs((here - right) @ ahead) < 1e-4
        assert 0.0 < (here - right) @ across < np.linalg.norm(left - right)
        assert (later - here) @ ahead > 0.0
    lasted = np.diff(times)
    np.testing.assert_allclose(lasted, lasted.mean(), rtol=0.1)


@pytest.mark.parametrize("ends_m", [(-2.0, -12.0), (12.0, 2.0)])
def test_a_start_line_beside_the_track_is_not_crossed(circle, ends_m):
    line = np.stack(circle.course.reference.offset_points(np.zeros(2), np.array(ends_m)), axis=1)
    aside = replace(circle, course=replace(circle.course, start_line=line))
    assert crossings_s(aside) == []
