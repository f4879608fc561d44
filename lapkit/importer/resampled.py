"""Rows that an export drew between two fixes of the receiver, so that a log of one rate came out at a higher one.

Exports that lay several sensors beside each other give all of them one rate. Positions between two fixes then lie on
the straight line between them: a bend becomes a polygon, whose corners no rider rode.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import BoolArray, FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, offsets_m, step_deg

# A position on the line between its neighbours lies within so many of the steps in which positions were written,
_STRAIGHT_STEPS = 1.5
# and one that was measured in a bend is so many off it.
_BENT_STEPS = 6.0
# So the largest distances from the line are so many times the lesser ones, which noise alone does not reach.
_STRETCHED = _BENT_STEPS / _STRAIGHT_STEPS
_FINEST_DEG = 1e-9  # positions are hardly written more finely, and doubles hold little more
_FEWEST_BENT = 50  # fewer are no bend
# Of the positions off the line so many stand alone between two on it: a rider who turns leaves many beside each other.
_ALONE = 0.9


def drawn_between(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> BoolArray:
    """Which rows lie where a straight line between two fixes puts them, ``(n,)``; none in a log that was not resampled.

    Args:
        time_s, lat_deg, lon_deg: shape ``(n,)``; times increase.
    """
    count = len(time_s)
    none = np.zeros(count, dtype=bool)
    if count < _FEWEST_BENT:
        return none
    off_m = _off_the_line_m(time_s, lat_deg, lon_deg)
    lesser_m, largest_m = np.percentile(off_m, [40.0, 99.0])
    if largest_m < _STRETCHED * lesser_m:
        return none  # as nearly always, found out without looking for the step
    step_m = max(np.nan_to_num(step_deg(lat_deg, lon_deg)), _FINEST_DEG) * METRES_PER_DEGREE
    measured = np.concatenate([[True], off_m > _STRAIGHT_STEPS * step_m, [True]])
    bent = np.flatnonzero(off_m > _BENT_STEPS * step_m) + 1
    alone = ~measured[bent - 1] & ~measured[bent + 1]
    if len(bent) < _FEWEST_BENT or np.mean(alone) < _ALONE:
        return none
    # How many rows were made of each fix: the distance that most corners of the polygon have.
    rhythm = int(np.argmax(np.bincount(np.diff(bent))))
    # Along a straight a fix does not show; one is taken to be where the rhythm has it.
    last = np.maximum.accumulate(np.where(measured, np.arange(count), 0))
    return (np.arange(count) - last) % rhythm != 0


def _off_the_line_m(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> FloatArray:
    """How far each position lies from where its two neighbours put it at its time, metres, ``(n - 2,)``."""
    before_s, after_s = np.diff(time_s)[:-1], np.diff(time_s)[1:]
    share = before_s / (before_s + after_s)
    moved_m = offsets_m(lat_deg, lon_deg)
    return np.hypot(*((1.0 - share) * to_m[:-1] - share * to_m[1:] for to_m in moved_m))
