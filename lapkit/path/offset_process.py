"""The Gauss–Markov process that the position offset follows, and its posterior under all sights together.

The offset moves over minutes. "Wander" is the word for the receiver's error of some seconds
(:mod:`~lapkit.path.model`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.linalg.lapack import dpotrf, dpotrs
from scipy.optimize import minimize, minimize_scalar

from lapkit.arrays import FloatArray
from lapkit.errors import PathError
from lapkit.path.offset_knots import OffsetKnots, folded
from lapkit.path.offset_sight import Sight

PRIOR_SD_M = 1.5
"""Standard deviation of the offset per axis, metres: standalone receivers err 1.3–2.1 m (data sheets)."""

_SIZES_M = np.array([PRIOR_SD_M, 2.5, 4.0])
"""Sizes of the process that are tried: most receivers, one under trees, a phone (common practice, no source). None is
smaller, since sights never show that a receiver is better than most: an offset may hardly move and yet be large."""

_SHARES = np.array([0.75, 0.2, 0.05])
"""Prior probability of each size (our choice). Sights that show only how the offset moved are equally likely under
all three; without these shares 4 m was then the likeliest, by chance."""

# Bounds on the memory, seconds. A shorter memory is the wander's; a longer one does not show in one run.
_SHORTEST_MEMORY_S, _LONGEST_MEMORY_S = 120.0, 3600.0
# The upper bound with a firm sight, which shows what the offset was and not only what it cannot have been.
_LONGEST_FIRM_MEMORY_S = 18_000.0
# Corners of the first simplex, from where the search begins: logarithms of scatter and memory.
_FIRST_STEPS = np.array([[0.0, 0.0], [-0.2, 0.0], [0.0, -0.4]])
_STEEP = 1e3  # penalty that leads a search back between its bounds


class OffsetProcess(NamedTuple):
    """The Gauss–Markov process of one component: standard deviation, metres, and memory, seconds.

    The memory is the time over which its correlation falls to 1/e.
    """

    sd_m: float
    memory_s: float

    def larger(self, by_m: float) -> OffsetProcess:
        """One that strays further by another standard deviation, metres, and moves as fast."""
        grown = 1.0 + (by_m / self.sd_m) ** 2
        return OffsetProcess(self.sd_m * float(np.sqrt(grown)), self.memory_s * grown)


USUAL_PROCESS = OffsetProcess(PRIOR_SD_M, 600.0)
"""The process assumed where there is no sight to find it from."""


def _add_process(precision: FloatArray, knots: OffsetKnots, process: OffsetProcess) -> float:
    """Add the prior precision of both components in place, and return its log determinant.

    Only the upper half of ``precision``, a contiguous ``(2 knots, 2 knots)``, is filled, which is all that its Cholesky
    factor needs.
    """
    n = len(knots.time_s)
    keep = np.exp(-knots.step_s / process.memory_s)
    step = process.sd_m**2 * (1.0 - keep**2)
    diagonal = np.full((2, n), (1.0 + keep**2) / step)
    diagonal[:, [0, -1]] = 1.0 / step
    beside = np.full((2, n), -keep / step)
    beside[:, -1] = 0.0
    entries = precision.ravel()
    entries[:: 2 * n + 1] += diagonal.ravel()
    entries[1 :: 2 * n + 1] += beside.ravel()[:-1]
    return -2.0 * float((n - 1) * np.log(step) + 2.0 * np.log(process.sd_m))


def probabilities(prior: FloatArray, minus_2_log: FloatArray) -> FloatArray:
    """How probable each hypothesis is, from its prior probability and −2 log likelihood, ``(n,)`` each: Bayes' rule."""
    joint = prior * np.exp(-0.5 * (minus_2_log - np.min(minus_2_log)))
    return np.asarray(joint / np.sum(joint), dtype=np.float64)


class OffsetPosterior(NamedTuple):
    """Posterior of the offset at the knots, component east and then north.

    ``factor`` ``(2 knots, 2 knots)`` is the upper Cholesky factor of the precision, ``mean`` ``(2 knots,)`` in metres,
    ``minus_2_log`` −2 log likelihood of the sights without n log 2π.
    """

    factor: FloatArray
    mean: FloatArray
    minus_2_log: float


