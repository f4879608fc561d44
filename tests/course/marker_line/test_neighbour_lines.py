"""Lines beside the marker line in one corner: one lane further in, and inside the first seam."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.course import CourseSeam
from lapkit.course.marker_line import with_line
from lapkit.course.neighbour_lines import LEAVES_LINE_M, NeighbourLines, lane_width_m


@pytest.fixture(scope="module")
def seamed(lay):
    """A left-hander on a road of 12 m with a seam 2 m inside its middle."""
    bare = lay.square_corner()
    (corner,) = bare.corners
    at = np.array([corner.turn_in_m - 60.0, corner.exit_m + 60.0])
    seam = CourseSeam("seam", at, np.full(2, 2.0))
    return with_line(replace(bare, corners=(replace(corner, seams=(seam,)),)))


@pytest.fixture(scope="module")
def neighbours(seamed):
    return NeighbourLines.of(seamed)


@pytest.fixture(scope="module")
def lines(seamed, neighbours):
    """Offsets of the three lines from the reference, as functions of its stations."""
    corner = seamed.corners[0]

    def offsets(line):
        station, offset = seamed.reference.follow(line.x_m, line.y_m)
        return lambda at: np.interp(at, station, offset)

    return {
        "marker": offsets(seamed.marker_line),
        "one lane in": offsets(neighbours.one_lane_in(corner)),
        "inside": offsets(neighbours.inside_seam(corner)),
    }


def test_one_lane_in_turns_in_and_exits_at_least_a_lane_further_in_round_the_same_apex(
    seamed, lines
):
    corner = seamed.corners[0]
    ends = np.array([corner.turn_in_m, corner.exit_m])
    moved = lines["one lane in"](ends) - lines["marker"](ends)
    assert moved.min() > lane_width_m(seamed, corner) - 0.3
    apex = corner.last_apex_m
    assert lines["one lane in"](apex) == pytest.approx(lines["marker"](apex), abs=1.0)


def test_the_inside_line_keeps_inside_the_seam_from_the_apex_to_the_exit(seamed, lines):
    corner = seamed.corners[0]
    at = np.linspace(corner.last_apex_m + 2.0, corner.exit_m - 2.0, 20)
    assert lines["inside"](at).min() > 2.0 + 0.2
    assert lines["marker"](at).min() < 0.0


def test_a_neighbour_leaves_the_marker_line_and_joins_it_again(seamed, lines):
    corner = seamed.corners[0]
    reach = LEAVES_LINE_M - 5.0
    ends = np.array([corner.turn_in_m - reach, corner.exit_m + reach])
    within = ends[(ends > 0.0) & (ends < seamed.reference.length_m)]
    for name in ("one lane in", "inside"):
        assert lines[name](within) == pytest.approx(lines["marker"](within), abs=0.3)


def test_lanes_are_as_wide_as_seams_and_edges_lie_apart(seamed, lay):
    """Strips of 4 and 8 m; without a seam a third of the road."""
    assert lane_width_m(seamed, seamed.corners[0]) == pytest.approx(6.0)
    bare = lay.square_corner()
    assert lane_width_m(bare, bare.corners[0]) == pytest.approx(4.0)
