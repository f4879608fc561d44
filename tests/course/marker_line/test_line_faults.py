"""Cones and edges that no line can meet, named."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.corridor import window
from lapkit.course.line_faults import check_together, conflict
from lapkit.course.line_problem import pose
from lapkit.course.line_solver import solve
from lapkit.course.marker_line import solve_marker_line
from lapkit.errors import TrackError

HALF_M = 6.0


@pytest.mark.parametrize(
    ("extra", "named", "words"),
    [
        (("far", "left", 180.0, HALF_M + 9.0), "'far'", "9.0 m outside"),
        (("wrong side", "right", 180.0, HALF_M), "'wrong side'", "no line can leave"),
        (("strict", "left", 180.0, HALF_M, 0.3), "'strict'", "within 0.3 m"),
        (("across", "right", 174.0, -HALF_M), "'across'", "no line passes both"),
        (("chicane", "right", 181.0, -HALF_M), "'chicane'", "stands in the way"),
    ],
)
def test_a_cone_that_cannot_be_met_is_named(extra, named, words, lay):
    placed = lay.square_corner(
        ("apex 2", "left", 174.0, HALF_M), extra, ("apex 3", "left", 188.0, HALF_M)
    )
    with pytest.raises(TrackError) as caught:
        solve_marker_line(placed)
    message = str(caught.value)
    assert named in message and words in message and "corner '1'" in message


@pytest.mark.parametrize("lone", [True, False])
def test_a_cone_nearer_to_a_bends_centre_than_a_line_can_come_is_named(lone, lay):
    """A hairpin of 4 m about a cone set on its inner edge, 5.8 m in from the middle of the road."""
    reference = lay.through(lay.road((80, 0), (4 * np.pi, 4), (80, 0)))
    middle = 80 + 2 * np.pi
    apex = lay.cone(reference, "apex", "left", middle, 5.8)
    others = (lay.cone(reference, "in", "right", middle - 30, -5.0),
              lay.cone(reference, "out", "right", middle + 30, -5.0))  # fmt: skip
    hairpin = lay.corner("1", "left", others[0], apex, others[1])
    if lone:
        hairpin = replace(hairpin, markers=(apex,))
    with pytest.raises(TrackError, match="no line can reach this cone") as caught:
        solve_marker_line(lay.course(reference, hairpin))
    assert caught.value.where == "corner '1', marker 'apex'"


def test_a_programme_that_a_lone_cone_leaves_unsolved_is_a_fault_of_the_track(lay):
    placed = lay.square_corner()
    lone = window(placed, placed.corners[0], placed.corners[0].markers[0])
    problem = pose(placed, [lone])
    assert conflict(problem, [lone]).where == lone.where
    assert isinstance(conflict(problem, []), TrackError)


def test_cones_on_either_side_of_a_laps_end_are_side_by_side(lay):
    """Cones a metre before the end of a loop and a metre behind it, each set where the other is to be passed."""
    ring = lay.through(lay.road((200 * np.pi, 100)), closed=True)
    end = ring.length_m
    ahead = [
        lay.cone(ring, "in", "right", end - 60.0, -6.0),
        lay.cone(ring, "apex", "left", end - 30.0, 6.0),
        lay.cone(ring, "out", "left", end - 1.0, -2.0),
    ]
    behind = [
        lay.cone(ring, "in", "right", 1.0, 2.0),
        lay.cone(ring, "apex", "left", 30.0, 6.0),
        lay.cone(ring, "out", "right", 60.0, -6.0),
    ]
    placed = lay.course(ring, lay.corner("1", "left", *behind), lay.corner("2", "left", *ahead))
    windows = [window(placed, c, marker) for c in placed.corners for marker in c.markers]
    problem = pose(placed, windows)
    for check in (lambda: check_together(problem), lambda: solve(problem, 0.0 * problem.lower_m)):
        with pytest.raises(
            TrackError, match="no line passes both this cone and corner '2'"
        ) as caught:
            check()
        assert caught.value.where == "corner '1', marker 'in'"
    # However far apart two others are across the road, these are the sharpest.
    assert conflict(problem, windows).where == "corner '1', marker 'in'"


def test_a_track_too_narrow_to_turn_in_names_the_place(lay):
    reference = lay.through(lay.road((60, 0), (2.5 * np.pi, 2.5), (60, 0), step_m=0.5))
    placed = lay.course(reference, half_m=1.0)
    with pytest.raises(TrackError, match="between the edges the line would have to"):
        solve_marker_line(placed)
