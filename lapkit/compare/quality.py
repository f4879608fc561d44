"""How far the numbers of a pass can be trusted."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.corners import CornerRows
from lapkit.compare.grid import sample
from lapkit.compare.passes import Passes
from lapkit.importer.gaps import LARGEST_TURN_RAD
from lapkit.path.summary import summarise

FEWEST_FIXES = 6
"""Fewer fixes than this between turn-in and exit carry no radius."""

LONGEST_GAP_M = (10.0, 25.0)
"""Distance from fix to fix beyond which a pass is no longer good, and beyond which it is poor, metres."""

MOST_TURNED_RAD = (0.25, LARGEST_TURN_RAD)
"""Change of heading from fix to fix beyond which a pass is no longer good, and beyond which it is poor: it hides the shape of
the path."""

WIDEST = (0.10, 0.35)
"""Half-width of the interval of the largest curvature, as a share of its value, beyond which a pass is no longer good, and
beyond which it is poor."""

SLOWEST_MPS = 1.5
"""Below this speed the heading of a path is not known."""


class PassQuality(StrEnum):
    """Verdict on one pass; the measures of a poor pass are left empty."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


def qualities(passes: Passes, rows: CornerRows, fix_time_s: FloatArray) -> np.ndarray:
    """Judge every pass by its fixes and intervals: :class:`PassQuality`, ``(passes,)``.

    Args:
        passes: the passes.
        rows: what was measured in them.
        fix_time_s: times of all fixes of the run, seconds, increasing, ``(m,)``.
    """
    count, longest_gap_s = _fixes(passes, fix_time_s)
    speed = passes.speed_mps[0]
    yaw_rate = speed * np.abs(passes.curvature_1pm[0])
    fastest = np.maximum.reduceat(speed, passes.grid.first)
    slowest = np.minimum.reduceat(speed, passes.grid.first)
    curvature = summarise(rows.curvature_1pm)
    criteria = (
        (longest_gap_s * fastest, LONGEST_GAP_M),
        (longest_gap_s * np.maximum.reduceat(yaw_rate, passes.grid.first), MOST_TURNED_RAD),
        (curvature.half_width / np.maximum(curvature.value, 1e-9), WIDEST),
    )
    with np.errstate(invalid="ignore"):
        good = np.all([value <= limit for value, (limit, _) in criteria], axis=0)
        fair = np.all([value <= limit for value, (_, limit) in criteria], axis=0)
    fair &= rows.whole.all(axis=0) & (count >= FEWEST_FIXES) & (slowest > SLOWEST_MPS)
    return np.where(fair, np.where(good, PassQuality.GOOD, PassQuality.FAIR), PassQuality.POOR)


def _fixes(passes: Passes, fix_time_s: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Number of fixes from turn-in to exit, and the longest time between two of them, seconds: ``(passes,)`` each.

    The gaps in which turn-in and exit lie count too.
    """
    ends = np.nan_to_num(sample(passes.time_s, passes.limits[0][:, [0, 2]]), nan=passes.time_s[0])
    first, after_last = np.searchsorted(fix_time_s, ends).T
    gap_s = np.diff(fix_time_s)
    longest_s = [
        gap_s[max(begin - 1, 0) : end].max(initial=0.0)
        for begin, end in zip(first, after_last, strict=True)
    ]
    return after_last - first, np.array(longest_s)
