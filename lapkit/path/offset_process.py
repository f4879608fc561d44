"""What all sights of the position offset say together, and of the process that it follows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.linalg.lapack import dpotrf, dpotrs
from scipy.optimize import minimize, minimize_scalar

from lapkit.errors import PathError
from lapkit.path.offset_knots import OffsetKnots, Sight
from lapkit.units import FloatArray

PRIOR_SD_M = 1.5
"""Standalone receivers err 1.3–2.1 m per axis (data sheets)."""

_SIZES_M = np.array([PRIOR_SD_M, 2.5, 4.0])
"""What the sights may say instead: a receiver under trees, a phone (common practice, no source). That one
is better than most they do not say: its offset may hardly move and yet be large."""

_SHARES = np.array([0.75, 0.2, 0.05])
"""How many receivers err by each size (our choice). Sights that show only how the offset moved are as likely with
every one of them, and the likeliest was then 4 m, by chance."""

# How long an offset may remember itself: what is shorter is the wander's, and a longer one does not show in a run.
_TIMES_S = (120.0, 3600.0)
# Where it is known how far off the receiver stood, and not only where it cannot have been.
_LONGEST_S = 18_000.0
_FIRST_STEPS = np.array([[0.0, 0.0], [-0.2, 0.0], [0.0, -0.4]])  # of the logarithms
_STEEP = 1e3  # leads a search back between its bounds


class Wander(NamedTuple):
    """The Gauss–Markov process of one component: standard deviation, metres, and memory, seconds."""

    sd_m: float
    memory_s: float


UNTOLD = Wander(PRIOR_SD_M, 600.0)
"""What is taken where nothing tells."""


def _add_process(precision: FloatArray, knots: OffsetKnots, wander: Wander) -> float:
    """Add the precision of both components' Gauss–Markov process; its log determinant.

    Only the upper half of ``precision``, ``(2 knots, 2 knots)`` in one piece, is filled, which is all that its
    Cholesky factor asks for.
    """
    n = len(knots.time_s)
    keep = np.exp(-knots.step_s / wander.memory_s)
    step = wander.sd_m**2 * (1.0 - keep**2)
    diagonal = np.full((2, n), (1.0 + keep**2) / step)
    diagonal[:, [0, -1]] = 1.0 / step
    beside = np.full((2, n), -keep / step)
    beside[:, -1] = 0.0
    entries = precision.ravel()
    entries[:: 2 * n + 1] += diagonal.ravel()
    entries[1 :: 2 * n + 1] += beside.ravel()[:-1]
    return -2.0 * float((n - 1) * np.log(step) + 2.0 * np.log(wander.sd_m))


def _folded(told: FloatArray) -> FloatArray:
    """What is told of both components' knots, ``(2 knots, ...)``, as told of every other knot.

    Those left out lie halfway between two that stay (:meth:`~lapkit.path.offset_knots.OffsetKnots.thinned`).
    """
    knots = told.reshape(2, -1, *told.shape[1:])
    stay, between = knots[:, ::2], 0.5 * knots[:, 1::2]
    out = np.zeros((2, knots.shape[1] // 2 + 1, *told.shape[1:]))
    out[:, : stay.shape[1]] += stay
    out[:, : between.shape[1]] += between
    out[:, 1 : between.shape[1] + 1] += between
    return out.reshape(-1, *told.shape[1:])


@dataclass(frozen=True, eq=False)
class Told:
    """What all sights together say: precision ``(2 knots, 2 knots)`` and right side.

    ``constant`` is the part of −2 log likelihood that is theirs alone, ``firm`` whether any sight is.
    """

    knots: OffsetKnots
    precision: FloatArray
    right: FloatArray
    constant: float
    firm: bool

    @classmethod
    def by(cls, knots: OffsetKnots, sights: list[Sight]) -> Told:
        """All of ``sights`` together."""
        n = 2 * len(knots.time_s)
        told = [s.information for s in sights]
        return cls(
            knots,
            sum((t[0] for t in told), np.zeros((n, n))),
            sum((t[1] for t in told), np.zeros(n)),
            sum(t[2] + t[3] for t in told),
            any(s.firm for s in sights),
        )

    def posterior(self, wander: Wander) -> tuple[FloatArray, FloatArray, float]:
        """Upper Cholesky factor, mean, and −2 log likelihood but for n log 2π."""
        precision = self.precision.copy()
        log_det_before = _add_process(precision, self.knots, wander)
        # Straight from LAPACK, whose columns are rows here: asked for a hundred times a log, and these are small.
        lower, info = dpotrf(precision.T, lower=1, clean=1, overwrite_a=1)
        if info:
            raise PathError("the position offset is not determined")
        mean, _ = dpotrs(lower, self.right, lower=1)
        factor = lower.T
        log_det = 2.0 * float(np.sum(np.log(factor.diagonal())))
        minus_2_log = self.constant + log_det - log_det_before - float(self.right @ mean)
        return factor, mean, minus_2_log

    def wander(self) -> Wander:
        """Memory of the process by maximum likelihood, and its size: a receiver may be worse than most."""
        told = self.at_every_other_knot()
        return told.of_probable_size(told.memory_s(PRIOR_SD_M))

    def of_probable_size(self, memory_s: float) -> Wander:
        """The process that moves as fast as the prior's size with that memory, its size what the sights leave probable.

        That is the root mean square of the sizes, each counted as often as receivers and sights together say.
        """
        # How fast it moves, sd²/memory, is told best, and stays.
        grown = np.square(_SIZES_M / PRIOR_SD_M)
        tried = [Wander(PRIOR_SD_M * float(np.sqrt(g)), memory_s * float(g)) for g in grown]
        misfit = np.array([self.posterior(wander)[2] for wander in tried])
        probable = _SHARES * np.exp(-0.5 * (misfit - misfit.min()))
        mean = float(probable @ grown / probable.sum())
        return Wander(PRIOR_SD_M * float(np.sqrt(mean)), memory_s * mean)

    def at_every_other_knot(self) -> Told:
        """The same with the offset running straight past every other knot.

        That is near enough to tell how it moves over minutes, and an eighth of the work.
        """
        thin = self.knots.thinned()
        precision = _folded(_folded(self.precision).T)
        return replace(self, knots=thin, precision=precision, right=_folded(self.right))

    def beside(self, loose: Sight, near: Wander) -> tuple[float, Wander]:
        """How far ``loose`` sights scatter, metres, and the process, beside these: the likeliest pair.

        One before the other is a trap: what the offset does not explain yet counts as scatter, and sights
        that scatter so widely do not show that it moved.
        """
        # Every fourth knot tells the scatter as well, and the search asks some hundred times a log.
        own, told = (
            each.at_every_other_knot().at_every_other_knot()
            for each in (self, Told.by(self.knots, [replace(loose, sd_m=1.0)]))
        )
        least, most = np.log((_TIMES_S[0], self._longest_s))
        values = loose.sums.free_values

        def both(log_scatter: float) -> Told:
            weight = np.exp(-2.0 * log_scatter)
            return replace(
                own,
                precision=own.precision + weight * told.precision,
                right=own.right + weight * told.right,
                constant=own.constant + weight * told.constant + 2.0 * values * log_scatter,
            )

        def minus_2_log(log_of: FloatArray) -> float:
            inside = np.clip(log_of[1], least, most)
            wander = Wander(PRIOR_SD_M, float(np.exp(inside)))
            return both(log_of[0]).posterior(wander)[2] + _STEEP * abs(log_of[1] - inside)

        begin = np.log((loose.sd_m, near.memory_s * (PRIOR_SD_M / near.sd_m) ** 2))
        found = minimize(
            minus_2_log,
            begin,
            method="Nelder-Mead",
            options={
                "initial_simplex": begin + _FIRST_STEPS,
                "xatol": 0.2,
                "fatol": 0.2,
                "maxfev": 40,
            },
        ).x
        memory_s = float(np.exp(np.clip(found[1], least, most)))
        return float(np.exp(found[0])), both(found[0]).of_probable_size(memory_s)

    @property
    def _longest_s(self) -> float:
        return _LONGEST_S if self.firm else _TIMES_S[1]

    def memory_s(self, sd_m: float) -> float:
        """The likeliest memory of a process of that size, seconds."""
        found = minimize_scalar(
            lambda log_time: self.posterior(Wander(sd_m, float(np.exp(log_time))))[2],
            bounds=tuple(np.log((_TIMES_S[0], self._longest_s))),
            method="bounded",
            options={"xatol": 0.1, "maxiter": 15},
        )
        return float(np.exp(found.x))
