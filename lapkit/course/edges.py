"""The edges of the track as offsets from the reference."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.course.stations import StationLine


@dataclass(frozen=True, eq=False)
class Edges:
    """Offsets of the edges, metres, left positive, at stations of the reference; each ``(n,)``.

    Where an edge was not drawn it has its usual offset; ``missing_left_m`` and ``missing_right_m`` say along how
    many metres of the course.
    """

    station_m: FloatArray
    left_m: FloatArray
    right_m: FloatArray
    missing_left_m: float = 0.0
    missing_right_m: float = 0.0

    def along(self, reference: StationLine, station_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Offsets of the left and the right edge at stations of any shape, metres."""
        at = np.asarray(station_m, dtype=np.float64)
        period = reference.period_m
        return (
            np.interp(at, self.station_m, self.left_m, period=period),
            np.interp(at, self.station_m, self.right_m, period=period),
        )
