"""Rows that repeat an old position."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from lapkit.coordinates import METRES_PER_DEGREE, one_turn_deg, step_deg
from lapkit.units import FloatArray

# A position that stayed the same although the rider moved by so many steps was not measured anew.
_STEPS_MOVED = 5.0
_MOVING_MPS = 1.5  # faster than a walk, and than a receiver that stands seems to move
_RUNS_FOR_A_RHYTHM = 20  # fewer runs of equal rows are chance


def offsets_m(
    lat_deg: FloatArray, lon_deg: FloatArray, stride: int = 1
) -> tuple[FloatArray, FloatArray]:
    """Roughly how far east and north the ``stride``-th next position is, m; ``(n - stride,)``."""
    east = one_turn_deg(lon_deg[stride:] - lon_deg[:-stride])
    east *= np.cos(np.radians(lat_deg[:-stride])) * METRES_PER_DEGREE
    return east, (lat_deg[stride:] - lat_deg[:-stride]) * METRES_PER_DEGREE


def fresh_rows(
    time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray
) -> npt.NDArray[np.bool_]:
    """Which rows hold a position of their own, and not the one before written once more.

    While the rider moves, only the first row of each run of equal positions is fresh, provided that
    such runs are many. When they have a common length (1 Hz fixes written at 10 Hz), the runs in
    which he stands are thinned too, so that the rate stays even.

    Args:
        time_s, lat_deg, lon_deg: shape ``(n,)``; times increase.
    """
    count = len(time_s)
    fresh = np.ones(count, dtype=bool)
    new = (lat_deg[1:] != lat_deg[:-1]) | (lon_deg[1:] != lon_deg[:-1])
    if new.all():
        return fresh
    starts = np.concatenate([[0], np.flatnonzero(new) + 1])
    lengths = np.diff(np.append(starts, count))
    moved = np.hypot(*offsets_m(lat_deg[starts], lon_deg[starts]))
    coarse = step_deg(lat_deg, lon_deg)
    coarse_m = 0.0 if np.isnan(coarse) else coarse * METRES_PER_DEGREE
    moving = np.zeros(len(starts), dtype=bool)
    moving[:-1] = moved > np.maximum(_STEPS_MOVED * coarse_m, _MOVING_MPS * np.diff(time_s[starts]))
    # A rider who starts off looks the same; only what happens time and again is the logger's.
    repeated = np.count_nonzero(lengths[moving] > 1)
    if repeated < max(_RUNS_FOR_A_RHYTHM, 0.1 * np.count_nonzero(moving)):
        return fresh
    rhythm = int(np.median(lengths[moving]))
    place = np.arange(count) - np.repeat(starts, lengths)
    left = np.repeat(lengths, lengths) - place
    standing = ~np.repeat(moving, lengths)
    # The last few rows of a standing run would come too soon before the next fresh row.
    in_rhythm = (place % rhythm == 0) & (2 * left >= rhythm)
    return (place == 0) | (standing & in_rhythm)
