"""A base log: a receiver left standing on a known spot shows how far off the riders' receivers were."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.course.elsewhere import away_text
from lapkit.errors import LogError
from lapkit.importer.log import Log
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import Information, OffsetProcess, probabilities
from lapkit.path.offset_sight import Common, Readings, Sight

_STOOD_WITHIN_M = 50.0
"""A fix further than this from where its receiver stands is astray, metres: several times the error of a poor receiver
(our choice)."""

_SAME_SPOT_M = 25.0
"""A receiver whose median place is further than this from a base point stood elsewhere, metres (our choice)."""

_MOST_ASTRAY = 0.1
"""The largest share of fixes astray: the receiver is carried to its spot and back (our choice)."""

_SHARED_WITHIN_M = 50e3
"""Receivers further apart than this do not share their errors: the air above them differs, metres (our choice)."""

_BLOCK_SD_M = 0.3
"""Standard deviation, per axis, of the difference of two receivers' means over half a minute, metres, beside what lasts
(our choice)."""

_LASTING_S = 3600.0
"""In addition two receivers side by side differ by errors of their own that last for minutes: reflections from what
stands around each of them (Gauss–Markov of this memory; our choice)."""

_LASTING_M = np.array([0.4, 0.8, 1.6])
"""Sizes of that difference that are tried, standard deviation per axis, metres. Positions corrected by a receiver nearby
are right to about half a metre, however long one waits (common practice, no source); of two receivers of different make,
or one under trees, the errors agree much less."""

_LASTING_SHARES = np.array([0.75, 0.2, 0.05])
"""Prior probability of each size (our choice)."""

_LASTING_STEP_S = 120.0  # knots of that difference: a small part of its memory

# Length of a block, over which the wander of seconds averages out and the offset hardly moves (our choice).
_BLOCK_S = 30.0

# Clocks without leap seconds are 18 or 37 s off; those set by hand are not searched for.
_LARGEST_SHIFT_S = 60
_COARSE_S = 5  # the offset moves little meanwhile: a search in such steps misses no agreement
# Shorter means show a shift better. By how much the receivers' errors differ in them is not known, so several values
# are tried.
_FINE_BLOCK_S = 5.0
_FINE_BLOCK_SD_M = (0.35, 0.7)

_CLEAR = 25.0
"""How much −2 log likelihood must fall before a clock is called wrong (our choice). Much, because the likelihood is too
sure of itself: the offset does not really run straight between two knots."""


@dataclass(frozen=True, eq=False)
class BaseError:
    """A standing receiver's error over time: ``time_s`` ``(n,)``, ``error_m`` ``(n, 2)`` east and north."""

    time_s: FloatArray
    error_m: FloatArray

    def later(self, shift_s: float) -> BaseError:
        """The same with its clock put forward, by seconds."""
        return BaseError(self.time_s + shift_s, self.error_m)

    def during(self, start_s: float, end_s: float) -> BaseError:
        """The part of it from one time to another."""
        part = (self.time_s >= start_s) & (self.time_s <= end_s)
        return BaseError(self.time_s[part], self.error_m[part])

    def sights(
        self,
        knots: OffsetKnots,
        block_s: float = _BLOCK_S,
        sd_m: float = _BLOCK_SD_M,
        lasting_m: float = float(_LASTING_M[0]),
    ) -> list[Sight]:
        """Sights of a rider's offset: the mean error of each block of time. None where the logs do not overlap in time.

        Args:
            knots: of the rider's offset.
            block_s: length of a block, seconds.
            sd_m: standard deviation per axis of the difference of two receivers' means over a block, metres.
            lasting_m: standard deviation per axis of their lasting difference, metres.
        """
        inside = self.during(float(knots.time_s[0]), float(knots.time_s[-1]))
        t, error = inside.time_s, inside.error_m
        if not len(t):
            return []
        block = np.floor((t - t[0]) / block_s).astype(np.int64)
        _, slot, count = np.unique(block, return_inverse=True, return_counts=True)
        middle = np.bincount(slot, t) / count
        mean = np.concatenate([np.bincount(slot, axis) / count for axis in error.T])
        direction = np.repeat(np.eye(2), len(middle), axis=0)
        readings = Readings(np.tile(middle, 2), direction, mean)
        lasting = Common(lasting_m, _lasting_share(middle))
        return [Sight.of(knots, readings, sd_m, firm=True, common=lasting)]


def _lasting_share(time_s: FloatArray) -> FloatArray:
    """How a lasting difference of size 1 depends on independent unknowns of size 1, east and then north of each time.

    ``(n,)`` → ``(2 n, unknowns)``. The unknowns drive a Gauss–Markov process at knots, between which it runs straight.
    """
    count = int(np.ceil(np.ptp(time_s) / _LASTING_STEP_S)) + 1
    knots = OffsetKnots(time_s[0] + _LASTING_STEP_S * np.arange(max(count, 2), dtype=np.float64))
    apart = np.abs(np.subtract.outer(knots.time_s, knots.time_s))
    driven = np.linalg.cholesky(np.exp(-apart / _LASTING_S))
    share: FloatArray = np.kron(np.eye(2), knots.between(driven.T, time_s).T).astype(np.float64)
    return share


