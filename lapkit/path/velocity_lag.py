"""How late a receiver logged its velocities, which are then dated back."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.displacements import Displacements, logged_velocities, usual_step_s
from lapkit.path.model import Observed

_STEP_S = 0.05
# Lags that are tried: receivers filter velocities for up to half a second.
_LAGS_S = np.arange(-0.2, 0.65, _STEP_S)
_LEAST_LAG_S = 0.04  # a smaller one is within the error of what is found
_REACH_S = 0.3  # each way of a displacement; fixes further apart show no lag
_FEWEST = 100  # displacements; with fewer a lag is chance
_EVEN = 1.2  # times its usual duration: a longer displacement has a gap in it
_ASIDE = 4  # steps, two thirds of the way from a displacement's middle to its ends


def velocity_lag_s(seen: Observed) -> float:
    """How late the logged velocity is compared with the positions, seconds; 0 when that cannot be told.

    Displacements over a few fixes are velocities of the positions' own. The lag is that at which the logged velocities
    agree with them best (parabola through the best three of a grid). Lags below 40 ms are taken as none.
    """
    if np.count_nonzero(seen.velocity_weight > 0) < _FEWEST or usual_step_s(seen) > _REACH_S:
        return 0.0
    moved = Displacements.of(seen, _REACH_S, _EVEN)
    if len(moved.middle_s) < _FEWEST:
        return 0.0
    costs = _disagreements(moved, *logged_velocities(seen))
    best = int(np.argmin(costs))
    if not 0 < best < len(costs) - 1:
        return 0.0
    below, at, above = costs[best - 1 : best + 2]
    bend = below - 2 * at + above
    lag = _LAGS_S[best] + _STEP_S * 0.5 * (below - above) / bend if bend > 0 else 0.0
    return float(lag) if abs(lag) >= _LEAST_LAG_S else 0.0


def _disagreements(
    moved: Displacements, logged_s: FloatArray, logged_mps: np.ndarray
) -> FloatArray:
    """Median squared difference of displacements' velocities and logged ones, m²/s², for each lag of :data:`_LAGS_S`."""

    @cache
    def logged_at(steps: int) -> np.ndarray:
        return np.interp(moved.middle_s + _STEP_S * steps, logged_s, logged_mps)

    costs = []
    for lag in np.round(_LAGS_S / _STEP_S).astype(int):
        # A displacement averages the velocity over its span, and a weighted mean of three points does nearly the same.
        before, at, after = (logged_at(lag + aside) for aside in (-_ASIDE, 0, _ASIDE))
        off = 0.25 * before + 0.5 * at + 0.25 * after - moved.mean_mps
        costs.append(np.median(np.square(off.real) + np.square(off.imag)))
    return np.array(costs)


def without_lag(seen: Observed, lag_s: float) -> Observed:
    """The same observations with every velocity dated back by the lag."""
    return replace(seen, velocity_time_s=seen.time_s - lag_s) if lag_s else seen
