"""Rides sampled evenly, without stops and holes, and held beside a line."""

import numpy as np
import pytest

from lapkit.course.rides import STEP_M, Ride, Template, sample


def straight(start_m, stop_m, speed_mps=20.0, from_s=0.0, y_m=0.0):
    """To the east at a steady speed, ten fixes a second."""
    x = np.arange(start_m, stop_m, 0.1 * speed_mps)
    time = from_s + 0.1 * np.arange(len(x))
    return Ride(time, x, np.full(len(x), y_m), np.full(len(x), float(speed_mps)))


def one_log(*parts):
    return Ride(*(np.concatenate(channel) for channel in zip(*parts, strict=True)))


def circle(radius_m=100.0, turns=1.0):
    angle = np.linspace(0.0, 2.0 * np.pi * turns, int(700 * turns))
    n = len(angle)
    return Ride(
        0.05 * np.arange(n), radius_m * np.cos(angle), radius_m * np.sin(angle), np.full(n, 18.0)
    )


def test_samples_lie_a_step_apart_and_point_the_way_ridden():
    found = sample([circle()])
    assert len(found) == len(found.xy_m) == int(200.0 * np.pi / STEP_M) + 1
    arc = 200.0 * np.arcsin(np.hypot(*np.diff(found.xy_m, axis=0).T) / 200.0)
    np.testing.assert_allclose(arc, STEP_M, rtol=1e-3)
    np.testing.assert_allclose(found.distance_m, STEP_M * np.arange(len(found)))
    inner = slice(2, -2)
    out = found.xy_m / 100.0
    np.testing.assert_allclose(found.toward[inner, 0], -out[inner, 1], atol=2e-3)
    np.testing.assert_allclose(found.toward[inner, 1], out[inner, 0], atol=2e-3)
    np.testing.assert_allclose(np.hypot(*found.toward.T), 1.0)
    np.testing.assert_allclose(found.speed_mps, 18.0)


def test_speed_is_that_of_the_place():
    slowing = straight(0.0, 300.0)
    slowing = slowing._replace(speed_mps=30.0 - 0.05 * slowing.x_m)
    found = sample([slowing])
    np.testing.assert_allclose(found.speed_mps, 30.0 - 0.05 * found.xy_m[:, 0])


def test_paths_are_told_apart_and_each_counts_its_own_way():
    found = sample([straight(0.0, 100.0), straight(0.0, 60.0, y_m=5.0)])
    first, second = found.path == 0, found.path == 1
    assert np.all(found.xy_m[first, 1] == 0.0) and np.all(found.xy_m[second, 1] == 5.0)
    assert found.distance_m[first][0] == found.distance_m[second][0] == 0.0
    assert set(found.stretch[first]) == {0} and set(found.stretch[second]) == {1}


@pytest.mark.parametrize(
    ("pause_s", "away_m", "stretches"), [(6.0, 70.0, 2), (4.0, 70.0, 1), (6.0, 50.0, 1)]
)
def test_a_hole_is_long_in_time_and_in_way(pause_s, away_m, stretches):
    before = straight(0.0, 200.0)
    after = straight(198.0 + away_m, 450.0, from_s=before.time_s[-1] + pause_s)
    found = sample([one_log(before, after)])
    assert found.stretch.max() + 1 == stretches
    in_hole = (found.xy_m[:, 0] > 200.0) & (found.xy_m[:, 0] < 196.0 + away_m)
    assert np.any(in_hole) == (stretches == 1)
    # The way goes on over the hole, so that no two places are as far.
    assert np.all(np.diff(found.distance_m) > 0.0)


@pytest.mark.parametrize(
    ("usual_mps", "slow_mps", "kept"),
    [(20.0, 2.8, False), (20.0, 3.2, True), (4.0, 0.7, False), (4.0, 0.9, True)],
)
def test_a_stop_is_slower_than_a_walk_and_than_a_share_of_the_usual_speed(
    usual_mps, slow_mps, kept
):
    pushed = straight(200.0, 230.0, slow_mps, from_s=500.0, y_m=9.0)
    found = sample([one_log(straight(0.0, 2000.0, usual_mps), pushed)])
    assert np.any(found.xy_m[:, 1] == 9.0) == kept


@pytest.mark.parametrize(("length_m", "samples"), [(4 * STEP_M - 1.0, 0), (4 * STEP_M + 1.5, 5)])
def test_a_stretch_too_short_to_have_a_direction_is_left_out(length_m, samples):
    x = np.array([0.0, 0.5 * length_m, length_m])
    found = sample([Ride(np.arange(3.0), x, np.zeros(3), np.full(3, 5.0))])
    assert len(found) == samples


def test_who_only_stood_has_no_samples():
    still = Ride(np.arange(9.0), np.zeros(9), np.zeros(9), np.zeros(9))
    found = sample([still])
    assert len(found) == 0
    assert found.xy_m.shape == found.toward.shape == (0, 2)


@pytest.fixture
def ring():
    """A closed line to the left, a point every :data:`STEP_M`."""
    angle = 2.0 * np.pi * np.arange(210) / 210
    radius = 210 * STEP_M / (2.0 * np.pi)
    return Template(radius * np.stack([np.cos(angle), np.sin(angle)], axis=1), True), radius, angle


def test_a_closed_line_points_ahead_at_its_seam_too(ring):
    template, _, angle = ring
    expected = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    np.testing.assert_allclose(template.toward, expected, atol=1e-9)


def test_an_open_line_does_not_look_round_its_ends():
    x = STEP_M * np.arange(20.0)
    open_line = Template(np.stack([x, 0.0 * x], axis=1), False)
    np.testing.assert_array_equal(open_line.toward, [[1.0, 0.0]] * 20)


@pytest.mark.parametrize("left_m", [4.0, -4.0])
def test_beside_a_line_its_point_is_found_and_how_far_to_the_left(ring, left_m):
    template, radius, angle = ring
    out = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    index, offset = template.match((radius - left_m) * out, template.toward)
    np.testing.assert_array_equal(index, np.arange(210))
    np.testing.assert_allclose(offset, left_m)


def test_too_far_off_or_another_way_the_line_is_not_ridden(ring):
    template, radius, _ = ring
    at = np.array([[radius + 6.0, 0.0]])
    ahead = np.array([[0.0, 1.0]])
    assert template.match(at, ahead, 6.5)[0] == 0
    assert template.match(at, ahead, 5.5)[0] == -1
    assert template.match(at, -ahead, 6.5)[0] == -1
    for degrees, index in ((44.0, 0), (46.0, -1)):
        turned = np.array([[np.sin(np.radians(degrees)), np.cos(np.radians(degrees))]])
        template_of_one = Template(np.array([[0.0, -6.0], [0.0, -3.0], [0.0, 0.0]]), False)
        found = template_of_one.match(np.zeros((1, 2)), turned)[0]
        assert (found >= 0) == (index >= 0)


def test_where_a_line_crosses_itself_the_leg_ridden_is_found():
    """Under a bridge both legs are as near."""
    along = STEP_M * np.arange(-10.0, 11.0)
    legs = np.concatenate(
        [np.stack([along, 0.0 * along], axis=1), np.stack([0.0 * along, along], axis=1)]
    )
    cross = Template(legs, False)
    east, north = (cross.match(np.zeros((1, 2)), np.array([way]))[0][0] for way in np.eye(2))
    assert (east, north) == (10, 31)
