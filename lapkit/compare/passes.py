"""One lap through one corner, as arrays on a grid of one metre of the estimate's path.

Where a lap passes a corner is found on a coarse sweep of the whole run; the ensemble itself is asked
for at the grid's times only, once a pass.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from lapkit.compare.held import STEP_M, Held, crossings
from lapkit.course.course import Corner, Course
from lapkit.lean import balance_tangent
from lapkit.path.draws import PathDraws
from lapkit.splitter import Lap
from lapkit.units import FloatArray

BEFORE_M = 30.0
"""Metres of path looked at before turn-in."""

AFTER_M = 25.0
"""Metres of path looked at after the exit marker."""

_SWEEP_S = 0.2
_FOLLOW_EVERY = 3
_LONGEST_PASS_S = 180.0
_FLATTEST = 0.15  # 1 − κ·offset is kept above this: beyond the centre of a bend no foot is unique


class Ridden(Protocol):
    """What a pass asks of a ridden path: see :class:`lapkit.path.ridden.RiddenPath`."""

    @property
    def start_s(self) -> float:
        """First time, seconds."""

    @property
    def end_s(self) -> float:
        """Last time, seconds."""

    @property
    def fix_time_s(self) -> FloatArray:
        """Times of the fixes that took part, shape ``(n,)``."""

    def at(self, time_s: FloatArray) -> PathDraws:
        """The ensemble at times."""

    def mean_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The estimate alone at times, metres."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """A whole run seen coarsely; arrays of shape ``(n,)``.

    ``distance_m`` never falls; ``station_m`` is unwrapped lap after lap and right to a metre or so.
    """

    time_s: FloatArray
    distance_m: FloatArray
    station_m: FloatArray

    @classmethod
    def of(cls, path: Ridden, course: Course) -> Sweep:
        """Sweep a path along a course."""
        time = np.arange(path.start_s, path.end_s, _SWEEP_S)
        x, y = path.mean_xy(time)
        step = np.hypot(np.diff(x), np.diff(y))
        # Without a step of its own a standstill would leave times undefined at a distance.
        distance = np.concatenate([[0.0], np.cumsum(np.maximum(step, 1e-6))])
        thin = slice(None, None, _FOLLOW_EVERY)
        station, _ = course.reference.follow(x[thin], y[thin])
        return cls(time, distance, np.interp(distance, distance[thin], station))

    def time_at(self, distance_m: FloatArray) -> FloatArray:
        """Times at distances."""
        return np.interp(distance_m, self.distance_m, self.time_s)


@dataclass(frozen=True, eq=False)
class Crossing:
    """A lap's way through a corner: grid times ``(n,)``, and the stations of whole laps before it."""

    lap: Lap
    corner: Corner
    time_s: FloatArray
    rough_station_m: FloatArray


def crossings_of(sweep: Sweep, laps: Sequence[Lap], course: Course) -> Iterator[Crossing]:
    """Every lap × corner that was ridden from turn-in to exit, corner by corner.

    A corner belongs to the lap in which its turn-in was passed, also when it lies across the start line.
    """
    starts = np.array([lap.start_s for lap in laps])
    for corner in course.corners:
        seen: set[int] = set()
        for first, last, before_m in _ridden(sweep, corner, course):
            time = sweep.time_s[first]
            which = int(np.searchsorted(starts, time, side="right")) - 1
            if which < 0 or time >= laps[which].end_s or which in seen:
                continue
            seen.add(which)
            low = max(sweep.distance_m[first] - BEFORE_M, 0.0)
            high = min(sweep.distance_m[last] + AFTER_M, sweep.distance_m[-1])
            grid = np.arange(low, high, STEP_M)
            rough = np.interp(grid, sweep.distance_m, sweep.station_m) - before_m
            yield Crossing(laps[which], corner, sweep.time_at(grid), rough)


