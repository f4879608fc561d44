"""The part of a change of line that is the same shift everywhere, and so the position offset's and not the rider's.

The position offsets of two runs differ by one vector, and every cone sees its own component of it: a shift to the east is
wide in one corner and inside in another. A rider who changes his line does not change it by the compass.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.stats import LEAST_SPREAD
from lapkit.path.summary import SD_PER_MEDIAN

_ROUNDS = 30  # the worst of 300 drawn courses is then 4 cm from where it converges
_UNKNOWNS = 2  # the shift east and north
_LEAST_M2 = 1e-6  # variance of a change at least, a millimetre squared: no line is known better
_ORDINARY = 1.5  # standard deviations within which a cone has its full weight


class Shift(NamedTuple):
    """A shift east and north, metres, ``(..., 2)``, and its covariance, square metres, ``(..., 2, 2)``."""

    metres: FloatArray
    covariance: FloatArray


def common_shift(
    change_m: FloatArray,
    variance_m2: FloatArray,
    outward: FloatArray,
    spread_m: float,
    counted: np.ndarray | None = None,
) -> Shift:
    """Fit the common shift to changes of line at many cones, robustly against cones that changed by themselves.

    Args:
        change_m: how much further out the line passes each cone, ``(n,)``.
        variance_m2: variance of each change from the scatter of laps, ``(n,)``.
        outward: unit vector to the outside at each cone, east and north, ``(n, 2)``.
        spread_m: prior standard deviation of the shift per axis.
        counted: for each of several fits which cones take part, ``(..., n)``; one fit to all cones when None.

    The weights are Huber's, iterated: a cone that really changed pulls the fit by no more than one with large scatter
    would. Where cones agree less with the shift than their variances allow, by the median of their misfits, the covariance
    is enlarged accordingly.
    """
    counted = np.ones(len(change_m), dtype=bool) if counted is None else counted
    prior = np.eye(2) / max(spread_m, LEAST_SPREAD) ** 2
    variance = np.maximum(variance_m2, _LEAST_M2)
    squares = (outward[:, :, None] * outward[:, None, :]).reshape(-1, 4)
    shift = np.zeros((*counted.shape[:-1], 2))

    def standardised_residual(shift: FloatArray) -> FloatArray:
        return np.abs(change_m - shift @ outward.T) / np.sqrt(variance)

    for _ in range(_ROUNDS):
        residual = np.maximum(standardised_residual(shift), 1e-9)
        weight = counted * np.minimum(1.0, _ORDINARY / residual) / variance
        information = (weight @ squares).reshape(*shift.shape, 2)
        covariance = np.linalg.inv(prior + information)
        shift = np.squeeze(covariance @ ((weight * change_m) @ outward)[..., None], axis=-1)
    misfit = _misfit(standardised_residual(shift), counted)[..., None, None]
    precision = prior + information / misfit
    return Shift(shift, np.asarray(np.linalg.inv(precision), dtype=np.float64))


def _misfit(residual: FloatArray, counted: np.ndarray) -> FloatArray:
    """Variance of the standardised residuals of each fit's cones, at least 1, ``(...)``."""
    cones = np.count_nonzero(counted, axis=-1)
    enough = cones > _UNKNOWNS
    # A fit with too few cones takes the median of all instead, which is not used, so that none is empty.
    median = np.nanmedian(np.where(counted | ~enough[..., None], residual, np.nan), axis=-1)
    free = 1.0 - _UNKNOWNS / np.where(enough, cones, np.inf)
    return np.where(enough, np.maximum(np.square(SD_PER_MEDIAN * median) / free, 1.0), 1.0)
