"""The path's prior: it is smooth, and over a hole in the log it stays near the chord across it."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.banded import penalty_band
from lapkit.path.roughness import PRIOR_ORDER, Roughness
from lapkit.path.spline import SUPPORT, Knots
from lapkit.path.unknowns import AXES

HOLE_S = 10.0
"""After this long without a fix it is no longer known where the rider was going, seconds (our choice)."""

_FOURTH_DIFFERENCE = (1.0, -4.0, 6.0, -4.0, 1.0)

CHORD_MPS = 50.0
"""Standard deviation of a rider's speed along each axis in such a hole, m/s: nobody rides far above it."""


def smooth_band(knots: Knots, roughness: FloatArray) -> FloatArray:
    """Prior precision of one axis of the path, an upper band ``(6, coefficients)``.

    ``roughness`` has a value for each interval, ``(intervals,)``. It is the same along and across the heading, so that the
    axes are not coupled.
    """
    return penalty_band(knots, PRIOR_ORDER, 1.0 / np.square(roughness))


def both_axes(band: FloatArray) -> FloatArray:
    """Bands for the pairs of :data:`AXES` from that of one axis: ``(6, coefficients)`` → ``(3, 6, coefficients)``."""
    return np.stack([band, np.zeros_like(band), band])


def rough_band(knots: Knots, rough: Roughness) -> FloatArray:
    """Prior precision of the path for a roughness along and across the heading, ``(3, 6, coefficients)``."""
    along, across = 1.0 / np.square(rough.along), 1.0 / np.square(rough.across)
    ways = ((along, rough.ahead), (across, rough.left))
    weights = [sum(weight * way[i] * way[j] for weight, way in ways) for i, j in AXES]
    return np.stack([penalty_band(knots, PRIOR_ORDER, weight) for weight in weights])


def about_snap(knots: Knots, rough: Roughness, snap: FloatArray) -> FloatArray:
    """Right side of the prior of :func:`rough_band` about paths of a given snap, ``(2, coefficients)``.

    Args:
        knots: of the path.
        rough: as there.
        snap: fourth derivative at the knots, east and north, ``(2, intervals + 1)``; between them it runs straight.
    """
    ways = ((rough.along, rough.ahead), (rough.across, rough.left))

    def weighed(vectors: FloatArray) -> FloatArray:
        return sum(np.sum(way * vectors, axis=0) / np.square(level) * way for level, way in ways)

    start, end = snap[:, :-1], snap[:, 1:]
    at_knots = np.zeros_like(snap)
    # Integrals over an interval of the product of two straight runs.
    at_knots[:, :-1] += knots.spacing_s / 6.0 * weighed(2.0 * start + end)
    at_knots[:, 1:] += knots.spacing_s / 6.0 * weighed(start + 2.0 * end)
    back = [np.convolve(axis, _FOURTH_DIFFERENCE) for axis in at_knots]
    return np.stack(back) / knots.spacing_s**PRIOR_ORDER


def chord_band(knots: Knots, time_s: FloatArray) -> FloatArray:
    """Prior precision of one axis that keeps the path near the chord over holes in the log, ``(6, coefficients)``.

    In a hole of a minute the prior of :func:`smooth_band` lets the path swing out by many kilometres, and in one of two
    minutes it is so weak that the system loses its last digits. But nobody rides far above 50 m/s, and that holds the path.

    Args:
        knots: of the path.
        time_s: times of the fixes, increasing, shape ``(n,)``.
    """
    last_before = np.flatnonzero(np.diff(time_s) >= HOLE_S)
    if not len(last_before):
        return np.zeros((SUPPORT, knots.coefficients))
    hole = np.zeros(knots.intervals)
    index = knots.locate(time_s)[0]
    for before in last_before:
        hole[index[before] + 1 : index[before + 1]] = 1.0
    return penalty_band(knots, 1, hole / CHORD_MPS**2)
