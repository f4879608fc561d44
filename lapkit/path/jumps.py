"""Moments at which a receiver's positions jump to one side and go on from there, as when it changes satellites.

Nobody rides three metres to the side between two fixes. So each moment at which the positions may have jumped is looked
at by itself: a smooth course of the fixes shortly before and shortly after it, and between the two a jump, are fitted
together. Where velocities were logged, what is fitted is the receiver's error, positions less the integral of the
velocities, which hardly moves within a second; the jumps found are nearly as exact without.

A jump is a jump of the receiver's slow offset. It is taken out of the positions, so that all of a log has one slow offset
that moves as slowly as that of other logs. How large the jump was is known to about a tenth of a metre, which that offset
may move within seconds anyway.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.ndimage import maximum_filter1d

from lapkit.arrays import BoolArray, FloatArray, IntArray
from lapkit.path.displacements import logged_velocities, usual_step_s
from lapkit.path.model import Observed
from lapkit.path.summary import MEDIAN_LENGTH

# Fixes further apart in time are not looked at, by whether velocities lead from one to the next (our choice).
_SLOWEST_STEP_S = {True: 0.3, False: 0.21}
# Across a longer step, in seconds and in usual steps, neither riding nor velocities show the way (our choice).
_GAP_S, _GAP_STEPS = 0.25, 2.5
# What is fitted on either side of a moment: so many seconds of fixes, but at least so many of them (our choice).
_BESIDE_S, _FEWEST_BESIDE = 0.8, 5
# Degree of the smooth course, by whether velocities lead. A receiver's error drifts evenly within a second. Riding bends
# within it.
_DEGREE = {True: 1, False: 3}
# Smaller jumps are left to the slow offset, by whether velocities lead, in metres (our choice) and in steps in which
# positions were written: standing still, a position may change from one of them to the next.
_LEAST_M, _LEAST_STEPS = {True: 1.0, False: 1.5}, 2.0
# Size, in standard deviations of what is fitted where nothing jumped, at which a jump is believed, and at which one is that
# goes back by what another came, to within so many deviations. At 6, noise of poor receivers looked like a jump in one log
# of ten.
_CLEARLY, _BACK, _SAME = 7.0, 4.5, 3.0
# What stands out less from fix to fix, in metres or in standard deviations of that, is not looked at; it saves time.
_PLAINLY_M, _PLAINLY = 0.7, 3.5
# Positions that leave again within two seconds, by so much of the jump or so many deviations, are wild. A half-way fix may
# part one jump in two.
_STAYS_S, _LEAVES, _LEAVES_NOISE, _HALF_WAY = 2.0, 0.3, 4.5, 2
# Shares of a jump by which at least, and at most, a step beside it stands out; other ones are those of wild fixes.
_LEAST_SHARE, _MOST_SHARE = 0.4, 1.5
# So many fixes on each side, by whether velocities lead, have to lie within so much of the jump, or of the noise, from the
# course fitted to them. The two nearest to the moment do not count: one may be half way.
_MOST, _NEAR, _NEAR_NOISE = {True: 0.7, False: 0.85}, 0.25, 3.0
_MOST_EXACT_M = 0.02  # no fix is believed to be more exact
_PLACES = 64  # at which it is seen what is fitted where nothing jumped: a tenth of it is known
# Rounds in which fixes count for less the further off they are, and in which wild ones then cease to count at all.
_DISTANCES, _CAUCHY = 2, 3


@dataclass(frozen=True, eq=False)
class Jumps:
    """Jumps of a receiver's positions.

    Attributes:
        time_s: when, between two fixes, increasing, ``(jumps,)``.
        by_m: how far, metres east + i north, ``(jumps,)``.
        away_m: what all jumps up to each fix amount to, likewise, less its mean over the log, ``(n,)``.
    """

    time_s: FloatArray
    by_m: np.ndarray
    away_m: np.ndarray

    @property
    def count(self) -> int:
        """How many."""
        return len(self.time_s)

    @property
    def largest_m(self) -> float:
        """The largest, metres; 0 for none."""
        return float(np.max(np.abs(self.by_m), initial=0.0))

    @property
    def furthest_m(self) -> float:
        """How far they carried positions from their mean place at most, metres."""
        return float(np.max(np.abs(self.away_m), initial=0.0))

    @property
    def sd_m(self) -> float:
        """Root mean square of that distance over the log, per axis, metres."""
        return float(np.sqrt(0.5 * np.mean(np.square(np.abs(self.away_m))))) if self.count else 0.0

    def taken_out(self, seen: Observed) -> Observed:
        """The same observations as if nothing had jumped.

        Which of the places between jumps was the right one is not known: positions are shifted to their mean.
        """
        if not self.count:
            return seen
        return replace(seen, x_m=seen.x_m - self.away_m.real, y_m=seen.y_m - self.away_m.imag)


def find_jumps(seen: Observed, written_m: float = 0.0) -> Jumps:
    """Where positions jumped; nowhere where fixes are too few or too far apart in time to tell.

    Args:
        seen: the fixes; those of weight 0 take no part.
        written_m: step in which positions were written, metres; NaN where it is too fine to be seen.
    """
    t = seen.time_s
    at, by_m = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.complex128)
    led = bool(2 * np.count_nonzero(seen.velocity_weight > 0.0) > len(t))
    if len(t) > 2 * _FEWEST_BESIDE and usual_step_s(seen) <= _SLOWEST_STEP_S[led]:
        course = _Course.of(seen, led=led)
        at, by_m = course.jumps(max(_LEAST_M[led], _LEAST_STEPS * np.nan_to_num(written_m)))
    away_m = np.zeros(len(t), dtype=np.complex128)
    away_m[at] = by_m
    away_m = np.cumsum(away_m)
    return Jumps(0.5 * (t[at - 1] + t[at]), by_m, away_m - np.mean(away_m))


class _Fitted(NamedTuple):
    """A jump fitted at each of ``c`` moments: how far, ``(c,)``, and how far fixes lie from their course, ``(c, 2 beside)``."""

    by_m: np.ndarray
    off_m: FloatArray


@dataclass(frozen=True, eq=False)
class _Course:
    """What runs smoothly but for jumps: positions, or the receiver's error; metres east + i north.

    Attributes:
        time_s: of the fixes, ``(n,)``.
        place: at each of them, ``(n,)``.
        broken: how many of the steps up to each fix show nothing: gaps, and fixes that are left out, ``(n,)``.
        led: whether velocities led the way.
        usual_s: the usual step from fix to fix, seconds.
    """

    time_s: FloatArray
    place: np.ndarray
    broken: IntArray
    led: bool
    usual_s: float

    @classmethod
    def of(cls, seen: Observed, *, led: bool) -> _Course:
        t, place = seen.time_s, seen.x_m + 1j * seen.y_m
        step, usual_s = np.diff(t), usual_step_s(seen)
        used, measured = seen.position_weight > 0.0, seen.velocity_weight > 0.0
        if led:
            v = np.interp(t, *logged_velocities(seen))
            place[1:] -= np.cumsum(0.5 * (v[1:] + v[:-1]) * step)
            used &= measured
        broken = (step > max(_GAP_S, _GAP_STEPS * usual_s)) | ~(used[1:] & used[:-1])
        return cls(t, place, np.append(0, np.cumsum(broken)), led, usual_s)

    @property
    def beside(self) -> int:
        """How many fixes are fitted on either side of a jump."""
        return max(round(_BESIDE_S / self.usual_s), _FEWEST_BESIDE)

    def jumps(self, least_m: float) -> tuple[IntArray, np.ndarray]:
        """Numbers of the fixes before which places jumped by ``least_m`` or more, in order, and how far, ``(jumps,)`` each."""
        stand_out_m = self._stand_out_m()
        noise_m = max(float(np.median(stand_out_m)) / MEDIAN_LENGTH, _MOST_EXACT_M)
        at = self._whole(np.flatnonzero(stand_out_m > max(_PLAINLY_M, _PLAINLY * noise_m)))
        if not len(at):
            return at, self.place[:0]
        by_m, off_m = self._fitted(at, noise_m)
        size_m = np.abs(by_m)
        sound = self._most_near(off_m, size_m, noise_m)
        large = sound & (size_m > least_m) & self._alone(at, size_m, stand_out_m, noise_m)
        if not large.any():
            return at[large], by_m[large]
        sd_m = self._sd_m(noise_m)
        large &= size_m > _CLEARLY * sd_m
        clear_m = by_m[large]
        apart_m = np.abs(by_m[:, None] + clear_m)
        back = np.any(apart_m < np.maximum(_NEAR * np.abs(clear_m), _SAME * sd_m), axis=1)
        large |= sound & back & (size_m > _BACK * sd_m)
        kept = _best(at[large], np.sum(off_m[large], axis=1), self.beside)
        return at[large][kept], by_m[large][kept]

    def _most_near(self, off_m: FloatArray, size_m: FloatArray, noise_m: float) -> BoolArray:
        """At which moments most fixes of either side are near the course fitted, ``(c,)``."""
        near = off_m < np.maximum(_NEAR * size_m, _NEAR_NOISE * noise_m)[:, None]
        before, after = near[:, : self.beside - 1], near[:, self.beside + 1 :]
        return np.asarray(np.minimum(before.mean(axis=1), after.mean(axis=1)) >= _MOST[self.led])

    def _alone(
        self, at: IntArray, size_m: FloatArray, stand_out_m: FloatArray, noise_m: float
    ) -> BoolArray:
        """At which moments nothing but a jump stands out for two seconds before and after, ``(c,)``."""
        beside_m = np.max(stand_out_m[at[:, None] + np.arange(-1, 2)], axis=1)
        of_it = (beside_m > _LEAST_SHARE * size_m) & (beside_m < _MOST_SHARE * size_m)
        leaves_m = np.maximum(_LEAVES * size_m, _LEAVES_NOISE * noise_m)
        return of_it & (self._around(stand_out_m)[at] < leaves_m)

    def _sd_m(self, noise_m: float) -> float:
        """How large the jumps are, per axis, that are fitted where nothing jumped, metres; infinite where none can be fitted."""
        even = np.linspace(self.beside, len(self.time_s) - self.beside, _PLACES)
        at = self._whole(even.astype(np.int64))
        if not len(at):
            return np.inf
        return float(np.median(np.abs(self._fitted(at, noise_m).by_m))) / MEDIAN_LENGTH

    def _stand_out_m(self) -> FloatArray:
        """By how much the step to each fix stands out from its neighbours, metres, ``(n,)``; 0 for the outermost."""
        step = np.diff(self.place)
        if not self.led:
            # What velocity the steps on either side have explains this much of it.
            took_s = np.diff(self.time_s)
            v = step / took_s
            step[1:-1] -= took_s[1:-1] * 0.5 * (v[:-2] + v[2:])
        out = np.zeros(len(self.time_s))
        out[2:-1] = np.abs(step[1:-1])
        return out

    def _around(self, stand_out_m: FloatArray) -> FloatArray:
        """The most that a step within two seconds before or after each stands out, but for those next to it, ``(n,)``."""
        n, reach = len(stand_out_m), max(round(_STAYS_S / self.usual_s), self.beside)
        wide = reach - _HALF_WAY
        # Of each step and those that follow, as many as ``wide``.
        following = maximum_filter1d(np.pad(stand_out_m, reach), wide, origin=-(wide // 2))
        return np.maximum(following[:n], following[reach + _HALF_WAY + 1 :][:n])

    def _whole(self, at: IntArray) -> IntArray:
        """Of moments before the fixes ``at`` those that have fixes enough and no gap on either side."""
        at = at[(at >= self.beside) & (at + self.beside <= len(self.time_s))]
        return at[self.broken[at + self.beside - 1] == self.broken[at - self.beside]]

    def _fitted(self, at: IntArray, noise_m: float) -> _Fitted:
        """A jump and a polynomial fitted at moments before the fixes ``at``, by iterated reweighting.

        Fixes near a jump may be wild, or half way. First the sum of distances is made least, not of squares, and then, from
        there, the Cauchy loss, under which a fix far off has no influence.
        """
        fixes = at[:, None] + np.arange(-self.beside, self.beside)
        t = self.time_s[fixes] - 0.5 * (self.time_s[at] + self.time_s[at - 1])[:, None]
        t /= np.ptp(t, axis=1)[:, None]
        powers = t[:, None, :] ** np.arange(_DEGREE[self.led] + 1)[:, None]
        design = np.concatenate([powers, (t[:, None, :] > 0.0).astype(np.float64)], axis=1)
        place = self.place[fixes] - self.place[at][:, None]
        parts = np.stack([place.real, place.imag], axis=1)
        weight = np.ones(t.shape)
        for turn in range(_DISTANCES + _CAUCHY):
            weighted = design * weight[:, None, :]
            found = np.linalg.solve(
                weighted @ design.transpose(0, 2, 1), weighted @ parts.transpose(0, 2, 1)
            )
            off = parts - found.transpose(0, 2, 1) @ design
            off_m = np.hypot(off[:, 0], off[:, 1])
            usual_m = np.maximum(off_m, noise_m)
            weight = 1.0 / (usual_m if turn < _DISTANCES else np.square(usual_m))
        return _Fitted(found[:, -1, 0] + 1j * found[:, -1, 1], off_m)


def _best(at: IntArray, misfit_m: FloatArray, beside: int) -> IntArray:
    """Of moments before the fixes ``at``, in order, the one that fits best of those within ``beside`` fixes of each other."""
    group = np.cumsum(np.diff(at, prepend=at[:1]) > beside)
    best = [min(np.flatnonzero(group == one), key=misfit_m.item) for one in np.unique(group)]
    return np.array(best, dtype=np.int64)
