"""A log's laps: between crossings of the start line, each timed or called broken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.path.ridden import RiddenPath
from lapkit.splitter.crossings import WIDER_M, SampledPath
from lapkit.splitter.fixes import Fixes
from lapkit.splitter.lap import UNTIMED, Lap, LapKind

# Between two crossings lie at least this share of a lap and this many metres: less is dithering about the line.
_LEAST_SHARE, _LEAST_M = 0.3, 50.0
# From the finish line of an open course to its end, so that a ride to the end crosses it.
_SHORT_OF_END_M = 1.0
_SPEED_STEP_S = 0.5  # between the moments at which the speed is sampled
_STILL_MPS = 0.6  # slower than a walk, faster than the noise of a receiver that stands
_STOOD_S = 10.0  # longer than a start or a slow hairpin takes (our choice)
# A lap below or above these shares of the usual distance took another way; using all of the road or none of it
# changes the distance by 3 % (our choice).
_SHORTER, _LONGER = 0.93, 1.12
# A crossing is not seen when of the 1.5 s on either side of it more than 2 s are missing (our choice).
_BLIND_S, _ABOUT_LINE_S = 2.0, 1.5
# Laps ridden in one go, after which the start line must have been passed, the way from the pits and back included.
_SURELY_PAST = 2.5
# Of a lap's time; with more missing, the rest is no picture of the lap (our choice).
_MISSING_SHARE = 0.3


def split(path: RiddenPath, course: Course) -> tuple[Lap, ...]:
    """Laps of a log in order: out-lap, timed or broken laps, in-lap.

    A log that never crosses the start line of a loop is one out-lap. On an open course each ride from the start line to
    the end of the reference is one lap, timed or broken, and there are no others.
    """
    ridden = _Ridden(path, SampledPath.of(path), Fixes.of(path))
    starts = ridden.sampled.crossings(course.start_line, course.pit_lanes)
    length_m = course.reference.length_m
    if course.closed:
        starts = _without_dithering(ridden, starts, course)
        return _laps_of_a_loop(ridden, starts, length_m)
    ends = ridden.sampled.crossings(_finish_line(course))
    rides = _rides_of_an_open_course(ridden, starts, ends, length_m)
    # Who starts from a standstill may stand some metres past the line.
    return _judged(rides, ridden, length_m, lambda lap: ridden.later_s(lap.start_s, _LEAST_M))


def why_no_lap(laps: Sequence[Lap], path: RiddenPath, course: Course) -> str:
    """Why none of a log's laps was timed, in words; empty when one was.

    Who rode on for laps without crossing the start line shows that the line is in the wrong place, not he.
    """
    if any(lap.kind is LapKind.TIMED for lap in laps):
        return ""
    broken = [lap for lap in laps if lap.kind is LapKind.BROKEN]
    if broken:
        count = counted(len(broken), "lap is broken", "laps are broken")
        return f"{UNTIMED}{count} (lap {broken[0].number}: {broken[0].note})"
    sampled = SampledPath.of(path)
    began = len(sampled.crossings(course.start_line, course.pit_lanes)) > 0
    backwards = sampled.crossings(course.start_line[::-1], course.pit_lanes)
    # On the way back from an open course every rider crosses its start line the other way.
    if len(backwards) > 1 and (course.closed or not began):
        return (
            f"{UNTIMED}the log crosses the start line {len(backwards)} times the other way, so the "
            "course was ridden against the direction of the track file"
        )
    line = "never crosses the start line"
    if began:
        more = " only once" if course.closed else ", but never the end of the course,"
        line = f"crosses the start line{more}"
    ends = "breaks off" if path.log.breaks_off else "ends"
    minutes = (path.end_s - path.start_s) / 60.0
    why = f"{UNTIMED}the log {line} before it {ends} after {minutes:.1f} min"
    longest_m = max((lap.distance_m for lap in laps), default=0.0)
    if course.closed and longest_m >= _SURELY_PAST * course.reference.length_m:
        long = f"{longest_m / course.reference.length_m:.0f} laps"
        why += (
            f", though it is as long as {long}: the start line may lie in the wrong place, and "
            "`lapkit track` on the track file says more"
        )
    return why


@dataclass(frozen=True, eq=False)
class _Ridden:
    """What laps are made of: a path, the same path sampled every tenth of a second, and the fixes behind it."""

    path: RiddenPath
    sampled: SampledPath
    fixes: Fixes

    def later_s(self, time_s: float, distance_m: float) -> float:
        """When the path had come a distance further than at a time, seconds on the log's clock."""
        to_m = self.sampled.distance_at(np.array([time_s])) + distance_m
        return float(np.interp(to_m, self.sampled.distance_m, self.sampled.time_s)[0])

    def timed_lap(self, number: int, start_s: FloatArray, end_s: FloatArray) -> Lap:
        """A lap between two crossings, each by estimate and draws, ``(1 + draws,)``."""
        lap = self.untimed_lap(number, LapKind.TIMED, start_s[0], end_s[0])
        taken_s = end_s - start_s
        spread_s = float(np.std(taken_s[1:], ddof=1)) if len(taken_s) > 2 else float("nan")
        return replace(lap, time_s=float(taken_s[0]), time_sd_s=spread_s)

    def untimed_lap(
        self, number: int, kind: LapKind, start_s: float, end_s: float, note: str = ""
    ) -> Lap:
        """A lap between two times, without a lap time."""
        from_m, to_m = self.sampled.distance_at(np.array([start_s, end_s]))
        return Lap(
            number=number,
            kind=kind,
            start_s=float(start_s),
            end_s=float(end_s),
            time_s=float("nan"),
            time_sd_s=float("nan"),
            distance_m=float(to_m - from_m),
            samples=self.fixes.count(start_s, end_s),
            missing_s=self.fixes.missing_s(float(start_s), float(end_s)),
            note=note,
        )


