"""How far spots lie from a pit lane drawn as a line or as an outline."""

import numpy as np
import pytest

from lapkit.course.pit_lane import from_pit_lane_m

LANE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]])
SPOTS = np.array([[5.0, 3.0], [13.0, 5.0], [-3.0, -4.0], [9.0, 1.0]])


def test_a_line_is_as_far_as_its_nearest_point():
    assert from_pit_lane_m([LANE], *SPOTS.T) == pytest.approx([3.0, 3.0, 5.0, 1.0])


def test_a_lane_of_a_single_point_is_as_far_as_that():
    assert from_pit_lane_m([LANE[1:2]], *SPOTS.T) == pytest.approx(np.hypot(*(SPOTS - LANE[1]).T))


def test_within_an_outline_it_is_no_distance():
    outline = np.concatenate([LANE, LANE[:1]])
    inside = np.array([[9.0, 1.0], [7.0, 6.0], [5.0, 6.0]])
    assert from_pit_lane_m([outline], *inside.T) == pytest.approx([0.0, 0.0, 0.5**0.5])


def test_the_nearest_of_several_counts_and_none_is_infinitely_far():
    assert from_pit_lane_m([LANE, LANE + 3.0], *SPOTS[:2].T) == pytest.approx([0.0, 0.0])
    assert np.isinf(from_pit_lane_m([], *SPOTS.T)).all()
