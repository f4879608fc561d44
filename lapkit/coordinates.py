"""Coordinates in degrees: the shorter way round, rough distances, and the step in which they were written."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray

METRES_PER_DEGREE = 111_195.0
"""Metres to a degree of latitude on a sphere of the Earth's mean radius; for thresholds only, never for paths."""

# Positions are written in decimals of a degree or of a minute; the coarsest first.
_STEPS_DEG = sorted(
    [10.0**-k for k in range(3, 10)] + [10.0**-k / 60 for k in range(2, 8)], reverse=True
)
_SAMPLE = 2_000  # positions that are examined; the rest are written like them
# Share of values that have to be multiples of the step: a few may have been mended by hand, and of values with one digit
# more only one in ten is a multiple.
_ALIKE = 0.9


def one_turn_deg(lon_deg: ArrayLike) -> FloatArray:
    """Longitudes, or differences of longitudes, brought into [-180, 180): the shorter way round; any shape."""
    return (np.asarray(lon_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0


def offsets_m(
    lat_deg: FloatArray, lon_deg: FloatArray, stride: int = 1
) -> tuple[FloatArray, FloatArray]:
    """Roughly how far east and north the position ``stride`` fixes later lies, metres, ``(n - stride,)`` each.

    On the sphere of the Earth's mean radius: for thresholds only, never for paths.
    """
    east = one_turn_deg(lon_deg[stride:] - lon_deg[:-stride])
    east *= np.cos(np.radians(lat_deg[:-stride])) * METRES_PER_DEGREE
    return east, (lat_deg[stride:] - lat_deg[:-stride]) * METRES_PER_DEGREE


def step_deg(lat_deg: FloatArray, lon_deg: FloatArray) -> float:
    """The step in which positions were written, degrees; NaN when it is too fine to be seen.

    It is the coarsest decimal step of a degree or of a minute of which nine in ten of the distinct values are multiples.

    Args:
        lat_deg, lon_deg: shape ``(n,)``, finite.
    """
    pick = slice(None, None, max(1, len(lat_deg) // _SAMPLE))
    values = np.unique(np.concatenate([lat_deg[pick], lon_deg[pick]]))
    for step in _STEPS_DEG:
        multiples = values / step
        # Doubles hold degrees to 1e-14, so a multiple of the finest step is whole to 1e-4.
        if np.mean(np.abs(multiples - np.round(multiples)) < 1e-3) >= _ALIKE:
            return step
    return float("nan")
