"""The rider's own laps compared with each other: how they moved sideways together is how the offset moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.moderated import moderated
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_sight import Readings, Sight
from lapkit.path.summary import SD_PER_MEDIAN
from lapkit.path.tyre_track import TyreTrack

LEAST_SCATTER_M = 0.12
"""Nobody repeats his line more exactly than this, metres (our choice)."""

_PLACE_M = 60.0  # metres of course to each of the places at which laps are compared (our choice)
_FEWEST_PLACES = 8  # on a short course
_FEWEST_LAPS = 3  # laps past a place: from two the usual line is not known
_FEWEST_TIMES = 100  # on the move; fewer make no laps
_ON_COURSE_M = 15.0  # from the reference: a track's width and a receiver's offset (our choice)
_LONGEST_STEP_S = 1.0  # across a longer gap in the log it is not known where he passed
# A pass was not a usual one if further from the usual line than this, in scatters, and than this, in metres.
_OTHERWISE, _OTHERWISE_M = 4.0, 0.5
_NEXT = 3.0  # usual times from pass to pass: later, another does not follow it
_MOST_ALIKE = 0.8  # correlation of neighbouring passes: if higher, it is the offset's, not the rider's (our choice)


@dataclass(frozen=True, eq=False)
class Passes:
    """Where the rider passed the places at which his laps are compared; arrays over ``n`` passes.

    Attributes:
        time_s: when.
        place: number of the place.
        left: unit vector to the left of the reference there, ``(n, 2)``.
        beside_m: how far to the left of the reference he appeared to be, with the offset left in, metres.
        has_velocity: as :attr:`TyreTrack.has_velocity`. From positions alone, what makes passes scatter is for the most
            part the receiver's wander. It is alike at all places, and what it shares with the offset is rightly taken
            for it; so passes then count alike and each for itself.
    """

    time_s: FloatArray
    place: np.ndarray
    left: FloatArray
    beside_m: FloatArray
    has_velocity: bool = False

    @classmethod
    def of(cls, track: TyreTrack) -> Passes | None:
        """The passes of a ride where it was near the course; None where they are too few to be compared."""
        line, time_s, counted_m = track.course.reference, track.time_s, track.counted_m
        if len(time_s) < _FEWEST_TIMES:
            return None
        per_lap = max(int(line.length_m // _PLACE_M), _FEWEST_PLACES)
        step = line.length_m / per_lap
        first, last = np.ceil(counted_m[0] / step), np.floor(counted_m[-1] / step)
        # Stations of all passes, growing lap after lap, and when each was passed.
        passed_m = np.arange(first, last + 1) * step
        passed_s = np.interp(passed_m, np.maximum.accumulate(counted_m), time_s)
        near = np.abs(track.offset_m) < _ON_COURSE_M
        after = np.clip(np.searchsorted(time_s, passed_s), 1, len(time_s) - 1)
        seen = near[after] & near[after - 1] & (time_s[after] - time_s[after - 1] < _LONGEST_STEP_S)
        place = np.round(passed_m / step).astype(np.int64) % per_lap
        often = np.bincount(place[seen], minlength=per_lap)[place] >= _FEWEST_LAPS
        kept = seen & often
        if np.count_nonzero(kept) < _FEWEST_LAPS * _FEWEST_PLACES:
            return None
        passed_m, passed_s = passed_m[kept], passed_s[kept]
        beside_m = np.interp(passed_s, time_s, track.offset_m)
        left = line.left_at(passed_m % line.length_m)
        return cls(passed_s, place[kept], left, beside_m, track.has_velocity)

    def sight(self, knots: OffsetKnots, offset_m: FloatArray) -> Sight:
        """How the offset moved between laps, from how far they are from each other sideways.

        Args:
            knots: of the offset.
            offset_m: the offset as found so far, its component along ``left``, ``(n,)``. What it does not explain of a
                lap's distance from the usual line is the rider's own scatter.
        """
        away, scatter, kept = self._away(offset_m)
        trust = self._trust(away[kept], self.place[kept], scatter)
        readings = Readings(
            self.time_s[kept],
            trust[:, None] * self.left[kept],
            trust * self.beside_m[kept],
            self.place[kept],
        )
        return Sight.of(knots, readings, max(scatter, LEAST_SCATTER_M))

    def lasting(self, offset_m: FloatArray) -> float:
        """By what factor passes scatter more widely than if each were for itself; ``offset_m`` as for :meth:`sight`.

        Who is wide at one place is still wide at the next, and all of that looks like an offset. With a correlation ρ
        from each pass to the next, a mean of many is as uncertain as if they scattered √((1 + ρ)/(1 − ρ)) times as widely
        (first-order autoregression).
        """
        if not self.has_velocity:
            return 1.0
        away, scatter, kept = self._away(offset_m)
        time_s, own = self.time_s[kept], away[kept]
        own = own * self._trust(own, self.place[kept], scatter)
        step_s = np.diff(time_s)
        follows = step_s < _NEXT * np.median(step_s)
        before, after = own[:-1][follows], own[1:][follows]
        scale = float(np.sqrt((before @ before) * (after @ after)))
        alike = float(np.clip(before @ after / scale, 0.0, _MOST_ALIKE)) if scale > 0.0 else 0.0
        return float(np.sqrt((1.0 + alike) / (1.0 - alike)))

    def _away(self, offset_m: FloatArray) -> tuple[FloatArray, float, np.ndarray]:
        """How far passes were from the usual line, metres, ``(n,)``; how widely they scatter; which were usual, ``(n,)``.

        A passing manoeuvre or a missed corner says nothing about the receiver.
        """
        ridden = self.beside_m - offset_m
        away = ridden - _medians(ridden, self.place)
        scatter = SD_PER_MEDIAN * float(np.median(np.abs(away)))
        return away, scatter, np.abs(away) < max(_OTHERWISE * scatter, _OTHERWISE_M)

    def _trust(self, away_m: FloatArray, place: np.ndarray, scatter_m: float) -> FloatArray:
        """What each pass counts for, the more the less his passes of that place scatter, ``(n,)``.

        On a straight a rider repeats himself to centimetres, where he lets the machine run out to half a metre. And what
        shows the offset along a straight are the corners before and after it.

        Args:
            away_m: how far passes were from the usual line, metres, ``(n,)``.
            place: number of the place of each.
            scatter_m: how widely passes scatter of which the trust is one.
        """
        if not self.has_velocity:
            return np.ones(len(away_m))
        _, slot, sizes = np.unique(place, return_inverse=True, return_counts=True)
        free = np.maximum(sizes - 1.0, 0.5)
        variance, _ = moderated(np.bincount(slot, away_m * away_m) / free, free)
        scatter = np.maximum(np.sqrt(variance), LEAST_SCATTER_M)
        return max(scatter_m, LEAST_SCATTER_M) / scatter[slot]


def _medians(values: FloatArray, place: np.ndarray) -> FloatArray:
    """For each value, the median of all values at its place, ``(n,)``."""
    _, slot, sizes = np.unique(place, return_inverse=True, return_counts=True)
    ranked = values[np.lexsort((values, slot))]
    first = np.cumsum(sizes) - sizes
    middle = (ranked[first + (sizes - 1) // 2] + ranked[first + sizes // 2]) / 2.0
    return middle[slot]
