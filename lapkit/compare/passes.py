"""All laps of a run through one corner, as arrays on an even grid along the estimate's path.

Where a lap passes a corner is found on a coarse sweep of the whole run; the ensemble itself is
asked for at the grid's times only, once a corner.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from lapkit.compare.held import STEP_M, Held, HeldMean, crossings, sample
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
_LONGEST_DETOUR = 2.0  # times the corner's length: who rode more than that did not ride the corner
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

    def at(self, time_s: FloatArray, near_m: FloatArray | None = None) -> PathDraws:
        """The ensemble at times, near stations where they are known."""

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


@dataclass(frozen=True, eq=False)
class Crossing:
    """A lap's way through a corner, as metres ridden on the sweep at turn-in and at exit.

    ``before_m`` is the length of the whole laps before it, in stations.
    """

    lap: Lap
    turn_in_m: float
    exit_m: float
    before_m: float


def crossings_of(
    sweep: Sweep, laps: Sequence[Lap], corner: Corner, course: Course
) -> list[Crossing]:
    """Every lap in which a corner was ridden from turn-in to exit, in time order.

    A corner belongs to the lap in which its turn-in was passed, also when it lies across the start
    line.
    """
    starts = np.array([lap.start_s for lap in laps])
    found: dict[int, Crossing] = {}
    for first, last, before_m in _ridden(sweep, corner, course):
        time = sweep.time_s[first]
        which = int(np.searchsorted(starts, time, side="right")) - 1
        if which < 0 or time >= laps[which].end_s or which in found:
            continue
        turn_in_m, exit_m = sweep.distance_m[[first, last]]
        if turn_in_m >= BEFORE_M:
            found[which] = Crossing(laps[which], turn_in_m, exit_m, before_m)
    return list(found.values())


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


@dataclass(frozen=True, eq=False)
class Passes:
    """All laps of one run through one corner. Arrays have shape ``(rows, laps, n)``.

    Row 0 is the estimate, the others are draws; the grid is every :data:`~lapkit.compare.held.STEP_M` of the
    estimate's path and begins :data:`BEFORE_M` before turn-in. ``station_m``, ``offset_m`` (left positive),
    ``tyre_x_m`` and ``tyre_y_m`` belong to the tyre path, everything else to the ridden path;
    stations are unwrapped as in the corner. Curvature, heading and lean are positive into the
    turn. ``time_s`` has shape ``(laps, n)``, ``com_height_m`` ``(rows, 1)``.
    """

    corner: Corner
    laps: tuple[Lap, ...]
    time_s: FloatArray
    tyre_x_m: FloatArray
    tyre_y_m: FloatArray
    station_m: FloatArray
    offset_m: FloatArray
    distance_m: FloatArray
    speed_mps: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    lean_tangent: FloatArray
    com_height_m: FloatArray

    @property
    def sign(self) -> int:
        """+1 in a left-hander, −1 in a right-hander."""
        return self.corner.turn.sign

    @cached_property
    def lean_deg(self) -> FloatArray:
        """Balance lean from the vertical, positive into the turn."""
        return np.degrees(np.arctan(self.lean_tangent))

    @cached_property
    def held_curvature(self) -> Held:
        """Heading change over path length."""
        return Held(self.heading_rad, self.distance_m)

    @cached_property
    def held_lean(self) -> HeldMean:
        """Mean lean."""
        return HeldMean(self.lean_deg)

    @cached_property
    def held_speed(self) -> HeldMean:
        """Mean speed."""
        return HeldMean(self.speed_mps)

    @cached_property
    def limits(self) -> FloatArray:
        """Places of turn-in, last apex and exit, ``(rows, laps, 3)``; NaN if not on the grid."""
        c = self.corner
        return crossings(self.station_m, np.array([c.turn_in_m, c.last_apex_m, c.exit_m]))

    @cached_property
    def whole(self) -> np.ndarray:
        """Laps in which every row passes turn-in, last apex and exit in that order, ``(laps,)``."""
        return np.all(np.diff(self.limits, axis=-1) > 0.0, axis=(0, 2))

    def ridden_m(self, place: FloatArray) -> FloatArray:
        """Metres of the estimate's path from turn-in to a place of each lap, shape ``(laps,)``."""
        ends = np.stack([self.limits[0, :, 0], place], axis=-1)
        return np.diff(sample(self.distance_m[0], ends))[:, 0]


