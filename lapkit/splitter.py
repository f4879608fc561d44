"""Laps by the start line.

A crossing is solved on the smoothed path, not interpolated between fixes, and on every draw, so that a lap
time comes with its own uncertainty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np

from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.course.pit_lane import from_pit_lane_m
from lapkit.curvature import path_length_m
from lapkit.importer.gaps import GAP_STEPS
from lapkit.path.ridden import RiddenPath
from lapkit.units import FloatArray

_STEP_S = 0.1  # from time to time at which a path is looked at; a crossing between two of them is then solved
# Across a line, to solve when it was crossed: a slower rider is taken to go so fast.
_SLOWEST_MPS = 0.5
_LOOKED_AT_S = 0.5  # from time to time at which it is seen whether he stands
_WIDER_M = 6.0  # a slow position offset may carry a rider past the painted end of the line
_LEAST_SHARE = 0.3  # of a lap between two crossings; less is dithering about the line
_LEAST_M = 50.0  # the same on the shortest course
_STOOD_S = 10.0  # longer than a start or a slow hairpin takes (our choice)
_STILL_MPS = 0.6  # slower than a walk, faster than the noise of a receiver that stands
# The finish line of an open course lies so far before its end: a ride to the end has crossed it.
_SHORT_OF_END_M = 1.0
# Of the usual distance, beyond which a lap took another way: to use all of the road or none is within 3 % (our choice).
_SHORTER, _LONGER = 0.93, 1.12
# Seconds each way of a crossing, and how many of them without fixes leave the crossing unseen (our choice).
_ABOUT_LINE_S, _BLIND_S = 1.5, 2.0
# Of the lap's time; with more missing, the rest is no picture of the lap (our choice).
_MISSING_SHARE = 0.3


class LapKind(StrEnum):
    """What a lap is."""

    OUT = "out"
    TIMED = "timed"
    IN = "in"
    BROKEN = "broken"


@dataclass(frozen=True)
class Lap:
    """One lap.

    Attributes:
        number: counted from the out-lap, which is 0; on an open course from 1.
        kind: what it is.
        start_s, end_s: seconds on the log's clock.
        time_s, time_sd_s: lap time and its standard deviation, seconds; NaN for a lap that does not run from line
            to line, the deviation also without draws.
        distance_m: length of the ridden path.
        samples: how many fixes lie in it.
        missing_s: seconds without fixes.
        note: why it is broken; empty when it is not.
    """

    number: int
    kind: LapKind
    start_s: float
    end_s: float
    time_s: float
    time_sd_s: float
    distance_m: float
    samples: int
    missing_s: float
    note: str = ""


def split(path: RiddenPath, course: Course) -> tuple[Lap, ...]:
    """Laps of a log in order: out-lap, timed or broken laps, in-lap.

    A log that never crosses the start line is one out-lap. On an open course each ride from the start line to the end
    of the reference is one timed lap, and there are no others.
    """
    ridden = _Ridden.of(path)
    starts = ridden.crossings(course.start_line, course.pit_lanes)
    if course.closed:
        return _lap_after_lap(ridden, _thinned(ridden, starts, course))
    return _one_way(ridden, starts, ridden.crossings(_finish_line(course)))


def unlapped(laps: Sequence[Lap], path: RiddenPath) -> str:
    """Why no lap of a log was timed, in words; empty when one was."""
    if any(lap.kind is LapKind.TIMED for lap in laps):
        return ""
    broken = [lap for lap in laps if lap.kind is LapKind.BROKEN]
    if broken:
        count = counted(len(broken), "lap is broken", "laps are broken")
        return f"no lap could be timed: {count} (lap {broken[0].number}: {broken[0].note})"
    crossed = any(lap.kind is LapKind.IN for lap in laps)
    line = "crosses the start line only once" if crossed else "never crosses the start line"
    ends = "breaks off" if path.log.breaks_off else "ends"
    minutes = (path.end_s - path.start_s) / 60.0
    return f"no lap could be timed: the log {line} before it {ends} after {minutes:.1f} min"


def missing_s(path: RiddenPath, start_s: float, end_s: float) -> float:
    """Seconds between two times in which fixes are missing: all that a gap has beyond two steps."""
    return _Fixes.of(path).missing_s(start_s, end_s)


@dataclass(frozen=True, eq=False)
class _Fixes:
    """Times of the fixes that took part, increasing, ``(n,)``, and the usual step from one to the next, seconds."""

    time_s: FloatArray
    step_s: float

    @classmethod
    def of(cls, path: RiddenPath) -> _Fixes:
        time = path.fix_time_s
        return cls(time, float(np.median(np.diff(time))) if len(time) > 1 else np.inf)

    def count(self, start_s: float, end_s: float) -> int:
        """How many there are from one time on, before another."""
        first, stop = np.searchsorted(self.time_s, [start_s, end_s])
        return int(stop - first)

    def missing_s(self, start_s: float, end_s: float) -> float:
        """As :func:`missing_s`."""
        if len(self.time_s) < 2:
            return end_s - start_s
        first = np.searchsorted(self.time_s, start_s, side="right")
        inside = self.time_s[first : np.searchsorted(self.time_s, end_s)]
        gaps = np.diff(np.concatenate([[start_s], inside, [end_s]]))
        return float(np.sum(np.where(gaps > GAP_STEPS * self.step_s, gaps - self.step_s, 0.0)))


@dataclass(frozen=True, eq=False)
class _Ridden:
    """A path looked at every tenth of a second: where it was, and how far it had come; arrays ``(n,)``."""

    path: RiddenPath
    fixes: _Fixes
    time_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    distance_m: FloatArray

    @classmethod
    def of(cls, path: RiddenPath) -> _Ridden:
        time = np.arange(path.start_s, path.end_s, _STEP_S)
        x, y = path.mean_xy(time)
        return cls(path, _Fixes.of(path), time, x, y, path_length_m(x, y))

    def crossings(self, line: FloatArray, pit_lanes: Sequence[FloatArray] = ()) -> FloatArray:
        """Times of crossing a line in the riding direction, ``(crossings, 1 + draws)``, estimate first.

        ``line`` has its left end first, metres, ``(2, 2)``. A crossing past the end of the line counts up to six metres
        out, unless a pit lane is nearer than the line: then he was in the pit lane.
        """
        across = line[1] - line[0]
        width = float(np.hypot(*across))
        right = across / width
        ahead = np.array([-right[1], right[0]])
        x, y = self.x_m - line[0, 0], self.y_m - line[0, 1]
        beyond, along = x * ahead[0] + y * ahead[1], x * right[0] + y * right[1]
        past_end = np.maximum(-along, along - width)
        over = np.flatnonzero((beyond[:-1] < 0) & (beyond[1:] >= 0) & (past_end[:-1] < _WIDER_M))
        in_lane = from_pit_lane_m(pit_lanes, self.x_m[over], self.y_m[over]) < past_end[over]
        over = over[~in_lane]
        if len(over) == 0:
            return np.empty((0, 1))
        part = beyond[over] / (beyond[over] - beyond[over + 1])
        near = self.time_s[over] + part * _STEP_S
        rows = self.path.at(near)
        short = -((rows.x_m - line[0, 0]) * ahead[0] + (rows.y_m - line[0, 1]) * ahead[1])
        closing = rows.vx_mps * ahead[0] + rows.vy_mps * ahead[1]
        return (near + short / np.maximum(closing, _SLOWEST_MPS)).T

    def lap(
        self,
        number: int,
        kind: LapKind,
        start_s: float,
        end_s: float,
        taken_s: FloatArray | None = None,
        note: str = "",
    ) -> Lap:
        """A lap between two times; ``taken_s`` is its time by estimate and draws, ``(1 + draws,)``, where it was timed."""
        from_m, to_m = np.interp([start_s, end_s], self.time_s, self.distance_m)
        time_s = time_sd_s = float("nan")
        if taken_s is not None:
            time_s = float(taken_s[0])
            if len(taken_s) > 2:
                time_sd_s = float(np.std(taken_s[1:], ddof=1))
        return Lap(
            number=number,
            kind=kind,
            start_s=float(start_s),
            end_s=float(end_s),
            time_s=time_s,
            time_sd_s=time_sd_s,
            distance_m=float(to_m - from_m),
            samples=self.fixes.count(start_s, end_s),
            missing_s=self.fixes.missing_s(float(start_s), float(end_s)),
            note=note,
        )


def _thinned(ridden: _Ridden, starts: FloatArray, course: Course) -> FloatArray:
    """Crossings without those that follow another after less than a third of a lap."""
    least = max(_LEAST_SHARE * course.reference.length_m, _LEAST_M)
    at_m = np.interp(starts[:, 0], ridden.time_s, ridden.distance_m)
    kept: list[int] = []
    for i in range(len(starts)):
        if not kept or at_m[i] - at_m[kept[-1]] > least:
            kept.append(i)
    return starts[kept]


def _finish_line(course: Course) -> FloatArray:
    """A line across the end of an open course, as wide as its start line; left end first."""
    end_m = course.reference.length_m - _SHORT_OF_END_M
    middle, left = np.stack(course.reference.at(end_m)), course.reference.left_at(end_m)
    half = 0.5 * float(np.hypot(*(course.start_line[1] - course.start_line[0]))) + _WIDER_M
    return np.stack([middle + half * left, middle - half * left])


def _lap_after_lap(ridden: _Ridden, starts: FloatArray) -> tuple[Lap, ...]:
    path = ridden.path
    if not len(starts):
        never = "never crossed the start line"
        return (ridden.lap(0, LapKind.OUT, path.start_s, path.end_s, note=never),)
    laps = [ridden.lap(0, LapKind.OUT, path.start_s, starts[0, 0])]
    for number, (start, end) in enumerate(pairwise(starts), 1):
        laps.append(ridden.lap(number, LapKind.TIMED, start[0], end[0], end - start))
    laps.append(ridden.lap(len(starts), LapKind.IN, starts[-1, 0], path.end_s))
    usual = float(np.median([lap.distance_m for lap in laps[1:-1]])) if len(laps) > 2 else np.nan
    return tuple(_judged(lap, ridden, usual) for lap in laps)


def _one_way(ridden: _Ridden, starts: FloatArray, ends: FloatArray) -> tuple[Lap, ...]:
    laps: list[Lap] = []
    for start in starts:
        after = ends[ends[:, 0] > start[0]]
        if len(after):
            end = after[0]
            laps.append(ridden.lap(len(laps) + 1, LapKind.TIMED, start[0], end[0], end - start))
    return tuple(laps)


def _judged(lap: Lap, ridden: _Ridden, usual_m: float) -> Lap:
    """The lap, called broken when it cannot be timed."""
    fault = _fault(lap, ridden, usual_m) if lap.kind is LapKind.TIMED else ""
    return replace(lap, kind=LapKind.BROKEN, note=fault) if fault else lap


def _fault(lap: Lap, ridden: _Ridden, usual_m: float) -> str:
    """Why a lap from line to line cannot be timed, in words; empty when it can."""
    time = np.arange(lap.start_s, lap.end_s, _LOOKED_AT_S)
    stood_s = _LOOKED_AT_S * float(np.count_nonzero(ridden.path.mean_speed(time) < _STILL_MPS))
    if stood_s >= _STOOD_S:
        return f"stood still for {stood_s:.0f} s"
    if lap.distance_m < _SHORTER * usual_m:
        return f"{usual_m - lap.distance_m:.0f} m shorter than the usual lap"
    if lap.distance_m > _LONGER * usual_m:
        return f"{lap.distance_m - usual_m:.0f} m longer than the usual lap"
    if lap.missing_s > _MISSING_SHARE * (lap.end_s - lap.start_s):
        return f"fixes are missing for {lap.missing_s:.0f} s"
    for end in (lap.start_s, lap.end_s):
        if ridden.fixes.missing_s(end - _ABOUT_LINE_S, end + _ABOUT_LINE_S) > _BLIND_S:
            return "fixes are missing at the start line"
    return ""
