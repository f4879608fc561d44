"""The search for a line as a problem to solve: points that may move sideways, and what limits them.

A line is a sideways move of points on the reference, two to three metres apart. Curvature is computed from the
moved points themselves, so a reference drawn with few points does no harm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import scipy.sparse as sp

from lapkit.arrays import FloatArray
from lapkit.course.corridor import EDGE_ROOM_M, Window, edges_or_assumed
from lapkit.course.course import Course

STATION_STEP_M = 2.5
"""Longest step between the points of a solved line, metres."""

_CHORD_M = 4.0  # each way: normals are square to a chord of twice this length (our choice)
_SHORT_OF_CENTRE = 0.85  # of a bend's radius: the normals cross at its centre
_LEAST_ROOM_M = 0.1  # between two bounds, which a solver needs


class Flick(NamedTuple):
    """A change of direction, from the last apex of a corner to the first of the next, which turns the other way.

    ``first`` and ``last`` are indices of points, which may count on past a closed lap's end; ``sign`` is that of the
    first corner's curvature.
    """

    first: int
    last: int
    sign: int


@dataclass(frozen=True, eq=False)
class LineProblem:
    """Points that may move sideways, and what limits them; arrays over ``n`` points.

    Attributes:
        closed: whether the line is a loop; a :meth:`piece` of a loop is none.
        lap_m: length of a lap of the course; None on an open one.
        step_m: from point to point along the reference.
        station_m: stations on the reference, in even steps, metres. In a piece across a lap's end they begin anew there.
        base_m: the points on the reference, metres, ``(n, 2)``.
        normal: unit vectors to the left, ``(n, 2)``.
        lower_m, upper_m: bounds of the sideways move, metres, left positive.
        windows: the offsets that each of ``k`` cones allows.
        rows: matrix that turns a move into the offsets at the ``k`` cones, ``(k, n)``.
        zone: index of the corner that a point lies in, or else of the nearest one.
        in_corner: whether the point lies in that corner.
        flicks: the changes of direction.
    """

    closed: bool
    lap_m: float | None
    step_m: float
    station_m: FloatArray
    base_m: FloatArray
    normal: FloatArray
    lower_m: FloatArray
    upper_m: FloatArray
    windows: tuple[Window, ...]
    rows: sp.csr_array
    zone: np.ndarray
    in_corner: np.ndarray
    flicks: tuple[Flick, ...] = ()

    @property
    def bent(self) -> slice:
        """Points that have a curvature: all of a closed line, all but the ends of an open one."""
        return slice(None) if self.closed else slice(1, -1)

    def forward_difference(self) -> sp.csr_array:
        """Matrix that turns values at the ``b`` bent points into the next value less their own, ``(b, b)``.

        The last row of an open line is zero.
        """
        count = len(self.station_m[self.bent])
        following = np.ones(count - 1)
        last = np.full(1, float(self.closed))
        own = np.append(following, last)
        return sp.diags_array([-own, following, last], offsets=[0, 1, 1 - count]).tocsr()

    def between_m(self, one: Window, other: Window) -> float:
        """Metres of the course between two cones, on a loop the shorter way round."""
        way = one.marker.station_m - other.marker.station_m
        return abs(way if self.lap_m is None else math.remainder(way, self.lap_m))

    def points(self, move_m: FloatArray) -> FloatArray:
        """Points of the line for a sideways move ``(n,)``, metres, ``(n, 2)``."""
        return self.base_m + move_m[:, None] * self.normal

    def piece(self, chosen: np.ndarray, freed: Sequence[bool]) -> LineProblem:
        """An open piece of the problem.

        Args:
            chosen: indices of its points, ``(m,)``.
            freed: for each window whether it is left out; windows beyond the piece are left out anyway.
        """
        rows = self.rows[:, chosen]
        # The weights of a window's four points sum to one, unless some of them lie beyond the piece.
        within = np.abs(rows.sum(axis=1) - 1.0) < 1e-9
        kept = np.flatnonzero(within & ~np.array(freed, dtype=bool))
        return replace(
            self,
            closed=False,
            station_m=self.station_m[chosen],
            base_m=self.base_m[chosen],
            normal=self.normal[chosen],
            lower_m=self.lower_m[chosen],
            upper_m=self.upper_m[chosen],
            windows=tuple(self.windows[i] for i in kept),
            rows=rows[kept],
            zone=self.zone[chosen],
            in_corner=self.in_corner[chosen],
            flicks=(),
        )

    def curvature(self, move_m: FloatArray) -> tuple[FloatArray, FloatArray, sp.csr_array]:
        """Curvature (1/m, left positive), the length it is averaged over (m), and its Jacobian (1/m²).

        At each of the ``b`` :attr:`bent` points the curvature is the angle between the two chords over half the sum of
        their lengths. Shapes ``(b,)``, ``(b,)`` and ``(b, n)``.
        """
        n = len(self.station_m)
        here = np.arange(n)[self.bent]
        before, after = (here - 1) % n, (here + 1) % n
        points = self.points(move_m)
        arrive, leave = points[here] - points[before], points[after] - points[here]
        a, b = np.hypot(*arrive.T)[:, None], np.hypot(*leave.T)[:, None]
        cross = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
        length = 0.5 * (a + b)[:, 0]
        curvature = np.arctan2(cross, np.sum(arrive * leave, axis=1)) / length
        # A chord whose end moves turns by the component across it over its length, and grows by the component
        # along it. The first changes the curvature directly, the second through the length.
        half = (0.5 * curvature)[:, None]
        by_before = (_left(arrive) / a**2 + half * arrive / a) / length[:, None]
        by_after = (_left(leave) / b**2 - half * leave / b) / length[:, None]
        values = [
            np.sum(by_before * self.normal[before], axis=1),
            -np.sum((by_before + by_after) * self.normal[here], axis=1),
            np.sum(by_after * self.normal[after], axis=1),
        ]
        place = np.tile(np.arange(len(here)), 3), np.concatenate([before, here, after])
        return (
            curvature,
            length,
            sp.csr_array((np.concatenate(values), place), shape=(len(here), n)),
        )


def pose(course: Course, windows: Sequence[Window]) -> LineProblem:
    """The problem of a line on a course: its corridor, the windows at the cones, and the zones of the corners."""
    at = stations(course)
    normal = normals(course, at)
    low, high = _between_edges(course, at, normal)
    zone, in_corner = _zones(course, at)
    return LineProblem(
        closed=course.closed,
        lap_m=course.reference.period_m,
        step_m=float(at[1]),
        station_m=at,
        base_m=np.stack(course.reference.at(at), -1),
        normal=normal,
        lower_m=low,
        upper_m=high,
        windows=tuple(windows),
        rows=_cubic_rows(course, at, [w.marker.station_m for w in windows]),
        zone=zone,
        in_corner=in_corner,
        flicks=_flicks(course, at[1]),
    )


def _flicks(course: Course, step_m: float) -> tuple[Flick, ...]:
    """Every change of direction from one corner to the next."""
    following = [*course.corners[1:], *course.corners[:1]]
    found = []
    for here, then in zip(course.corners, following, strict=True):
        last, first = here.last_apex_m, then.apexes_m[0]
        if then.turn_in_m <= here.turn_in_m:
            if not course.closed:
                continue
            first += course.reference.length_m
        if then.turn is not here.turn and first - last > 2.0 * step_m:
            found.append(Flick(int(np.ceil(last / step_m)), int(first / step_m), here.turn.sign))
    return tuple(found)


def stations(course: Course) -> FloatArray:
    """Stations in equal steps along the reference, metres, ``(n,)``; those of a closed lap do not repeat its start."""
    length = course.reference.length_m
    steps = max(int(np.ceil(length / STATION_STEP_M)), 8)
    return np.linspace(0.0, length, steps + 1)[: steps if course.closed else None]


def normals(course: Course, station_m: FloatArray) -> FloatArray:
    """Unit vectors to the left of the reference at stations, shape ``(n, 2)``.

    They are square to a chord and not to the line itself, so that normals of a reference recorded on foot do not cross.
    """
    ahead = np.stack(course.reference.at(station_m + _CHORD_M), -1)
    chord = ahead - np.stack(course.reference.at(station_m - _CHORD_M), -1)
    return _left(chord / np.hypot(*chord.T)[:, None])


def _left(vectors: FloatArray) -> FloatArray:
    """Vectors turned a quarter to the left, shape ``(..., 2)``."""
    return np.stack([-vectors[..., 1], vectors[..., 0]], axis=-1)


def _between_edges(
    course: Course, station_m: FloatArray, normal: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest offsets that leave room to the edges and stop short of where normals cross, ``(n,)`` each."""
    left, right = edges_or_assumed(course, station_m)
    room = np.clip(0.5 * (left - right - _LEAST_ROOM_M), 0.0, EDGE_ROOM_M)
    heading = np.unwrap(np.arctan2(normal[:, 1], normal[:, 0]))
    bend = np.gradient(heading, station_m)
    with np.errstate(divide="ignore"):
        centre = _SHORT_OF_CENTRE / np.abs(bend)
    low = np.where(bend < 0, np.maximum(right + room, -centre), right + room)
    high = np.where(bend > 0, np.minimum(left - room, centre), left - room)
    return np.minimum(low, high - _LEAST_ROOM_M), high