def measure_passes(
    path: Ridden, course: Course, corner: Corner, found: Sequence[Crossing], sweep: Sweep
) -> Passes | None:
    """Ask the ensemble for all passes of one corner and lay them along the course.

    Passes too near the end of the log to be looked at whole are left out; None when that leaves
    none.
    """
    longest = max((c.exit_m - c.turn_in_m for c in found), default=0.0) + BEFORE_M + AFTER_M
    found = [c for c in found if c.turn_in_m - BEFORE_M + longest <= sweep.distance_m[-1]]
    if not found:
        return None
    start = np.array([[c.turn_in_m - BEFORE_M] for c in found])
    grid = start + np.arange(0.0, longest, STEP_M)
    time = np.interp(grid, sweep.distance_m, sweep.time_s)
    before = np.array([[c.before_m] for c in found])
    rough = np.interp(grid, sweep.distance_m, sweep.station_m) - before
    draws = path.at(time.ravel(), rough.ravel())
    return _laid(draws, course, corner, tuple(c.lap for c in found), time, rough)


def _laid(
    draws: PathDraws,
    course: Course,
    corner: Corner,
    laps: tuple[Lap, ...],
    time: FloatArray,
    rough_station_m: FloatArray,
) -> Passes:
    """Draws of all laps one after the other, laid along the course lap by lap."""
    shape = (len(draws.x_m), *time.shape)
    line, sign = course.reference, corner.turn.sign
    x, y = (part.reshape(shape) for part in draws.tyre_xy_m)
    station, offset = line.project_near(x[0], y[0], rough_station_m)
    heading, curvature = line.heading_at(station), line.curvature_at(station)
    cos, sin = np.cos(heading), np.sin(heading)
    east, north = x - x[0], y - y[0]
    along, left = east * cos + north * sin, north * cos - east * sin
    # Draws lie a metre or two from the estimate: on the circle that the line is there, to second
    # order.
    flat = np.maximum((1.0 - curvature * offset) - curvature * left, _FLATTEST)
    along /= flat
    vx, vy = draws.vx_mps.reshape(shape), draws.vy_mps.reshape(shape)
    speed = draws.speed_mps.reshape(shape)
    own_curvature = sign * draws.curvature_1pm.reshape(shape)
    grade, vertical = 0.0, 0.0
    if course.profile is not None:
        grade, vertical = course.profile.at(line.wrap(station))
    return Passes(
        corner=corner,
        laps=laps,
        time_s=time,
        tyre_x_m=x,
        tyre_y_m=y,
        station_m=station + along,
        offset_m=offset + left - (0.5 * curvature) * along * along * flat,
        distance_m=_ridden_m(time, speed),
        speed_mps=speed,
        # Against the line's own heading a path stays within a right angle: nothing to unwrap.
        heading_rad=sign * (heading + np.arctan2(vy * cos - vx * sin, vx * cos + vy * sin)),
        curvature_1pm=own_curvature,
        lean_tangent=balance_tangent(speed, own_curvature, vertical, grade),
        com_height_m=draws.com_height_m,
    )


def _ridden_m(time_s: FloatArray, speed_mps: FloatArray) -> FloatArray:
    """Path length since the grid began, ``(rows, laps, n)``."""
    length = np.empty_like(speed_mps)
    length[..., 0] = 0.0
    np.add(speed_mps[..., 1:], speed_mps[..., :-1], out=length[..., 1:])
    length[..., 1:] *= 0.5 * np.diff(time_s)
    return np.cumsum(length, axis=-1, out=length)