def _ridden(sweep: Sweep, corner: Corner, course: Course) -> Iterator[tuple[int, int, float]]:
    """Indices at which turn-in and exit are passed, and the station of whole laps before."""
    length = course.reference.length_m if course.closed else np.inf
    ahead = sweep.station_m - corner.turn_in_m
    laps = np.floor(ahead / length) if course.closed else np.where(ahead < 0, -1.0, 0.0)
    most = round(_LONGEST_PASS_S / _SWEEP_S)
    for first in np.flatnonzero(np.diff(laps) >= 1.0):
        before = laps[first + 1] * length if course.closed else 0.0
        ridden = sweep.station_m[first : first + most] - before >= corner.exit_m
        if ridden.any():
            yield int(first), int(first + np.argmax(ridden)), float(before)


@dataclass(frozen=True, eq=False)
class Pass:
    """One lap through one corner. Arrays have shape ``(rows, n)``: row 0 the estimate, then draws.

    ``station_m`` and ``offset_m`` (left positive) belong to the tyre path, everything else to the ridden
    path; stations are unwrapped as in the corner. Curvature, heading and lean are positive into the turn.
    """

    crossing: Crossing
    draws: PathDraws
    station_m: FloatArray
    offset_m: FloatArray
    grade: FloatArray
    vertical_curvature_1pm: FloatArray

    @property
    def corner(self) -> Corner:
        """The corner."""
        return self.crossing.corner

    @property
    def lap(self) -> Lap:
        """The lap."""
        return self.crossing.lap

    @property
    def sign(self) -> int:
        """+1 in a left-hander, −1 in a right-hander."""
        return self.corner.turn.sign

    @property
    def distance_m(self) -> FloatArray:
        """Length of path since the grid began."""
        return self.draws.distance_m

    @property
    def speed_mps(self) -> FloatArray:
        """Speed of the ridden path."""
        return self.draws.speed_mps

    @cached_property
    def curvature_1pm(self) -> FloatArray:
        """Curvature of the ridden path at each point, positive into the turn."""
        return self.sign * self.draws.curvature_1pm

    @cached_property
    def lean_tangent(self) -> FloatArray:
        """Tangent of the balance lean, positive into the turn."""
        return balance_tangent(
            self.speed_mps, self.curvature_1pm, self.vertical_curvature_1pm, self.grade
        )

    @cached_property
    def lean_deg(self) -> FloatArray:
        """Balance lean from the vertical, positive into the turn."""
        return np.degrees(np.arctan(self.lean_tangent))

    @cached_property
    def held_curvature(self) -> Held:
        """Heading change over path length."""
        return Held(self.sign * self.draws.heading_rad, self.distance_m)

    @cached_property
    def held_lean(self) -> Held:
        """Mean lean."""
        return Held.mean_of(self.lean_deg, self.distance_m)

    @cached_property
    def held_speed(self) -> Held:
        """Mean speed."""
        return Held.mean_of(self.speed_mps, self.distance_m)

    @cached_property
    def limits(self) -> FloatArray:
        """Places of turn-in, last apex and exit in each row, shape ``(rows, 3)``; NaN if not passed."""
        c = self.corner
        return crossings(self.station_m, np.array([c.turn_in_m, c.last_apex_m, c.exit_m]))

    @property
    def whole(self) -> bool:
        """Whether every row passes turn-in, last apex and exit, one after the other."""
        return bool(np.all(np.diff(self.limits, axis=1) > 0.0))


def measure_pass(path: Ridden, course: Course, crossing: Crossing) -> Pass:
    """Ask the ensemble for a pass and lay it along the course."""
    draws = path.at(crossing.time_s)
    x, y = draws.tyre_xy_m
    line = course.reference
    station, offset = line.project_near(x[0], y[0], crossing.rough_station_m)
    heading, curvature = line.heading_at(station), line.curvature_at(station)
    east, north = x - x[0], y - y[0]
    cos, sin = np.cos(heading), np.sin(heading)
    along, left = east * cos + north * sin, north * cos - east * sin
    # Draws lie a metre or two from the estimate: on the circle that the line is there, to second order.
    flat = np.maximum(1.0 - curvature * (offset + left), _FLATTEST)
    grade, vertical = np.zeros_like(station), np.zeros_like(station)
    if course.profile is not None:
        grade, vertical = course.profile.at(line.wrap(station))
    return Pass(
        crossing=crossing,
        draws=draws,
        station_m=station + along / flat,
        offset_m=offset + left - 0.5 * curvature * along**2 / flat,
        grade=grade,
        vertical_curvature_1pm=vertical,
    )
