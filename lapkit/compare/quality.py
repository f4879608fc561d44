"""How far the numbers of a pass can be trusted."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from lapkit.compare.corners import CornerRows
from lapkit.compare.held import sample
from lapkit.compare.passes import Passes
from lapkit.importer.gaps import LARGEST_TURN_RAD
from lapkit.path.summary import summarise
from lapkit.units import FloatArray

FEWEST_FIXES = 6
"""Fewer fixes than this between turn-in and exit carry no radius."""

LONGEST_GAP_M = (10.0, 25.0)
"""Metres from fix to fix beyond which a pass is no longer good, and beyond which it is poor."""

MOST_TURNED_RAD = (0.25, LARGEST_TURN_RAD)
"""Turned from fix to fix, as above: a chord that long hides the shape of the path."""

WIDEST = (0.10, 0.35)
"""Half width of the tightest radius's interval over its value, as above."""

SLOWEST_MPS = 1.5
"""Below this a heading says nothing."""


class PassQuality(StrEnum):
    """Verdict on one pass; the numbers of a poor one are left empty."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


def qualities(passes: Passes, rows: CornerRows, fix_time_s: FloatArray) -> np.ndarray:
    """Judge every pass by its fixes and intervals: :class:`PassQuality`, ``(passes,)``.

    Args:
        passes: the passes.
        rows: what was measured in them.
        fix_time_s: times of all fixes of the run, increasing, shape ``(m,)``.
    """
    count, silence_s = _fixes(passes, fix_time_s)
    speed = passes.speed_mps[0]
    turning = speed * np.abs(passes.curvature_1pm[0])
    fastest, quickest = (np.maximum.reduceat(v, passes.grid.first) for v in (speed, turning))
    slowest = np.minimum.reduceat(speed, passes.grid.first)
    curvature = summarise(rows.curvature_1pm)
    half_width = curvature.half_width / np.maximum(curvature.value, 1e-9)
    measured = (
        (silence_s * fastest, LONGEST_GAP_M),
        (silence_s * quickest, MOST_TURNED_RAD),
        (half_width, WIDEST),
    )
    with np.errstate(invalid="ignore"):
        good = np.all([value <= limit for value, (limit, _) in measured], axis=0)
        fair = np.all([value <= limit for value, (_, limit) in measured], axis=0)
    fair &= rows.whole.all(axis=0) & (count >= FEWEST_FIXES) & (slowest > SLOWEST_MPS)
    return np.where(fair, np.where(good, PassQuality.GOOD, PassQuality.FAIR), PassQuality.POOR)


def _fixes(passes: Passes, fix_time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Fixes from turn-in to exit, and the longest time between two, s: ``(passes,)`` each."""
    ends = np.nan_to_num(sample(passes.time_s, passes.limits[0][:, [0, 2]]), nan=passes.time_s[0])
    low, high = np.searchsorted(fix_time_s, ends).T
    step = np.diff(fix_time_s)
    # The silence that a stretch begins or ends in counts too.
    longest = [
        step[max(first - 1, 0) : last].max(initial=0.0)
        for first, last in zip(low, high, strict=True)
    ]
    return high - low, np.array(longest)
