"""Where fixes are missing from a log, and what share of its corners that spoils."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray, IntArray
from lapkit.coordinates import offsets_m
from lapkit.counting import counted
from lapkit.importer.log import Log

GAP_STEPS = 2.5
"""A step longer than this many usual ones is a gap: at least two fixes are missing. A single one does no harm."""

LARGEST_TURN_RAD = 0.45
"""A corner with more turn between two fixes is not measured: so long a chord hides its shape (our choice)."""

_MOVED_M = 10.0  # farther than the position offset wanders in a pause (common practice, no source)
_PUSHED_MPS = 0.5  # average speed of a machine that is pushed about with rests between
_SPOILS_M = 30.0 * LARGEST_TURN_RAD  # in a bend of 30 m radius so long a gap hides the largest turn
_CORNER_M = 100.0  # from turn-in to exit: a quarter turn of 64 m radius (our choice)
_FEWEST_WHOLE = 0.1  # where fewer corners are free of gaps, hardly one can be measured (our choice)
_WORTH_SAYING = 0.05  # a smaller share of corners with a gap is not mentioned
# Where more of the ride is missing than this share, uneven gaps may take most of a lap (our choice).
_MUCH_MISSING = 0.25
_SHORTEST_PAUSE_S = 1.0  # less is not worth a sentence


@dataclass(frozen=True)
class Gaps:
    """The gaps in a log: those over which the rider moved, and pauses, in which he stood.

    Attributes:
        count: gaps over which he moved.
        missing_s: seconds lost in them.
        paused_s: seconds lost in pauses.
        share: the part of the time he was on the move that is lost, 0 to 1.
        whole_share: roughly the share of corners without a long gap in them, 0 to 1.
    """

    count: int
    missing_s: float
    paused_s: float
    share: float
    whole_share: float

    @property
    def leave_corners(self) -> bool:
        """Whether enough corners are free of gaps for any to be measured."""
        return self.whole_share >= _FEWEST_WHOLE

    def sentences(self, *, laps: bool, corners: bool) -> Iterator[str]:
        """What a rider should know about the gaps.

        Args:
            laps: whether laps could be timed if there were no gaps.
            corners: whether corners could be measured if there were none.
        """
        if self.count:
            missing = f"{self.missing_s:.1f} s are missing in {counted(self.count, 'gap')}."
            if corners and not self.leave_corners:
                missing += " Hardly a corner is without one: no radius and no lean from this log, lap times only."
            elif corners and (spoilt := 1.0 - self.whole_share) > _WORTH_SAYING:
                missing += f" About {100.0 * spoilt:.0f} % of its corners have one in them and are left empty."
            if laps and self.share > _MUCH_MISSING:
                missing += " A lap of which much is missing is not timed."
            yield missing
        if self.paused_s > _SHORTEST_PAUSE_S:
            yield f"It paused for {self.paused_s:.0f} s without riding."


def gaps_of(log: Log, moving_s: float, pace_mps: float) -> Gaps:
    """The gaps of a log of two fixes or more.

    Args:
        log: the fixes.
        moving_s: seconds in which the fixes show the rider moving.
        pace_mps: his speed in the slower parts, as in corners; NaN when he never moved.
    """
    step = np.diff(log.time_s)
    usual = float(np.median(step))
    gap = step > GAP_STEPS * usual
    away = np.hypot(*offsets_m(log.lat_deg, log.lon_deg))
    # A machine pushed about the paddock over lunch is no gap in a ride.
    moved = gap & (away > _MOVED_M) & (away > _PUSHED_MPS * step)
    missing_s = float(np.sum(step[moved] - usual))
    ridden_s = moving_s + missing_s
    spoilt_s = _spoilt_s(log.time_s, np.flatnonzero(moved & (away > _SPOILS_M)), pace_mps)
    return Gaps(
        count=int(np.count_nonzero(moved)),
        missing_s=missing_s,
        paused_s=float(np.sum(step[gap & ~moved] - usual)),
        share=missing_s / ridden_s if missing_s else 0.0,
        whole_share=max(1.0 - spoilt_s / ridden_s, 0.0) if spoilt_s else 1.0,
    )


def _spoilt_s(time_s: FloatArray, before_gap: IntArray, pace_mps: float) -> float:
    """Seconds of the ride at which a corner that begins then has a gap in it.

    A corner is spoilt that begins in a gap, or less before it than a corner takes.

    Args:
        time_s: times of the fixes, ``(n,)``.
        before_gap: the last fix before each gap, ``(gaps,)``.
        pace_mps: speed through the corners.
    """
    if not len(before_gap):
        return 0.0
    begin, end = time_s[before_gap] - _CORNER_M / pace_mps, time_s[before_gap + 1]
    # Where a corner would reach two gaps, its seconds count for the first one only.
    begin[1:] = np.maximum(begin[1:], end[:-1])
    return float(np.sum(end - begin))