def _without_dithering(ridden: _Ridden, starts: FloatArray, course: Course) -> FloatArray:
    """Crossings ``(crossings, 1 + draws)`` without those that follow another after less than a third of a lap."""
    least = max(_LEAST_SHARE * course.reference.length_m, _LEAST_M)
    at_m = ridden.sampled.distance_at(starts[:, 0])
    kept: list[int] = []
    for i in range(len(starts)):
        if not kept or at_m[i] - at_m[kept[-1]] > least:
            kept.append(i)
    return starts[kept]


def _finish_line(course: Course) -> FloatArray:
    """A line across the end of an open course, wider than its start line; left end first, metres, ``(2, 2)``."""
    end_m = course.reference.length_m - _SHORT_OF_END_M
    middle, left = np.stack(course.reference.at(end_m)), course.reference.left_at(end_m)
    half = 0.5 * float(np.hypot(*(course.start_line[1] - course.start_line[0]))) + WIDER_M
    return np.stack([middle + half * left, middle - half * left])


def _laps_of_a_loop(ridden: _Ridden, starts: FloatArray, length_m: float) -> tuple[Lap, ...]:
    """Laps between crossings of the start line, ``(crossings, 1 + draws)``, with what lies before and after.

    ``length_m`` is that of the course.
    """
    path = ridden.path
    if not len(starts):
        never = "never crossed the start line"
        return (ridden.untimed_lap(0, LapKind.OUT, path.start_s, path.end_s, note=never),)
    out = ridden.untimed_lap(0, LapKind.OUT, path.start_s, starts[0, 0])
    laps = [
        ridden.timed_lap(number, start, end)
        for number, (start, end) in enumerate(pairwise(starts), 1)
    ]
    back_in = ridden.untimed_lap(len(starts), LapKind.IN, starts[-1, 0], path.end_s)
    judged = _judged(laps, ridden, length_m, lambda lap: lap.start_s)
    return (out, *judged, back_in)


def _rides_of_an_open_course(
    ridden: _Ridden, starts: FloatArray, ends: FloatArray, length_m: float
) -> tuple[Lap, ...]:
    """A lap to each crossing of the finish line from one of the start line before it, ``(crossings, 1 + draws)`` each.

    Who breaks off and comes back crosses the start line once more, and so does a course that passes its own start. Of
    several crossings that one counts from which he rode most nearly the course's length, ``length_m``.
    """
    laps: list[Lap] = []
    done_s = -np.inf
    for end in ends:
        before = starts[(starts[:, 0] > done_s) & (starts[:, 0] < end[0])]
        if len(before):
            way_m = ridden.sampled.distance_at(end[0]) - ridden.sampled.distance_at(before[:, 0])
            start = before[np.argmin(np.abs(way_m - length_m))]
            laps.append(ridden.timed_lap(len(laps) + 1, start, end))
            done_s = end[0]
    return tuple(laps)


def _judged(
    laps: Sequence[Lap], ridden: _Ridden, length_m: float, under_way_s: Callable[[Lap], float]
) -> tuple[Lap, ...]:
    """Timed laps, those called broken whose time is of no use.

    Args:
        laps: all of a log.
        ridden: the path they are part of.
        length_m: of the course.
        under_way_s: from when on standing still is a fault of a lap, seconds on the log's clock.
    """
    usual_m = _usual_m([lap.distance_m for lap in laps], length_m)
    faults = [_fault(lap, ridden, usual_m, under_way_s(lap)) for lap in laps]
    return tuple(
        replace(lap, kind=LapKind.BROKEN, note=fault) if fault else lap
        for lap, fault in zip(laps, faults, strict=True)
    )


def _usual_m(distances_m: Sequence[float], length_m: float) -> float:
    """The median of laps' lengths; of two in the middle the one nearer to the course's, ``length_m``.

    Their mean would be no lap's length where he went two ways as often as each other, and break the laps of both.
    """
    ordered = sorted(distances_m)
    middle = ordered[(len(ordered) - 1) // 2 : len(ordered) // 2 + 1]
    return min(middle, key=lambda distance_m: abs(distance_m - length_m), default=length_m)


def _fault(lap: Lap, ridden: _Ridden, usual_m: float, under_way_s: float) -> str:
    """Why the time of a lap from line to line is of no use, in words; empty when it is.

    Args:
        lap: the lap.
        ridden: the path it is part of.
        usual_m: length of the rider's usual lap, metres.
        under_way_s: from when on standing still is a fault, seconds on the log's clock.
    """
    time = np.arange(under_way_s, lap.end_s, _SPEED_STEP_S)
    slow = ridden.path.mean_speed(time) < _STILL_MPS
    stood_s = _SPEED_STEP_S * float(np.count_nonzero(slow))
    if stood_s >= _STOOD_S:
        return f"stood still for {stood_s:.0f} s"
    # Before its length: with no fix to tell the way, that says nothing of the rider.
    if lap.missing_s > _MISSING_SHARE * (lap.end_s - lap.start_s):
        return f"fixes are missing for {lap.missing_s:.0f} s"
    if lap.distance_m < _SHORTER * usual_m:
        return f"{usual_m - lap.distance_m:.0f} m shorter than the usual lap"
    if lap.distance_m > _LONGER * usual_m:
        return f"{lap.distance_m - usual_m:.0f} m longer than the usual lap"
    for crossing_s, does in ((lap.start_s, "begins"), (lap.end_s, "ends")):
        about = crossing_s - _ABOUT_LINE_S, crossing_s + _ABOUT_LINE_S
        if ridden.fixes.missing_s(*about) > _BLIND_S:
            return f"fixes are missing where it {does}"
    return ""
