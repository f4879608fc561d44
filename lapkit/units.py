"""Constants and conversions. Inside lapkit every number is SI; other units exist at the edges only."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
"""An array of float64; the docstring that uses it gives its shape and unit."""

GRAVITY_MPS2 = 9.80665
"""Standard acceleration of free fall (ISO 80000-3)."""

KNOT_MPS = 1852.0 / 3600.0
"""One international knot in metres per second (exact)."""

MPH_MPS = 1609.344 / 3600.0
"""One mile per hour in metres per second (exact)."""

KMH_MPS = 1.0 / 3.6
"""One kilometre per hour in metres per second (exact)."""

FOOT_M = 0.3048
"""One international foot in metres (exact)."""


def read_only(values: Any) -> FloatArray:
    """A float64 copy of ``values`` that cannot be written to, for use in frozen dataclasses."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array
