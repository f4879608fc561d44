"""The arrays that numbers are kept in, and how they are protected from being written to."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
"""An array of float64; the docstring that uses it gives its shape and unit."""

IntArray = npt.NDArray[np.int64]
"""An array of int64: counts, indices, whole microseconds."""

BoolArray = npt.NDArray[np.bool_]
"""An array of flags."""


def read_only(values: Any) -> FloatArray:
    """A float64 copy of ``values``, any shape, that cannot be written to, for use in frozen dataclasses."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def locked(values: FloatArray) -> FloatArray:
    """The same values, uncopied, any shape, as an array that cannot be written to."""
    view = values.view()
    view.setflags(write=False)
    return view
