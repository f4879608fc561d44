"""Where a run's laps pass each corner, found on a coarse sweep along the whole run."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import STEP_M
from lapkit.course.course import Corner, Course
from lapkit.path.draws import PathDraws
from lapkit.splitter import Lap

BEFORE_M = 30.0
"""A pass begins at least this far before turn-in, metres of path."""

AFTER_M = 25.0
"""A pass ends at least this far after the exit marker, metres of path."""

_AROUND_CONE_M = 15.0  # measures at a cone use the path within 12 m of it
# A cone further from its corner than this is not measured there (our choice).
_FARTHEST_CONE_M = 150.0
_DETOUR = 1.1  # distance ridden between two places over the distance along the course, at most

# Every 11 m at 200 km/h: passes are found on the sweep and measured on the path itself.
_SWEEP_S = 0.2
_FOLLOW_EVERY = 3  # every third of these times is placed on the course, which is what takes time
# A rider who rode more than this many times the corner's length did not ride the corner.
_LONGEST_DETOUR = 2.0


class Ridden(Protocol):
    """What measuring needs of a ridden path; see :class:`lapkit.path.ridden.RiddenPath`."""

    @property
    def start_s(self) -> float:
        """First time, seconds."""

    @property
    def end_s(self) -> float:
        """Last time, seconds."""

    @property
    def fix_time_s(self) -> FloatArray:
        """Times of the fixes that the path was estimated from, seconds, ``(n,)``."""

    @property
    def fix_height_m(self) -> FloatArray:
        """Heights of these fixes as logged, metres, ``(n,)``; NaN where none was."""

    def at(self, time_s: FloatArray, near_m: FloatArray | None = None) -> PathDraws:
        """The ensemble at times ``(n,)``, seconds; ``near_m`` are its rough stations ``(n,)``, metres, where known."""

    def mean_xy(self, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The estimate at times ``(n,)``, seconds: metres east and north, ``(n,)`` each."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """A whole run at coarse steps of time; arrays have shape ``(n,)``.

    Attributes:
        time_s: time, seconds.
        distance_m: distance ridden since the start of the log, metres, always increasing.
        station_m: station, metres, unwrapped lap after lap and right to a metre or so.
    """

    time_s: FloatArray
    distance_m: FloatArray
    station_m: FloatArray

    @classmethod
    def of(cls, path: Ridden, course: Course) -> Sweep:
        """Sweep along a path."""
        time = np.arange(path.start_s, path.end_s, _SWEEP_S)
        x, y = path.mean_xy(time)
        step = np.hypot(np.diff(x), np.diff(y))
        # Even a standstill advances a little, so that every distance has one time.
        distance = np.concatenate([[0.0], np.cumsum(np.maximum(step, 1e-6))])
        thin = slice(None, None, _FOLLOW_EVERY)
        station, _ = course.reference.follow(x[thin], y[thin])
        return cls(time, distance, np.interp(distance, distance[thin], station))


@dataclass(frozen=True, eq=False)
class CornerRides:
    """The laps that ride one corner from turn-in to exit, in time order.

    Attributes:
        corner: the corner.
        laps: the laps.
        begin_m: distance on the sweep at which each lap's pass begins, metres, ``(laps,)``.
        before_m: the sweep's unwrapped station less the corner's own station in each lap, a whole number of laps of the
            course, metres, ``(laps,)``.
        points: number of grid points of each pass, the same for all.
    """

    corner: Corner
    laps: tuple[Lap, ...]
    begin_m: FloatArray
    before_m: FloatArray
    points: int


def looked_at_m(corner: Corner) -> tuple[float, float]:
    """How far a pass reaches before turn-in and after the exit marker, metres ridden.

    That is more than :data:`BEFORE_M` or :data:`AFTER_M` where a cone, mostly one to be sighted, stands further out.
    """
    station = [corner.turn_in_m, *(marker.station_m for marker in corner.markers), corner.exit_m]

    def to_see_cone(out_m: float) -> float:
        return _DETOUR * min(out_m, _FARTHEST_CONE_M) + _AROUND_CONE_M

    before = to_see_cone(corner.turn_in_m - min(station))
    after = to_see_cone(max(station) - corner.exit_m)
    return max(BEFORE_M, before), max(AFTER_M, after)


def rides_through(sweep: Sweep, laps: Sequence[Lap], corner: Corner, course: Course) -> CornerRides:
    """Every lap in which a corner was ridden whole and its whole pass was logged.

    A corner belongs to the lap in which its turn-in was passed, even if it lies across the start line.
    """
    starts = np.array([lap.start_s for lap in laps])
    found: dict[int, _Ride] = {}
    for ride in _rides(sweep, corner, course):
        number = int(np.searchsorted(starts, ride.time_s, side="right")) - 1
        if number < 0 or ride.time_s >= laps[number].end_s or number in found:
            continue
        if ride.turn_in_m >= BEFORE_M and ride.exit_m + AFTER_M <= sweep.distance_m[-1]:
            found[number] = ride
    _, turn_in, leave, before = np.array(list(found.values())).reshape(-1, 4).T
    before_turn_in_m, after_exit_m = looked_at_m(corner)
    longest = np.max(leave - turn_in, initial=0.0) + before_turn_in_m + after_exit_m
    # Near an end of the log a pass is moved inward, and then does not reach a cone that is far out.
    begin = np.clip(turn_in - before_turn_in_m, 0.0, max(sweep.distance_m[-1] - longest, 0.0))
    whole = begin + longest <= sweep.distance_m[-1]
    ridden = tuple(laps[number] for number in np.array(list(found), dtype=int)[whole])
    points = int(np.ceil(longest / STEP_M))
    return CornerRides(corner, ridden, begin[whole], before[whole], points)


class _Ride(NamedTuple):
    """One ride through a corner.

    Attributes:
        time_s: when turn-in was passed, seconds.
        turn_in_m, exit_m: distances on the sweep at turn-in and exit, metres.
        before_m: as of :class:`CornerRides`.
    """

    time_s: float
    turn_in_m: float
    exit_m: float
    before_m: float


def _rides(sweep: Sweep, corner: Corner, course: Course) -> Iterator[_Ride]:
    """Each time that a corner was ridden from turn-in to exit, in time order."""
    length = course.reference.length_m if course.closed else np.inf
    ahead = sweep.station_m - corner.turn_in_m
    # A count that rises by one wherever turn-in is passed.
    laps = np.floor(ahead / length) if course.closed else np.where(ahead < 0, -1.0, 0.0)
    farthest = _LONGEST_DETOUR * (corner.exit_m - corner.turn_in_m)
    for first in np.flatnonzero(np.diff(laps) >= 1.0):
        before = laps[first + 1] * length if course.closed else 0.0
        beyond = np.searchsorted(sweep.distance_m, sweep.distance_m[first] + farthest)
        past_exit = sweep.station_m[first:beyond] - before >= corner.exit_m
        if past_exit.any():
            turn_in_m, exit_m = sweep.distance_m[[first, first + np.argmax(past_exit)]]
            # To the moment: just behind the start line, the step of the sweep may begin in the lap before.
            about = slice(first, first + 2)
            turned_in_s = np.interp(before, ahead[about], sweep.time_s[about])
            yield _Ride(float(turned_in_s), turn_in_m, exit_m, before)