def _cubic_rows(course: Course, station_m: FloatArray, at_m: Sequence[float]) -> sp.csr_array:
    """Weights ``(k, n)`` that interpolate the move at ``k`` stations, by the cubic through the four points about each."""
    n, step = len(station_m), station_m[1]
    place = course.reference.wrap(np.array(at_m)) / step
    first = np.floor(place).astype(int) - 1
    if not course.closed:
        first = np.clip(first, 0, n - 4)
    t = (place - first)[:, None]
    nodes = np.arange(4)
    weights = np.ones((len(at_m), 4))
    for i in nodes:
        for j in nodes[nodes != i]:
            weights[:, [i]] *= (t - j) / (i - j)
    column = (first[:, None] + nodes) % n
    row = np.repeat(np.arange(len(at_m)), 4)
    return sp.csr_array((weights.ravel(), (row, column.ravel())), shape=(len(at_m), n))


def _zones(course: Course, station_m: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """For each station the index of the nearest corner, and whether the station lies in that corner.

    A course without corners is one zone, all of it inside.
    """
    if not course.corners:
        return np.zeros(len(station_m), dtype=int), np.ones(len(station_m), dtype=bool)
    outside = []
    for corner in course.corners:
        half = 0.5 * (corner.exit_m - corner.turn_in_m)
        way = course.reference.way(station_m - corner.turn_in_m - half)
        outside.append(np.maximum(np.abs(way) - half, 0.0))
    return np.argmin(outside, axis=0), np.min(outside, axis=0) == 0.0
