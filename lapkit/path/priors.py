"""What is taken for granted of the ridden path: it is smooth, and in a hole it keeps near the chord."""

from __future__ import annotations

import numpy as np

from lapkit.path.banded import penalty_band
from lapkit.path.roughness import PRIOR_ORDER, Roughness
from lapkit.path.spline import Knots
from lapkit.path.unknowns import AXES
from lapkit.units import FloatArray

HOLE_S = 10.0
"""Without a fix for so long nothing is left of where the rider was going, seconds."""

CHORD_MPS = 50.0
"""Speed, one standard deviation over a second, that a rider may have had in such a hole, m/s."""


def smooth_band(knots: Knots, roughness: FloatArray) -> FloatArray:
    """Prior precision of one axis of the path for a roughness an interval, shape ``(intervals,)``.

    It does not couple it with the other: an upper band of shape ``(6, coefficients)``.
    """
    return penalty_band(knots, PRIOR_ORDER, 1.0 / np.square(roughness))


def both_axes(band: FloatArray) -> FloatArray:
    """A band that is the same for both axes, written for the pairs of :data:`AXES`: ``(3, 6, coefficients)``."""
    return np.stack([band, np.zeros_like(band), band])


def rough_band(knots: Knots, rough: Roughness) -> FloatArray:
    """Prior precision of the path for a roughness along and across; shape as of :func:`both_axes`."""
    along, across = 1.0 / np.square(rough.along), 1.0 / np.square(rough.across)
    ways = ((along, rough.ahead), (across, rough.left))
    weights = [sum(weight * way[i] * way[j] for weight, way in ways) for i, j in AXES]
    return np.stack([penalty_band(knots, PRIOR_ORDER, weight) for weight in weights])


def chord_band(knots: Knots, time_s: FloatArray) -> FloatArray:
    """Prior precision that keeps the path near the chord over holes in the log; a band as above.

    In a hole of a minute the prior of :func:`smooth_band` lets the path swing out by many kilometres, and
    after two it is so weak beside its own size that the system loses its last digits. That nobody rides far
    above 50 m/s holds it, and says no more than is known.

    Args:
        knots: of the path.
        time_s: times of the fixes, increasing, shape ``(n,)``.
    """
    hole = np.zeros(knots.intervals)
    index = knots.locate(time_s)[0]
    for before in np.flatnonzero(np.diff(time_s) >= HOLE_S):
        hole[index[before] + 1 : index[before + 1]] = 1.0
    return penalty_band(knots, 1, hole / CHORD_MPS**2)
