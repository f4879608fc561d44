"""Where a run's laps pass corners, seen on a coarse sweep of the whole run."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from lapkit.compare.held import STEP_M
from lapkit.course.course import Corner, Course
from lapkit.path.draws import PathDraws
from lapkit.splitter import Lap
from lapkit.units import FloatArray

BEFORE_M = 30.0
"""Metres of path looked at before turn-in."""

AFTER_M = 25.0
"""Metres of path looked at after the exit marker."""

_AROUND_CONE_M = 15.0  # what is asked of a cone lies within 12 m of it
_FARTHEST_CONE_M = 150.0  # a cone further out of its corner is not measured there (our choice)
_DETOUR = 1.1  # of metres ridden, at most so many times the course's own between two places

_SWEEP_S = 0.2  # at 200 km/h every 11 m: a pass is found on it, and measured on the path itself
_FOLLOW_EVERY = 3  # of these times one is laid on the course: that is what costs
_LONGEST_DETOUR = 2.0  # times the corner's length: who rode more than that did not ride the corner


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

    @property
    def fix_height_m(self) -> FloatArray:
        """Their heights as logged, metres, shape ``(n,)``; NaN where none was."""

    def at(self, time_s: FloatArray, near_m: FloatArray | None = None) -> PathDraws:
        """The ensemble at times ``(n,)``, seconds, near stations ``(n,)``, metres, where they are known."""

    def mean_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The estimate alone at times ``(n,)``: metres east and north, ``(n,)`` each."""


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


@dataclass(frozen=True, eq=False)
class CornerRides:
    """The laps that ride one corner from turn-in to exit, in time order.

    Attributes:
        corner: which.
        laps: those laps.
        begin_m: metres ridden on the sweep from which each is looked at, ``(laps,)``.
        before_m: what the sweep's unwrapped stations are ahead of the corner's own in each, a whole number of laps of the
            course in metres, ``(laps,)``.
        points: of the grid over which each is looked at, the same for all.
    """

    corner: Corner
    laps: tuple[Lap, ...]
    begin_m: FloatArray
    before_m: FloatArray
    points: int


def looked_at_m(corner: Corner) -> tuple[float, float]:
    """Metres ridden before turn-in and after the exit marker that are looked at.

    More than :data:`BEFORE_M` and :data:`AFTER_M` where a cone, one to be sighted mostly, stands further out.
    """
    station = [corner.turn_in_m, *(marker.station_m for marker in corner.markers), corner.exit_m]
    out = corner.turn_in_m - min(station), max(station) - corner.exit_m
    before, after = (_DETOUR * min(each, _FARTHEST_CONE_M) + _AROUND_CONE_M for each in out)
    return max(BEFORE_M, before), max(AFTER_M, after)


def rides_through(sweep: Sweep, laps: Sequence[Lap], corner: Corner, course: Course) -> CornerRides:
    """Every lap in which a corner was ridden whole and is seen whole.

    A corner belongs to the lap in which its turn-in was passed, also when it lies across the start
    line. Passes too near the ends of the log to be looked at whole are left out.
    """
    starts = np.array([lap.start_s for lap in laps])
    ahead_m, beyond_m = looked_at_m(corner)
    found: dict[int, tuple[float, float, float]] = {}
    for first, last, before_m in _ridden(sweep, corner, course):
        time = sweep.time_s[first]
        which = int(np.searchsorted(starts, time, side="right")) - 1
        if which < 0 or time >= laps[which].end_s or which in found:
            continue
        turn_in_m, exit_m = sweep.distance_m[[first, last]]
        if turn_in_m >= BEFORE_M and exit_m + AFTER_M <= sweep.distance_m[-1]:
            found[which] = (turn_in_m, exit_m, before_m)
    turn_in, leave, before = np.array(list(found.values())).reshape(-1, 3).T
    longest = np.max(leave - turn_in, initial=0.0) + ahead_m + beyond_m
    # Near an end of the log a pass is looked at from later or sooner on: a cone far out is then not seen.
    begin = np.clip(turn_in - ahead_m, 0.0, max(sweep.distance_m[-1] - longest, 0.0))
    whole = begin + longest <= sweep.distance_m[-1]
    seen = tuple(laps[which] for which in np.array(list(found), dtype=int)[whole])
    return CornerRides(corner, seen, begin[whole], before[whole], int(np.ceil(longest / STEP_M)))


def _ridden(sweep: Sweep, corner: Corner, course: Course) -> Iterator[tuple[int, int, float]]:
    """Indices at which turn-in and exit are passed, and the station of whole laps before."""
    length = course.reference.length_m if course.closed else np.inf
    ahead = sweep.station_m - corner.turn_in_m
    laps = np.floor(ahead / length) if course.closed else np.where(ahead < 0, -1.0, 0.0)
    farthest = _LONGEST_DETOUR * (corner.exit_m - corner.turn_in_m)
    for first in np.flatnonzero(np.diff(laps) >= 1.0):
        before = laps[first + 1] * length if course.closed else 0.0
        beyond = np.searchsorted(sweep.distance_m, sweep.distance_m[first] + farthest)
        ridden = sweep.station_m[first:beyond] - before >= corner.exit_m
        if ridden.any():
            yield int(first), int(first + np.argmax(ridden)), float(before)