@dataclass(frozen=True, eq=False)
class Information:
    """All sights of the offset in information form.

    Attributes:
        knots: of the offset.
        precision: of the knots' component east, then north, ``(2 knots, 2 knots)``.
        right: right side, ``(2 knots,)``.
        constant: the part of −2 log likelihood that does not depend on the process.
        firm: whether any of the sights is firm (:class:`~lapkit.path.offset_sight.Sight`).
    """

    knots: OffsetKnots
    precision: FloatArray
    right: FloatArray
    constant: float
    firm: bool

    @classmethod
    def of(cls, knots: OffsetKnots, sights: list[Sight]) -> Information:
        """Sum the information of ``sights``."""
        n = 2 * len(knots.time_s)
        precision, right, constant = np.zeros((n, n)), np.zeros(n), 0.0
        for sight in sights:
            shown = sight.information
            precision += shown.precision
            right += shown.right
            constant += shown.square + shown.log_det
        return cls(knots, precision, right, constant, any(sight.firm for sight in sights))

    def __add__(self, other: Information) -> Information:
        """The information of both together, at the same knots."""
        return Information(
            self.knots,
            self.precision + other.precision,
            self.right + other.right,
            self.constant + other.constant,
            self.firm or other.firm,
        )

    def posterior(self, process: OffsetProcess) -> OffsetPosterior:
        """The posterior under a process.

        Raises:
            PathError: the precision has no Cholesky factor.
        """
        precision = self.precision.copy()
        log_det_before = _add_process(precision, self.knots, process)
        # LAPACK itself, and transposed because its columns are rows here: called a hundred times a log on small
        # matrices, where the checks of scipy's wrapper would cost as much as the work.
        lower, info = dpotrf(precision.T, lower=1, clean=1, overwrite_a=1)
        if info:
            raise PathError(
                "stops, base log, edges and laps do not determine the receiver's position offset",
                remedy="Leave the base log out, or check the hold points and edges of the track file.",
            )
        mean, _ = dpotrs(lower, self.right, lower=1)
        factor = lower.T
        log_det = 2.0 * float(np.sum(np.log(factor.diagonal())))
        minus_2_log = self.constant + log_det - log_det_before - float(self.right @ mean)
        return OffsetPosterior(factor, mean, minus_2_log)

    def minus_2_log(self, process: OffsetProcess) -> float:
        """−2 log likelihood of the sights under a process, without n log 2π."""
        return self.posterior(process).minus_2_log

    @property
    def _bounds_s(self) -> tuple[float, float]:
        """Bounds on the memory, seconds."""
        longest = _LONGEST_FIRM_MEMORY_S if self.firm else _LONGEST_MEMORY_S
        return _SHORTEST_MEMORY_S, longest

    def likeliest_process(self) -> OffsetProcess:
        """Memory by maximum likelihood at the prior's size, then the size that the sights make probable."""
        thinned = self.at_every_other_knot()
        return thinned.with_probable_size(thinned.likeliest_memory_s(PRIOR_SD_M))

    def likeliest_memory_s(self, sd_m: float) -> float:
        """The likeliest memory of a process of that size, seconds."""
        found = minimize_scalar(
            lambda log_memory: self.minus_2_log(OffsetProcess(sd_m, float(np.exp(log_memory)))),
            bounds=tuple(np.log(self._bounds_s)),
            method="bounded",
            options={"xatol": 0.1, "maxiter": 15},
        )
        return float(np.exp(found.x))

    def with_probable_size(self, memory_s: float) -> OffsetProcess:
        """The process of probable size that moves as fast as one of the prior's size with that memory.

        The size is the root mean square of :data:`_SIZES_M`, each weighted by its prior probability and its likelihood.
        The sights tell best how fast the offset moves, sd²/memory; so that ratio is kept for every size.
        """
        grown = np.square(_SIZES_M / PRIOR_SD_M)
        tried = [OffsetProcess(PRIOR_SD_M * float(np.sqrt(g)), memory_s * float(g)) for g in grown]
        misfit = np.array([self.minus_2_log(process) for process in tried])
        mean = float(probabilities(_SHARES, misfit) @ grown)
        return OffsetProcess(PRIOR_SD_M * float(np.sqrt(mean)), memory_s * mean)

    def at_every_other_knot(self) -> Information:
        """The same information without every other knot, past which the offset is taken to run straight.

        That is near enough to tell how it moves over minutes, at an eighth of the work.
        """
        thin = self.knots.thinned()
        precision = folded(folded(self.precision).T)
        return replace(self, knots=thin, precision=precision, right=folded(self.right))

    def scatter_and_process(self, loose: Sight, near: OffsetProcess) -> tuple[float, OffsetProcess]:
        """The jointly likeliest scatter of a further sight, metres, and process.

        Jointly, because one after the other misleads: what the offset does not explain yet counts as scatter, and sights
        believed to scatter so widely do not show that it moved.

        Args:
            loose: the sight whose scatter is looked for; the search begins at its ``sd_m``.
            near: where the search for the process begins.
        """
        # Every fourth knot tells the scatter as well, and the search asks some hundred times a log.
        own, unit = (
            each.at_every_other_knot().at_every_other_knot()
            for each in (self, Information.of(self.knots, [replace(loose, sd_m=1.0)]))
        )
        values = loose.sums.free_values
        shortest, longest = np.log(self._bounds_s)

        def minus_2_log(log_of: FloatArray) -> float:
            log_scatter, log_memory = log_of
            inside = min(max(log_memory, shortest), longest)
            process = OffsetProcess(PRIOR_SD_M, float(np.exp(inside)))
            beyond = abs(log_memory - inside)
            return own.beside(unit, values, log_scatter).minus_2_log(process) + _STEEP * beyond

        begin = np.log((loose.sd_m, near.memory_s * (PRIOR_SD_M / near.sd_m) ** 2))
        options = {
            "initial_simplex": begin + _FIRST_STEPS,
            "xatol": 0.2,
            "fatol": 0.2,
            "maxfev": 40,
        }
        log_scatter, log_memory = minimize(
            minus_2_log, begin, method="Nelder-Mead", options=options
        ).x
        memory_s = float(np.exp(np.clip(log_memory, shortest, longest)))
        both = own.beside(unit, values, log_scatter)
        return float(np.exp(log_scatter)), both.with_probable_size(memory_s)

    def beside(self, unit: Information, free_values: int, log_scatter: float) -> Information:
        """These sights together with others.

        Args:
            unit: the others, as they are with a scatter of one metre.
            free_values: how many free values they have (:attr:`~lapkit.path.offset_sight.Sums.free_values`).
            log_scatter: logarithm of their scatter in metres.
        """
        weight = np.exp(-2.0 * log_scatter)
        return replace(
            self,
            precision=self.precision + weight * unit.precision,
            right=self.right + weight * unit.right,
            constant=self.constant + weight * unit.constant + 2.0 * free_values * log_scatter,
        )
