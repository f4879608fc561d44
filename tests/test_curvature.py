"""Curvature held over a stretch of path, and of the circle through three points."""

import numpy as np
import pytest

from lapkit.curvature import circle_curvature, held_curvature, path_length_m, radius_m


def test_path_length_counts_chords_along_the_last_axis():
    x = np.array([[0.0, 3.0, 3.0], [0.0, 0.0, 0.0]])
    y = np.array([[0.0, 4.0, 5.0], [0.0, 1.0, 3.0]])
    np.testing.assert_allclose(path_length_m(x, y), [[0, 5, 6], [0, 1, 3]])
    assert path_length_m(x[:, :1], y[:, :1]).tolist() == [[0.0], [0.0]]


def test_held_curvature_is_heading_change_over_length():
    distance = np.linspace(0.0, 40.0, 81)
    heading = np.where(distance < 20.0, 0.0, (distance - 20.0) / 25.0)
    held = held_curvature(heading, distance, np.array([0.0, 15.0, 20.0, 30.0, 30.5]))
    np.testing.assert_allclose(held[:4], [0.0, 0.02, 0.04, 0.04])
    assert np.isnan(held[4])


def test_a_stretch_that_begins_before_the_path_holds_nothing():
    held = held_curvature([0.0, 0.8], [5.0, 25.0], [4.5, 5.0])
    assert np.isnan(held[0])
    assert held[1] == pytest.approx(0.04)


def test_a_shorter_stretch_can_be_asked_for():
    held = held_curvature(np.array([0.0, 0.5]), np.array([0.0, 10.0]), np.array([0.0]), 5.0)
    assert held[0] == pytest.approx(0.05)


def test_a_straight_has_no_end_of_radius():
    assert radius_m(np.array([0.0, -0.02])).tolist() == [np.inf, 50.0]


@pytest.mark.parametrize("way", [1, -1])
def test_circle_through_three_points_is_signed(way):
    angle = way * np.array([0.0, 0.1, 0.3])
    bend = circle_curvature(20 * np.cos(angle), 20 * np.sin(angle))
    np.testing.assert_allclose(bend, [way / 20.0])


def test_repeated_points_have_no_circle():
    assert np.isnan(circle_curvature(np.zeros(3), np.array([0.0, 0.0, 1.0]))).all()
