"""Where fixes are missing from a log, and how many of its corners that spoils."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lapkit.counting import counted
from lapkit.importer.log import Log
from lapkit.importer.repeats import offsets_m

GAP_STEPS = 2.5
"""A step so many times the usual one is a gap: two fixes are missing; any path carries on over a single one."""

LARGEST_TURN_RAD = 0.45
"""A corner in which more is turned from fix to fix is left empty: a chord that long hides its shape (our choice)."""

_MOVED_M = 10.0  # farther than the position offset wanders in a pause (common practice, no source)
_PUSHED_MPS = 0.5  # average of a machine that is pushed about with rests between
_SPOILS_M = 30.0 * LARGEST_TURN_RAD  # a gap so long hides that much turn in a bend of 30 m radius
_CORNER_M = 100.0  # from turn-in to exit: a quarter turn of 64 m radius (our choice)
# Share of corners without a gap below which hardly one could be measured (our choice).
_FEWEST_WHOLE = 0.1
_WORTH_SAYING = 0.05  # share of corners with a gap; less is not mentioned
# Share of the ride that is missing from which uneven gaps may take most of a lap (our choice).
_MUCH = 0.25
_SHORTEST_PAUSE_S = 1.0  # less is not worth a sentence


@dataclass(frozen=True)
class Gaps:
    """Gaps of a log.

    Attributes:
        count: how many there are over which the rider moved.
        missing_s: seconds lost in them.
        paused_s: seconds lost in those in which he stood.
        share: of the time he was on the move, the part that is lost, 0 to 1.
        whole_share: about the share of corners without a long gap in them, 0 to 1.
    """

    count: int
    missing_s: float
    paused_s: float
    share: float
    whole_share: float

    @property
    def leave_corners(self) -> bool:
        """Whether enough corners are without one for the log to tell of any."""
        return self.whole_share >= _FEWEST_WHOLE

    def sentences(self, *, laps: bool, corners: bool) -> Iterator[str]:
        """What there is to say of them.

        Args:
            laps: whether the log could tell lap times without them.
            corners: whether it could tell of corners.
        """
        if self.count:
            told = f"{self.missing_s:.1f} s are missing in {counted(self.count, 'gap')}."
            if corners and not self.leave_corners:
                told += " Hardly a corner is without one: no radius and no lean from this log, lap times only."
            elif corners and (spoilt := 1.0 - self.whole_share) > _WORTH_SAYING:
                told += f" About {100.0 * spoilt:.0f} % of its corners have one in them and are left empty."
            if laps and self.share > _MUCH:
                told += " A lap of which much is missing is not timed."
            yield told
        if self.paused_s > _SHORTEST_PAUSE_S:
            yield f"It paused for {self.paused_s:.0f} s without riding."


def gaps_of(log: Log, moving_s: float, pace_mps: float) -> Gaps:
    """The gaps of a log of two fixes or more.

    Args:
        log: the fixes.
        moving_s: seconds in which he was seen to move.
        pace_mps: speed in his slower parts, as in corners; NaN where he never moved.
    """
    step = np.diff(log.time_s)
    usual = float(np.median(step))
    gap = step > GAP_STEPS * usual
    away = np.hypot(*offsets_m(log.lat_deg, log.lon_deg))
    # A machine pushed about in the paddock over lunch is no gap in a ride.
    moved = gap & (away > _MOVED_M) & (away > _PUSHED_MPS * step)
    missing_s = float(np.sum(step[moved] - usual))
    ridden_s = moving_s + missing_s
    long = np.flatnonzero(moved & (away > _SPOILS_M))
    spoilt_s = 0.0
    if len(long):
        # Corners that begin so long before a gap as one takes, or in it; none is counted for two gaps.
        begin, end = log.time_s[long] - _CORNER_M / pace_mps, log.time_s[long + 1]
        begin[1:] = np.maximum(begin[1:], end[:-1])
        spoilt_s = float(np.sum(end - begin))
    return Gaps(
        count=int(np.count_nonzero(moved)),
        missing_s=missing_s,
        paused_s=float(np.sum(step[gap & ~moved] - usual)),
        share=missing_s / ridden_s if missing_s else 0.0,
        whole_share=max(1.0 - spoilt_s / ridden_s, 0.0) if spoilt_s else 1.0,
    )
