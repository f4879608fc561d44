"""The part of a change of line that is the same everywhere: the position offset, not the rider.

Two runs' offsets differ by one vector, and every cone sees its own part of it: a shift to the east
is wide in one corner and inside in another. A rider who changes his line does not change it by
compass.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.path.summary import SD_PER_MEDIAN
from lapkit.units import FloatArray

_ROUNDS = 30
_UNKNOWNS = 2  # the shift east and north
_ORDINARY = 1.5  # standard deviations within which a cone counts in full


class Shift(NamedTuple):
    """East and north, metres, ``(2,)``, and the covariance of what is not known of it, ``(2, 2)``."""

    metres: FloatArray
    covariance: FloatArray


def common_shift(
    change_m: FloatArray, variance_m2: FloatArray, outward: FloatArray, spread_m: float
) -> Shift:
    """Fit the common shift to changes of line at many cones, those that changed of themselves apart.

    Args:
        change_m: how much wider at each cone, ``(n,)``.
        variance_m2: variance of each by the scatter of laps, ``(n,)``.
        outward: unit vector to the outside at each cone, east and north, ``(n, 2)``.
        spread_m: one standard deviation of the shift per axis before any cone was looked at.

    Huber's weights, iterated: cones that really changed pull the rest along by no more than one
    that scattered far would. Where cones agree less with any one shift than the scatter of laps lets
    them, by the median of their misfits, what is known of it is less by as much.
    """
    prior = np.eye(2) / max(spread_m, 1e-6) ** 2
    shift, covariance = np.zeros(2), np.linalg.inv(prior)
    variance = np.maximum(variance_m2, 1e-6)
    for _ in range(_ROUNDS):
        away = np.abs(change_m - outward @ shift) / np.sqrt(variance)
        weight = np.minimum(1.0, _ORDINARY / np.maximum(away, 1e-9)) / variance
        covariance = np.linalg.inv(prior + (outward * weight[:, None]).T @ outward)
        shift = covariance @ ((outward * weight[:, None]).T @ change_m)
    if len(change_m) > _UNKNOWNS:
        away = np.abs(change_m - outward @ shift) / np.sqrt(variance)
        free = 1.0 - _UNKNOWNS / len(change_m)
        misfit = max(float(np.square(SD_PER_MEDIAN * np.median(away))) / free, 1.0)
        seen = np.linalg.inv(covariance) - prior
        covariance = np.linalg.inv(prior + seen / misfit)
    return Shift(shift, covariance)
