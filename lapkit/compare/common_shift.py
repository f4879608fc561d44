"""The part of a change of line that is the same everywhere: the position offset, not the rider.

Two runs' offsets differ by one vector, and every cone sees its own part of it: a shift to the east
is wide in one corner and inside in another. A rider who changes his line does not change it by
compass.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.compare.stats import LEAST_SPREAD
from lapkit.path.summary import SD_PER_MEDIAN
from lapkit.units import FloatArray

_ROUNDS = 30  # of 300 drawn courses the worst has 4 cm to go after them
_UNKNOWNS = 2  # the shift east and north
_LEAST_M2 = 1e-6  # a millimetre, squared: no line is known better
_ORDINARY = 1.5  # standard deviations within which a cone counts in full


class Shift(NamedTuple):
    """East and north, metres, ``(..., 2)``, and the covariance of what is not known of it, ``(..., 2, 2)``."""

    metres: FloatArray
    covariance: FloatArray


def common_shift(
    change_m: FloatArray,
    variance_m2: FloatArray,
    outward: FloatArray,
    spread_m: float,
    counted: np.ndarray | None = None,
) -> Shift:
    """Fit the common shift to changes of line at many cones, those that changed of themselves apart.

    Args:
        change_m: how much wider at each cone, ``(n,)``.
        variance_m2: variance of each by the scatter of laps, ``(n,)``.
        outward: unit vector to the outside at each cone, east and north, ``(n, 2)``.
        spread_m: one standard deviation of the shift per axis before any cone was looked at.
        counted: for each of several fits which cones take part, ``(..., n)``; one fit to all when None.

    Huber's weights, iterated: cones that really changed pull the rest along by no more than one
    that scattered far would. Where cones agree less with any one shift than the scatter of laps lets
    them, by the median of their misfits, what is known of it is less by as much.
    """
    counted = np.ones(len(change_m), dtype=bool) if counted is None else counted
    prior = np.eye(2) / max(spread_m, LEAST_SPREAD) ** 2
    variance = np.maximum(variance_m2, _LEAST_M2)
    squares = (outward[:, :, None] * outward[:, None, :]).reshape(-1, 4)
    shift = np.zeros((*counted.shape[:-1], 2))

    def away(shift: FloatArray) -> FloatArray:
        return np.abs(change_m - shift @ outward.T) / np.sqrt(variance)

    for _ in range(_ROUNDS):
        weight = counted * np.minimum(1.0, _ORDINARY / np.maximum(away(shift), 1e-9)) / variance
        seen = (weight @ squares).reshape(*shift.shape, 2)
        covariance = np.linalg.inv(prior + seen)
        shift = np.squeeze(covariance @ ((weight * change_m) @ outward)[..., None], axis=-1)
    misfit = _misfit(away(shift), counted)[..., None, None]
    known = prior + seen / misfit
    return Shift(shift, np.asarray(np.linalg.inv(known), dtype=np.float64))


def _misfit(away: FloatArray, counted: np.ndarray) -> FloatArray:
    """By how much more the cones of each fit disagree than their scatter lets them, as a variance, ``(...)``."""
    cones = np.count_nonzero(counted, axis=-1)
    enough = cones > _UNKNOWNS
    # Where there are too few, any middle will do.
    middle = np.nanmedian(np.where(counted | ~enough[..., None], away, np.nan), axis=-1)
    free = 1.0 - _UNKNOWNS / np.where(enough, cones, np.inf)
    return np.where(enough, np.maximum(np.square(SD_PER_MEDIAN * middle) / free, 1.0), 1.0)
