"""The start line: as the coach gave it, or else across a loop's longest straight or an open course's beginning."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.edges import Edges
from lapkit.course.stations import StationLine

HALF_WIDTH_M = 12.0
"""Half the length of a start line that the file does not give, metres: track, verge and receiver error."""

STRAIGHT_1PM = 1.0 / 300.0
"""Curvature below which a course counts as straight, 1/m (our choice)."""

_HELD_M = 30.0  # over which curvature is averaged, so that the wiggles of a walk do not show
_ROOM_M = 3.0  # beyond the edges, for a rider whose receiver errs


def given_start_line(reference: StationLine, ends: tuple[FloatArray, FloatArray]) -> FloatArray:
    """The two ends of a start line with the one on the rider's left first, shape ``(2, 2)``."""
    points = np.stack(ends, axis=-1)
    middle = points.mean(axis=0)
    station, _ = reference.project(middle[0], middle[1])
    left = reference.left_at(station)
    across = points - middle
    return read_only(points if across[0] @ left >= across[1] @ left else points[::-1])


def found_start_line(reference: StationLine, edges: Edges | None = None) -> FloatArray:
    """A start line square across the middle of the longest straight, left end first, ``(2, 2)``.

    On an open course, or one that is nowhere straight, it lies across the start of stations.
    """
    station = longest_straight(reference) if reference.closed else 0.0
    left, right = HALF_WIDTH_M, -HALF_WIDTH_M
    if edges is not None:
        left_edge, right_edge = edges.along(reference, station)
        left, right = float(left_edge) + _ROOM_M, float(right_edge) - _ROOM_M
    return read_only(np.stack(reference.offset_points([station, station], [left, right]), axis=-1))


def longest_straight(reference: StationLine) -> float:
    """Station of the middle of the longest straight of a closed line; zero when it has none."""
    step = reference.step_m
    at = reference.station_m[:-1]
    turned = reference.heading_at(at + 0.5 * _HELD_M) - reference.heading_at(at - 0.5 * _HELD_M)
    straight = np.abs(turned / _HELD_M) < STRAIGHT_1PM
    return float(reference.wrap(middle_of_longest_run(straight) * step))


def middle_of_longest_run(true: np.ndarray) -> float:
    """Index of the middle of the longest run of true values ``(n,)`` round a loop, an integer or half of an odd one.

    It may exceed the length where the run lies across the end. 0 when all values or none are true.
    """
    if true.all() or not true.any():
        return 0.0
    # Counted from a value that is false, no run lies across the end.
    first = int(np.argmin(true))
    edges = np.diff(np.concatenate([np.roll(true, -first), [False]]).astype(int))
    begins, ends = np.flatnonzero(edges == 1) + 1, np.flatnonzero(edges == -1)
    longest = int(np.argmax(ends - begins))
    return 0.5 * float(begins[longest] + ends[longest]) + first
