"""Lines to compare with the marker line in one corner: one lane further in, and inside the first seam.

Each is the line of largest radius under its restriction in that corner. It leaves the marker line before the
corner and joins it again after it. These lines are geometry, to show what running further in does to the radius;
nobody is advised to ride them.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.corridor import EDGE_ROOM_M, Window, edges_or_assumed, window
from lapkit.course.course import Corner, Course
from lapkit.course.line_problem import LineProblem, pose
from lapkit.course.line_solver import solve
from lapkit.course.marker_line import arc_line
from lapkit.course.placed_line import PlacedLine
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind
from lapkit.errors import TrackError

LANES_WITHOUT_SEAMS = 3
"""Number of lanes that the road is divided into where a corner has no seams (common practice, no source)."""

LEAVES_LINE_M = 100.0
"""Distance before turn-in and after the exit over which a neighbour may differ from the marker line, metres."""

_PINNED_M = 0.01  # room left to points that are to stay where they are, which the solver needs
_ROOM_M = 0.2  # left between the restriction and what a cone or an edge allows


@dataclass(frozen=True, eq=False)
class NeighbourLines:
    """Solver of the marker line's neighbours.

    Attributes:
        course: the course, with its marker line.
        placed: the marker line, placed on the course's reference.
        problem: the problem of a line on it.
        line_m: the move that puts the problem's points on the marker line, metres, ``(n,)``.
    """

    course: Course
    placed: PlacedLine
    problem: LineProblem
    line_m: FloatArray

    @classmethod
    def of(cls, course: Course) -> NeighbourLines:
        """The solver for a course.

        Raises:
            TrackError: it has no marker line.
        """
        line = course.require_marker_line()
        problem, placed = pose(course, _windows(course)), PlacedLine.on(course.reference, line)
        at, period = problem.station_m, placed.round_m
        move = np.interp(at, placed.station_m, placed.offset_m, period=period)
        beside = placed.beside(at)
        # The problem's normals are square to chords rather than to the reference, so two corrections follow.
        for _ in range(2):
            off_line = line.project(*problem.points(move).T)[1]
            move = move - np.where(beside, off_line, 0.0)
        return cls(course, placed, problem, move)

    def one_lane_in(self, corner: Corner) -> StationLine:
        """The line that turns in and exits one lane further in than the marker line, round the same apexes.

        Raises:
            TrackError: no such line can be ridden.
        """
        index, here = self._around(corner)
        ends = np.array([corner.turn_in_m, corner.exit_m])
        at_ends = np.interp(ends, here, self.line_m[index])
        further_in = corner.turn.sign * at_ends + lane_width_m(self.course, corner)
        return self._solve(corner, corner.turn_in_m, np.interp(here, ends, further_in))

    def inside_seam(self, corner: Corner) -> StationLine:
        """The line that keeps inside the first seam from the last apex to the exit, in a corner that has seams.

        Raises:
            TrackError: no such line can be ridden.
        """
        _, here = self._around(corner)
        seam = corner.turn.sign * corner.seams[0].offset_at(here)
        return self._solve(corner, corner.last_apex_m, seam + EDGE_ROOM_M)

    def _around(self, corner: Corner) -> tuple[np.ndarray, FloatArray]:
        """The problem's points about a corner: their indices, and their stations counted as the corner's are."""
        n, step = len(self.line_m), self.problem.step_m
        most = 0.5 * (n * step - (corner.exit_m - corner.turn_in_m)) - 4.0 * step
        reach = min(LEAVES_LINE_M, most) if self.course.closed else LEAVES_LINE_M
        first = int(np.ceil((corner.turn_in_m - reach) / step))
        last = int(np.floor((corner.exit_m + reach) / step))
        if not self.course.closed:
            first, last = max(first, 0), min(last, n - 1)
        count = np.arange(first, last + 1)
        return count % n, step * count.astype(np.float64)

    def _solve(self, corner: Corner, from_m: float, floor_m: FloatArray) -> StationLine:
        """Solve about a corner for a line that keeps a least offset towards its inside.

        Args:
            corner: the corner.
            from_m: the offset is kept, and the cones on the outside are ignored, from this station to the exit.
            floor_m: the least offset at the points about the corner, metres towards its inside.
        """
        index, here = self._around(corner)
        restricted = (here >= from_m) & (here <= corner.exit_m)
        line = self.line_m[index]
        piece = self.problem.piece(index, self._free(corner, from_m))
        floor = np.minimum(floor_m, _allowed(corner, piece.windows, here) - _ROOM_M)
        low, high = piece.lower_m.copy(), piece.upper_m.copy()
        if corner.turn.sign > 0:
            low[restricted] = np.clip(floor, low, high - _ROOM_M)[restricted]
        else:
            high[restricted] = np.clip(-floor, low + _ROOM_M, high)[restricted]
        pinned = [0, 1, -2, -1]
        low[pinned], high[pinned] = line[pinned] - _PINNED_M, line[pinned] + _PINNED_M
        piece = replace(piece, lower_m=low, upper_m=high)
        return arc_line(piece.points(solve(piece, line)), closed=False)

    def _free(self, corner: Corner, from_m: float) -> list[bool]:
        """For each window whether it is ignored: its cone stands on the outside, or the marker line misses it."""
        freed = []
        for cone, at in zip(self.problem.windows, self.problem.rows @ self.line_m, strict=True):
            outside = cone.corner == corner.name and cone.marker.side is not corner.turn
            missed = not cone.low_m - _ROOM_M < at < cone.high_m + _ROOM_M
            freed.append(missed or (outside and cone.marker.station_m >= from_m))
        return freed


def lane_width_m(course: Course, corner: Corner) -> float:
    """Typical width of the lanes in a corner's exit phase, metres."""
    at = np.linspace(corner.last_apex_m, corner.exit_m, 9)
    left, right = edges_or_assumed(course, at)
    if not corner.seams:
        return float(np.median(left - right)) / LANES_WITHOUT_SEAMS
    strips = [left, right, *(seam.offset_at(at) for seam in corner.seams)]
    return float(np.median(np.diff(np.sort(strips, axis=0), axis=0)))


def _windows(course: Course) -> list[Window]:
    """The windows of the cones that have one: a line given by the coach may pass the others in its own way."""
    found = []
    for corner in course.corners:
        for marker in corner.markers:
            with suppress(TrackError):
                found.append(window(course, corner, marker))
    return found


def _allowed(corner: Corner, cones: Sequence[Window], station_m: FloatArray) -> FloatArray:
    """How far in the inside cones of a corner let a line run, metres, linear from cone to cone, ``(n,)``."""
    inside = sorted(
        (c.marker.station_m, c.high_m if corner.turn.sign > 0 else -c.low_m)
        for c in cones
        if c.corner == corner.name
        and c.marker.side is corner.turn
        and c.marker.kind is not MarkerKind.SIGHT
    )
    if not inside:
        return np.full(len(station_m), np.inf)
    place, limit = np.array(inside).T
    return np.interp(station_m, place, limit)
