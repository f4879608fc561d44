"""Which passes of a place were ridden as the rider usually rides it: on the others his acceleration to the side differed."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import maximum_filter1d

from lapkit.arrays import FloatArray
from lapkit.path.along_course import AlongCourse
from lapkit.path.summary import SD_PER_MEDIAN

FEWEST_LAPS = 3
"""Passes of a place; from fewer it is not known what is usual there."""

_EVERY_M = 8.0  # from place to place at which laps are compared: a lapse of a second covers several
# Nobody repeats his lateral acceleration more exactly: it is less than a degree of lean.
_LEAST_MPS2 = 0.1
# Unusual passes are the contaminants of Tukey's contaminated normal distribution (A survey of sampling from contaminated
# distributions, 1960; memory): their share, and the ratio of their standard deviation to that of the others.
_UNUSUAL, _FARTHER = 0.3, 5.0
_UNUSUAL_S = 1.5  # each way of a moment that stands out, the pass counts as unusual


def as_usual(along: AlongCourse) -> FloatArray:
    """How probably each moment was ridden as that place of the course usually is, ``(intervals,)``."""
    ridden, grid = along.ridden_m, along.places(_EVERY_M)
    there = along.rode_at(grid)
    often = np.count_nonzero(there, axis=0) >= FEWEST_LAPS
    if not often.any():
        return np.ones(len(ridden))
    at_places = np.where(there, np.interp(grid, ridden, along.across_mps2), np.nan)[:, often]
    unusual = np.zeros_like(grid)
    unusual[:, often] = np.nan_to_num(_unusual(at_places))
    share = np.interp(ridden, grid.ravel(), unusual.ravel())
    return 1.0 - maximum_filter1d(share, 1 + 2 * round(_UNUSUAL_S / along.knots.spacing_s))


def _unusual(across_mps2: FloatArray) -> FloatArray:
    """How probably each pass of a place was an unusual one: accelerations ``(laps, places)``, NaN where none.

    By Bayes' rule from the two components of the contaminated normal distribution, about the median of a place and with
    the standard deviation of usual passes that all places have together.
    """
    away = across_mps2 - np.nanmedian(across_mps2, axis=0)
    scatter = SD_PER_MEDIAN * np.nanmedian(np.abs(away), axis=0)
    squares = np.square(away) / max(float(np.mean(np.square(scatter))), _LEAST_MPS2**2)
    odds_of_usual = (1.0 / _UNUSUAL - 1.0) * _FARTHER * np.exp(0.5 * squares * (_FARTHER**-2 - 1.0))
    return np.asarray(1.0 / (1.0 + odds_of_usual), dtype=np.float64)
