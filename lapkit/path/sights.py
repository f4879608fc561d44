"""Where the offset shows: stops at the hold point, edges, and the rider's own laps."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.course.course import Course
from lapkit.path.edges import Approaches
from lapkit.path.model import Noise
from lapkit.path.offset import mean_offset, scatter_beside
from lapkit.path.offset_knots import STEP_S, OffsetKnots, Sight
from lapkit.path.offset_process import PRIOR_SD_M, USUAL_PROCESS, OffsetProcess
from lapkit.path.stretches import stretches
from lapkit.path.summary import SD_PER_MEDIAN
from lapkit.units import FloatArray

_STILL_MPS = 0.6  # well below walking pace
_STOP_S = 8.0  # longer than the receiver's wander of some seconds remembers itself (our choice)
# How near a marked spot the antenna stands: a rider stops with his wheel, his boot or his tank over it, leans on a
# foot, and carries the antenna anywhere along two metres of machine (our choice).
_STOP_SD_M = 0.3
_BELIEVABLE_M = 3.0 * PRIOR_SD_M
_NEAR_M = 25.0  # a stop no further from a hold point was perhaps meant for it
_BIN_M = 60.0  # between the places at which laps are held against each other
_LEAST_SCATTER_M = 0.12  # nobody rides one line twice more exactly
_ROUNDS = 6  # at the most: two logs in three have settled at the fourth, nine in ten at the fifth
_SEARCHED = 2  # rounds that find how far he scatters: after them it moves by a hundredth of itself
_SETTLED_M = 0.1  # the offset moves no sight by more than its own error


@dataclass(frozen=True, eq=False)
class Stop:
    """Standing still: middle of the time, how long it lasted, and where the antenna was (medians).

    ``parts`` are the same of its parts of some ten seconds each, one after the other.
    """

    time_s: float
    lasted_s: float
    x_m: float
    y_m: float
    parts: tuple[Stop, ...] = ()

    @classmethod
    def of(cls, time_s: FloatArray, x: FloatArray, y: FloatArray) -> Stop:
        """All of it in one, from arrays of shape ``(n,)``."""
        first, last = float(time_s[0]), float(time_s[-1])
        return cls(0.5 * (first + last), last - first, float(np.median(x)), float(np.median(y)))


def find_stops(time_s: FloatArray, x: FloatArray, y: FloatArray, speed: FloatArray) -> list[Stop]:
    """Stretches of eight seconds or more below walking pace; arrays of shape ``(n,)``."""
    stops = []
    for part in stretches(speed < _STILL_MPS):
        stood = time_s[part], x[part], y[part]
        whole = Stop.of(*stood)
        if whole.lasted_s >= _STOP_S:
            count = max(round(whole.lasted_s / STEP_S), 1)
            pieces = zip(*(np.array_split(each, count) for each in stood), strict=True)
            stops.append(replace(whole, parts=tuple(Stop.of(*piece) for piece in pieces)))
    return stops


def hold_sights(
    knots: OffsetKnots, stops: list[Stop], hold_points: FloatArray, noise: Noise
) -> tuple[list[Sight], tuple[str, ...]]:
    """Sights from stops at a hold point, and words about stops that are near one but not at it.

    ``hold_points`` has shape ``(n, 2)``. A stop is seen part by part: the offset moves meanwhile, and where it stood
    when he rode off tells most of the laps. The receiver's wander, known from ``noise``, averages out over a part
    only as far as it forgets itself meanwhile; how far beside the mark he stands is the same in all of them. A stop
    further away than a receiver's offset can explain is not used: the rider stood elsewhere, or the hold point is
    marked in the wrong place.
    """
    sights: list[Sight] = []
    notes: list[str] = []
    for stop in stops:
        away = np.hypot(*(np.array([stop.x_m, stop.y_m]) - hold_points).T)
        distance = float(np.min(away))
        if distance <= _BELIEVABLE_M:
            sights.append(_hold_sight(knots, stop, hold_points[np.argmin(away)], noise))
        elif distance <= _NEAR_M:
            notes.append(
                f"a stop of {stop.lasted_s:.0f} s was {distance:.1f} m from the hold point, more than a "
                "receiver's offset explains, and was not used; stand on the mark, and check where it is"
            )
    return sights, tuple(notes)


def _hold_sight(knots: OffsetKnots, stop: Stop, mark: FloatArray, noise: Noise) -> Sight:
    parts = stop.parts or (stop,)
    at = np.array([part.time_s for part in parts])
    away = np.array([[part.x_m, part.y_m] for part in parts]) - mark
    each_s = stop.lasted_s / len(parts)
    wander_m = noise.wander_m * np.sqrt(min(2.0 * noise.wander_s / each_s, 1.0))
    axes = np.tile(np.eye(2), (len(parts), 1))
    sight = knots.sight(np.repeat(at, 2), axes, away.ravel(), float(wander_m), firm=True)
    return replace(sight, shared_sd_m=_STOP_SD_M)


def riding_sights(
    knots: OffsetKnots,
    sights: list[Sight],
    time_s: FloatArray,
    station_m: FloatArray,
    offset_m: FloatArray,
    course: Course,
) -> tuple[list[Sight], list[Sight], OffsetProcess]:
    """Sights from the rider's own laps, sights from the edges, and the process that the offset follows.

    Args:
        knots: of the offset.
        sights: those from elsewhere.
        time_s: times on the move, increasing, ``(n,)``.
        station_m: unwrapped station of the tyre path there, metres, ``(n,)``.
        offset_m: its offset from the reference, metres to the left, ``(n,)``.
        course: what was ridden.
    """
    left = _left(course, station_m)
    passes = _Passes.of(time_s, station_m, offset_m, course)
    approaches = Approaches.of(time_s, station_m, offset_m, left, course)
    laps: list[Sight] = []
    edges: list[Sight] = []
    process: OffsetProcess | None = None
    scatter_m: float | None = None
    before = np.zeros((2, len(knots.time_s)))
    for turn in range(_ROUNDS):
        # Which passes were no usual ones, and where he used all of the road, depends on the offset believed so far.
        mean, process = mean_offset(knots, [*sights, *laps, *edges], process)
        if laps and turn > _SEARCHED and np.max(np.abs(mean - before)) < _SETTLED_M:
            break
        before = mean
        east, north = knots.between(mean, time_s)
        believed = left[:, 0] * east + left[:, 1] * north
        edges = approaches.sights(knots, mean, turn) if approaches else []
        if passes is None:
            continue
        lap = passes.sight(knots, np.interp(passes.time_s, time_s, believed))
        if scatter_m is None or turn < _SEARCHED:
            scatter_m, process = scatter_beside(knots, [*sights, *edges], lap, process)
        laps = [replace(lap, sd_m=max(scatter_m, _LEAST_SCATTER_M))]
    return laps, edges, process or USUAL_PROCESS


def _left(course: Course, station_m: FloatArray) -> FloatArray:
    """Unit vectors to the left of the reference at stations ``(n,)``, ``(n, 2)``."""
    heading = course.reference.heading_at(course.reference.wrap(station_m))
    return np.stack([-np.sin(heading), np.cos(heading)], axis=1)


@dataclass(frozen=True, eq=False)
class _Passes:
    """Where the rider came by the places at which his laps are held against each other; arrays over ``n`` passes.

    ``place`` is the number of the place, ``left`` the unit vector to the left of the reference there, ``(n, 2)``, and
    ``beside_m`` how far to its left he seemed to be. Only what lies near the course takes part.
    """

    time_s: FloatArray
    place: np.ndarray
    left: FloatArray
    beside_m: FloatArray

    @classmethod
    def of(
        cls, time_s: FloatArray, station_m: FloatArray, offset_m: FloatArray, course: Course
    ) -> _Passes | None:
        """Those of a ride as in :func:`riding_sights`; None where there are too few to hold against each other."""
        if not course.closed or len(time_s) < 100:
            return None
        length = course.reference.length_m
        per_lap = max(int(length // _BIN_M), 8)
        step = length / per_lap
        first, last = np.ceil(station_m[0] / step), np.floor(station_m[-1] / step)
        marks = np.arange(first, last + 1) * step
        near = np.abs(offset_m) < 15.0
        at_time = np.interp(marks, np.maximum.accumulate(station_m), time_s)
        index = np.clip(np.searchsorted(time_s, at_time), 1, len(time_s) - 1)
        known = near[index] & near[index - 1] & (time_s[index] - time_s[index - 1] < 1.0)
        marks, at_time = marks[known], at_time[known]
        place = np.round(marks / step).astype(np.int64) % per_lap
        often = np.bincount(place, minlength=per_lap)[place] >= 3
        marks, at_time, place = marks[often], at_time[often], place[often]
        if len(marks) < 3 * 8:
            return None
        return cls(at_time, place, _left(course, marks), np.interp(at_time, time_s, offset_m))

    def sight(self, knots: OffsetKnots, believed: FloatArray) -> Sight:
        """How the offset moved between laps, from the laps' sideways distance to each other.

        ``believed`` is what was believed of the offset so far, metres along ``left``, ``(n,)``. The scatter of the
        rider's own line about his usual one is what it does not explain.
        """
        ridden = self.beside_m - believed
        away = np.abs(ridden - _medians(ridden, self.place))
        scatter = SD_PER_MEDIAN * float(np.median(away))
        # A passing manoeuvre or a missed corner is no sight of the receiver.
        kept = away < max(4.0 * scatter, 0.5)
        return knots.sight(
            self.time_s[kept],
            self.left[kept],
            self.beside_m[kept],
            max(scatter, _LEAST_SCATTER_M),
            group=self.place[kept],
        )


def _medians(values: FloatArray, place: np.ndarray) -> FloatArray:
    """For each value the median of all at its place, ``(n,)``."""
    _, slot, sizes = np.unique(place, return_inverse=True, return_counts=True)
    ranked = values[np.lexsort((values, slot))]
    first = np.cumsum(sizes) - sizes
    middle = (ranked[first + (sizes - 1) // 2] + ranked[first + sizes // 2]) / 2.0
    return middle[slot]
