"""The receiver's slow position offset: shared by everything near in time, and decisive for every seam call.

Two components, east and north, each a Gauss–Markov process at knots every ten seconds. What tells of it:

- stops at the hold point, whose place is known;
- a base log, whose own offset is seen all the while;
- the edges: a machine on its wheels is between them;
- the rider's own laps: one usual line, seen again and again, shows how the offset moved between laps
  (never where it stood), since a shift of the receiver moves every corner the same way on the map.

All enter one small Gaussian system; its Cholesky factor gives the draws.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular
from scipy.optimize import minimize_scalar

from lapkit.units import FloatArray

STEP_S = 10.0
"""Knot spacing of the offset, seconds."""

PRIOR_SD_M = 1.5
"""Standalone receivers err 1.3–2.1 m per axis (data sheets); refined by nothing a day's log can tell."""

_TIMES_S = (120.0, 3600.0)


@dataclass(frozen=True, eq=False)
class Sight:
    """Linear sights of the offset: ``rows @ offset = value`` within ``sd_m``.

    ``rows`` has shape ``(n, 2 · knots)`` (east knots, then north), ``value`` shape ``(n,)``. Where
    ``group`` is given, each group of rows shares an unknown constant.
    """

    rows: FloatArray
    value: FloatArray
    sd_m: float
    group: np.ndarray | None = None

    def information(self) -> tuple[FloatArray, FloatArray, float, float]:
        """Precision, right side, sum of squares and log determinant of the noise."""
        rows, value = self.rows, self.value
        count = float(len(value))
        if self.group is not None:
            _, slot, sizes = np.unique(self.group, return_inverse=True, return_counts=True)
            means = np.zeros((len(sizes), rows.shape[1]))
            np.add.at(means, slot, rows)
            rows = rows - (means / sizes[:, None])[slot]
            value = value - (np.bincount(slot, value) / sizes)[slot]
            count -= len(sizes)
        scale = self.sd_m**-2
        return (
            rows.T @ rows * scale,
            rows.T @ value * scale,
            float(value @ value) * scale,
            2.0 * count * float(np.log(self.sd_m)),
        )


@dataclass(frozen=True, eq=False)
class OffsetKnots:
    """Evenly spaced knots of the offset process, seconds; shape ``(n,)``."""

    time_s: FloatArray

    @classmethod
    def covering(cls, start_s: float, stop_s: float) -> OffsetKnots:
        """Knots every ten seconds over a span of time."""
        count = int(np.ceil((stop_s - start_s) / STEP_S)) + 1
        return cls(start_s + STEP_S * np.arange(max(count, 2)))

    def weights(self, time_s: FloatArray) -> FloatArray:
        """Straight-line interpolation between knots as a matrix, shape ``(n, knots)``."""
        place = np.clip((time_s - self.time_s[0]) / STEP_S, 0.0, len(self.time_s) - 1.0)
        index = np.minimum(place.astype(np.int64), len(self.time_s) - 2)
        matrix = np.zeros((len(place), len(self.time_s)))
        matrix[np.arange(len(place)), index] = 1.0 - (place - index)
        matrix[np.arange(len(place)), index + 1] = place - index
        return matrix

    def sight(
        self,
        time_s: FloatArray,
        direction: FloatArray,
        value: FloatArray,
        sd_m: float,
        group: np.ndarray | None = None,
    ) -> Sight:
        """Sights of the offset's component along unit vectors ``direction``, shape ``(n, 2)``."""
        weights = self.weights(time_s)
        rows = np.concatenate([weights * direction[:, :1], weights * direction[:, 1:]], axis=1)
        return Sight(rows, value, sd_m, group)


@dataclass(frozen=True, eq=False)
class PositionOffset:
    """Posterior of the offset at its knots: ``rows`` of shape ``(1 + draws, 2, knots)``, metres.

    Row 0 is the estimate. ``source`` is the contract's ``offset_from``.
    """

    knots: OffsetKnots
    rows: FloatArray
    sd_m: FloatArray
    source: str
    notes: tuple[str, ...] = field(default=())

    def at(self, time_s: FloatArray) -> FloatArray:
        """Offset rows at times, shape ``(1 + draws, 2, n)``, metres."""
        place = np.clip((time_s - self.knots.time_s[0]) / STEP_S, 0.0, self.rows.shape[2] - 1.0)
        index = np.minimum(place.astype(np.int64), self.rows.shape[2] - 2)
        part = place - index
        return self.rows[:, :, index] * (1.0 - part) + self.rows[:, :, index + 1] * part

    @property
    def typical_sd_m(self) -> float:
        """Root mean square over the log of the offset's standard deviation, per axis, metres."""
        return float(np.sqrt(np.mean(np.square(self.sd_m))))


def _process_precision(knots: OffsetKnots, time_s: float) -> FloatArray:
    n = len(knots.time_s)
    keep = np.exp(-STEP_S / time_s)
    step = PRIOR_SD_M**2 * (1.0 - keep**2)
    diagonal = np.full(n, (1.0 + keep**2) / step)
    diagonal[[0, -1]] = 1.0 / step
    off = np.full(n - 1, -keep / step)
    return np.diag(diagonal) + np.diag(off, 1) + np.diag(off, -1)


def find_offset(
    knots: OffsetKnots,
    sights: list[Sight],
    source: str,
    draws: int,
    seed: int,
    notes: tuple[str, ...] = (),
) -> PositionOffset:
    """Posterior of the offset from all sights; its correlation time by maximum likelihood.

    With no sight at all the prior stays, and with it the spread in every draw.
    """
    n = len(knots.time_s)
    told = [s.information() for s in sights]
    precision = sum((t[0] for t in told), np.zeros((2 * n, 2 * n)))
    right = sum((t[1] for t in told), np.zeros(2 * n))

    def posterior(log_time: float) -> tuple[tuple[FloatArray, bool], FloatArray, float]:
        one = _process_precision(knots, float(np.exp(log_time)))
        prior = np.zeros((2 * n, 2 * n))
        prior[:n, :n] = prior[n:, n:] = one
        factor = cho_factor(prior + precision)
        mean = cho_solve(factor, right)
        log_det = 2.0 * np.sum(np.log(np.diag(factor[0])))
        cost = log_det - 2.0 * np.linalg.slogdet(one)[1] - float(right @ mean)
        return factor, mean, cost

    log_time = float(np.log(600.0))
    if sights:
        found = minimize_scalar(
            lambda lt: posterior(lt)[2],
            bounds=tuple(np.log(_TIMES_S)),
            method="bounded",
            options={"xatol": 0.1, "maxiter": 15},
        )
        log_time = float(found.x)
    factor, mean, _ = posterior(log_time)
    z = np.random.default_rng(seed).standard_normal((2 * n, draws))
    noise = solve_triangular(factor[0], z, lower=factor[1])
    rows = np.concatenate([mean[None], (mean[:, None] + noise).T]).reshape(-1, 2, n)
    inverse = solve_triangular(factor[0], np.eye(2 * n), lower=factor[1])
    sd = np.sqrt(np.sum(np.square(inverse), axis=1)).reshape(2, n)
    return PositionOffset(knots, rows, sd, source, notes)