def base_error(course: Course, base: Log) -> BaseError:
    """The error over time of a receiver that stood still.

    It is taken to have stood on the nearest base point of the course, or on the median of its own fixes if there is none.

    Raises:
        LogError: it has no dates, it was carried about, or it stood far from every base point, so that its error would
            move every rider off the course.
    """
    if not base.has_clock:
        raise LogError(
            "this base log has no dates, so it cannot be told when it was off by how much",
            where=base.source,
            remedy="Give one with dates, or leave --base out.",
        )
    x, y = course.plane.to_xy(base.lat_deg, base.lon_deg)
    stood = np.array([np.median(x), np.median(y)])
    if np.mean(np.hypot(x - stood[0], y - stood[1]) > _STOOD_WITHIN_M) > _MOST_ASTRAY:
        raise LogError(
            "it was moved about: a base log is of a receiver left standing on one spot",
            where=base.source,
            remedy="Give the base receiver's log, or leave --base out.",
        )
    points = np.zeros((0, 2)) if course.base_points is None else course.base_points
    known = len(points) > 0
    # Without a base point, the course itself: its plane has its origin there.
    spots = points if known else np.zeros((1, 2))
    away = np.hypot(*(spots - stood).T)
    if away.min() > (_SAME_SPOT_M if known else _SHARED_WITHIN_M):
        spot = "the nearest base point of the track file" if known else "the course"
        raise LogError(
            f"this receiver stood {away_text(float(away.min()))} from {spot}",
            where=base.source,
            remedy="Give the base log that belongs to it, or leave --base out.",
        )
    if known:
        stood = spots[np.argmin(away)]
    return BaseError(base.time_s, np.stack([x - stood[0], y - stood[1]], axis=1))


def seen_by_base(
    base: BaseError, knots: OffsetKnots, others: list[Sight], process: OffsetProcess
) -> tuple[list[Sight], tuple[str, ...]]:
    """Sights from a base log, its clock put right, and sentences about what was wrong with it.

    Args:
        base: the standing receiver's error.
        knots: of the rider's offset.
        others: the other sights of that offset: stops, edges, laps.
        process: that the offset follows.
    """
    known = Information.of(knots, others)
    shift_s = clock_shift_s(base, known, process)
    agreed = base.later(shift_s)
    sights = agreed.sights(knots, lasting_m=_lasting_m(agreed, known, process))
    if not sights:
        return [], ("the base log does not overlap this log in time and was not used",)
    if not shift_s:
        return sights, ()
    way = "behind" if shift_s > 0 else "ahead of"
    return sights, (
        f"the base log's clock is about {abs(shift_s)} s {way} this log's and was put right; "
        "check that both receivers keep the same time",
    )


def _lasting_m(base: BaseError, known: Information, process: OffsetProcess) -> float:
    """How large the lasting difference of two receivers probably is, metres; arguments as for :func:`clock_shift_s`.

    It is the root mean square of :data:`_LASTING_M`, each weighted by its prior probability and by its likelihood.
    """
    tried = (base.sights(known.knots, lasting_m=size) for size in _LASTING_M)
    misfit = np.array([_misfit(known, sights, process) for sights in tried])
    return float(np.sqrt(probabilities(_LASTING_SHARES, misfit) @ np.square(_LASTING_M)))


def _misfit(known: Information, sights: list[Sight], process: OffsetProcess) -> float:
    """−2 log likelihood of what is known and of further sights together."""
    return (known + Information.of(known.knots, sights)).minus_2_log(process)


def clock_shift_s(base: BaseError, known: Information, process: OffsetProcess) -> int:
    """By how many whole seconds a base log's clock must be put forward to agree with a rider's; 0 unless that is clear.

    A receiver may keep satellite time, some seconds off civil time. The error that both receivers share shows it: in the
    base log it must move when it moves according to the rider's stops, edges and laps.

    Args:
        base: the standing receiver's error.
        known: what all other sights show of the rider's offset: stops, edges, laps.
        process: that the offset follows.
    """
    knots = known.knots
    # Only what overlaps at every shift, so that all shifts are judged by the same fixes.
    start, end = knots.time_s[0] + _LARGEST_SHIFT_S, knots.time_s[-1] - _LARGEST_SHIFT_S
    whole = base.during(start, end)
    if not len(whole.time_s):
        return 0

    def misfit_of(shift_s: float) -> float:
        moved = whole.later(shift_s)
        tried = (
            moved.sights(knots, _FINE_BLOCK_S, sd_m, float(lasting_m))
            for sd_m in _FINE_BLOCK_SD_M
            for lasting_m in _LASTING_M
        )
        return min(_misfit(known, sights, process) for sights in tried)

    tried = range(-_LARGEST_SHIFT_S, _LARGEST_SHIFT_S + 1, _COARSE_S)
    misfits = {shift: misfit_of(shift) for shift in tried}
    near = min(tried, key=misfits.__getitem__)
    # At the end of the search the likelihood still grows, and there is no agreement yet.
    if misfits[near] > misfits[0] - _CLEAR or abs(near) == _LARGEST_SHIFT_S:
        return 0
    return min(range(near - _COARSE_S + 1, near + _COARSE_S), key=misfit_of)
