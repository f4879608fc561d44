"""The rider's own laps held against each other: how they moved sideways together is how the offset moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_sight import Readings, Sight
from lapkit.path.summary import SD_PER_MEDIAN
from lapkit.path.tyre_track import TyreTrack
from lapkit.units import FloatArray

LEAST_SCATTER_M = 0.12
"""Nobody rides one line twice more exactly, metres (our choice)."""

# Of course to each of the places at which laps are held against each other (our choice).
_PLACE_M = 60.0
_FEWEST_PLACES = 8  # on a short course
_FEWEST_LAPS = 3  # past a place: of two the usual line is not known
_FEWEST_TIMES = 100  # on the move; fewer are no laps
_ON_COURSE_M = 15.0  # beside the reference: a track's width and a receiver's offset (our choice)
_LONGEST_STEP_S = 1.0  # across a gap in the log nobody saw where he passed
# Times the scatter, and at least: a pass so far from the others was no usual one.
_OTHERWISE, _OTHERWISE_M = 4.0, 0.5


@dataclass(frozen=True, eq=False)
class Passes:
    """Where the rider passed the places at which his laps are held against each other; arrays over ``n`` passes.

    Attributes:
        time_s: when.
        place: number of the place.
        left: unit vector to the left of the reference there, ``(n, 2)``.
        beside_m: how far to the left of the reference he seemed to be, metres.
    """

    time_s: FloatArray
    place: np.ndarray
    left: FloatArray
    beside_m: FloatArray

    @classmethod
    def of(cls, track: TyreTrack) -> Passes | None:
        """Those of a ride, near the course only; None where there are too few to hold against each other."""
        line, time_s, station_m = track.course.reference, track.time_s, track.station_m
        if not line.closed or len(time_s) < _FEWEST_TIMES:
            return None
        per_lap = max(int(line.length_m // _PLACE_M), _FEWEST_PLACES)
        step = line.length_m / per_lap
        first, last = np.ceil(station_m[0] / step), np.floor(station_m[-1] / step)
        marks = np.arange(first, last + 1) * step
        near = np.abs(track.offset_m) < _ON_COURSE_M
        at_time = np.interp(marks, np.maximum.accumulate(station_m), time_s)
        after = np.clip(np.searchsorted(time_s, at_time), 1, len(time_s) - 1)
        seen = near[after] & near[after - 1] & (time_s[after] - time_s[after - 1] < _LONGEST_STEP_S)
        marks, at_time = marks[seen], at_time[seen]
        place = np.round(marks / step).astype(np.int64) % per_lap
        often = np.bincount(place, minlength=per_lap)[place] >= _FEWEST_LAPS
        marks, at_time, place = marks[often], at_time[often], place[often]
        if len(marks) < _FEWEST_LAPS * _FEWEST_PLACES:
            return None
        return cls(at_time, place, line.left_at(marks), np.interp(at_time, time_s, track.offset_m))

    def sight(self, knots: OffsetKnots, believed_m: FloatArray) -> Sight:
        """How the offset moved between laps, from their sideways distances to each other.

        Args:
            knots: of the offset.
            believed_m: what is believed of the offset so far, along ``left``, ``(n,)``. What it does not explain of
                a lap's distance to the usual line is the rider's own scatter.
        """
        ridden = self.beside_m - believed_m
        away = np.abs(ridden - _medians(ridden, self.place))
        scatter = SD_PER_MEDIAN * float(np.median(away))
        # A passing manoeuvre or a missed corner shows nothing of the receiver.
        kept = away < max(_OTHERWISE * scatter, _OTHERWISE_M)
        readings = Readings(
            self.time_s[kept], self.left[kept], self.beside_m[kept], self.place[kept]
        )
        return Sight.of(knots, readings, max(scatter, LEAST_SCATTER_M))


def _medians(values: FloatArray, place: np.ndarray) -> FloatArray:
    """For each value the median of all at its place, ``(n,)``."""
    _, slot, sizes = np.unique(place, return_inverse=True, return_counts=True)
    ranked = values[np.lexsort((values, slot))]
    first = np.cumsum(sizes) - sizes
    middle = (ranked[first + (sizes - 1) // 2] + ranked[first + sizes // 2]) / 2.0
    return middle[slot]
