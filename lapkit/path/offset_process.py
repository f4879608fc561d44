"""The process that the position offset follows, and what all its sights together say of it.

"Wander" is kept for the receiver's error of some seconds (:mod:`~lapkit.path.model`). The offset moves over
minutes, and is shared by every lap nearby in time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.linalg.lapack import dpotrf, dpotrs
from scipy.optimize import minimize, minimize_scalar

from lapkit.errors import PathError
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_sight import Sight
from lapkit.units import FloatArray

PRIOR_SD_M = 1.5
"""Standalone receivers err 1.3–2.1 m per axis (data sheets)."""

_SIZES_M = np.array([PRIOR_SD_M, 2.5, 4.0])
"""Sizes that the sights may ask for instead: a receiver under trees, a phone (common practice, no source). None is
smaller: sights never show that a receiver is better than most, since an offset may hardly move and yet be large."""

_SHARES = np.array([0.75, 0.2, 0.05])
"""Share of receivers of each size (our choice). Sights that show only how the offset moved are equally likely under
all three; without these shares the likeliest was then 4 m, by chance."""

# Bounds on the memory. An error that forgets sooner is the wander's; a longer memory does not show in one run.
_TIMES_S = (120.0, 3600.0)
# The upper bound where a firm sight tells where the offset stood, and not only where it cannot have been.
_LONGEST_S = 18_000.0
_FIRST_STEPS = np.array([[0.0, 0.0], [-0.2, 0.0], [0.0, -0.4]])  # of the logarithms
_STEEP = 1e3  # penalty that leads a search back between its bounds


class OffsetProcess(NamedTuple):
    """The Gauss–Markov process of one component: standard deviation, metres, and memory, seconds.

    The memory is the time over which its correlation falls to 1/e.
    """

    sd_m: float
    memory_s: float


USUAL_PROCESS = OffsetProcess(PRIOR_SD_M, 600.0)
"""Taken where there is no sight to find the process from."""


def _add_process(precision: FloatArray, knots: OffsetKnots, process: OffsetProcess) -> float:
    """Add the prior precision of both components; returns its log determinant.

    Only the upper half of ``precision``, ``(2 knots, 2 knots)`` in one piece, is filled, which is all that its
    Cholesky factor asks for.
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


def _folded(at_knots: FloatArray) -> FloatArray:
    """Precision or right side of both components' knots, ``(2 knots, ...)``, summed onto every other knot.

    The offset is taken to run straight past a knot that is left out
    (:meth:`~lapkit.path.offset_knots.OffsetKnots.thinned`), so each of its two neighbours gets half of it.
    """
    knots = at_knots.reshape(2, -1, *at_knots.shape[1:])
    stay, between = knots[:, ::2], 0.5 * knots[:, 1::2]
    out = np.zeros((2, knots.shape[1] // 2 + 1, *at_knots.shape[1:]))
    out[:, : stay.shape[1]] += stay
    out[:, : between.shape[1]] += between
    out[:, 1 : between.shape[1] + 1] += between
    return out.reshape(-1, *at_knots.shape[1:])


@dataclass(frozen=True, eq=False)
class Information:
    """All sights of the offset in information form.

    ``precision`` ``(2 knots, 2 knots)`` and ``right`` ``(2 knots,)`` are of the knots' component east, then north.
    ``constant`` is the part of −2 log likelihood that does not depend on the process, ``firm`` whether any sight is.
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
        each = [sight.information for sight in sights]
        return cls(
            knots,
            sum((one.precision for one in each), np.zeros((n, n))),
            sum((one.right for one in each), np.zeros(n)),
            sum(one.square + one.log_det for one in each),
            any(sight.firm for sight in sights),
        )

    def posterior(self, process: OffsetProcess) -> tuple[FloatArray, FloatArray, float]:
        """Upper Cholesky factor ``(2 knots, 2 knots)``, mean ``(2 knots,)``, and −2 log likelihood without n log 2π.

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
        return factor, mean, minus_2_log

    def likeliest_process(self) -> OffsetProcess:
        """Memory by maximum likelihood at the prior's size, then the size that the sights leave probable."""
        thinned = self.at_every_other_knot()
        return thinned.with_probable_size(thinned.likeliest_memory_s(PRIOR_SD_M))

    def with_probable_size(self, memory_s: float) -> OffsetProcess:
        """The process of probable size that moves as fast as one of the prior's size with that memory.

        The size is the root mean square of :data:`_SIZES_M`, each weighted by its share of receivers and by its
        likelihood.
        """
        # The sights tell best how fast the offset moves, sd²/memory; so that is kept for every size.
        grown = np.square(_SIZES_M / PRIOR_SD_M)
        tried = [OffsetProcess(PRIOR_SD_M * float(np.sqrt(g)), memory_s * float(g)) for g in grown]
        misfit = np.array([self.posterior(process)[2] for process in tried])
        probable = _SHARES * np.exp(-0.5 * (misfit - misfit.min()))
        mean = float(probable @ grown / probable.sum())
        return OffsetProcess(PRIOR_SD_M * float(np.sqrt(mean)), memory_s * mean)

    def at_every_other_knot(self) -> Information:
        """The same with the offset running straight past every other knot.

        That is near enough to tell how it moves over minutes, at an eighth of the work.
        """
        thin = self.knots.thinned()
        precision = _folded(_folded(self.precision).T)
        return replace(self, knots=thin, precision=precision, right=_folded(self.right))

    def scatter_and_process(self, loose: Sight, near: OffsetProcess) -> tuple[float, OffsetProcess]:
        """Scatter of ``loose`` sights, metres, and the process, jointly the likeliest beside these sights.

        Jointly, because one after the other misleads: what the offset does not explain yet counts as scatter, and
        sights believed to scatter so widely do not show that it moved.
        """
        # Every fourth knot tells the scatter as well, and the search asks some hundred times a log.
        own, unit = (
            each.at_every_other_knot().at_every_other_knot()
            for each in (self, Information.of(self.knots, [replace(loose, sd_m=1.0)]))
        )
        least, most = np.log((_TIMES_S[0], self._longest_s))
        values = loose.sums.free_values

        def both(log_scatter: float) -> Information:
            weight = np.exp(-2.0 * log_scatter)
            return replace(
                own,
                precision=own.precision + weight * unit.precision,
                right=own.right + weight * unit.right,
                constant=own.constant + weight * unit.constant + 2.0 * values * log_scatter,
            )

        def minus_2_log(log_of: FloatArray) -> float:
            inside = np.clip(log_of[1], least, most)
            process = OffsetProcess(PRIOR_SD_M, float(np.exp(inside)))
            return both(log_of[0]).posterior(process)[2] + _STEEP * abs(log_of[1] - inside)

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
        return float(np.exp(found[0])), both(found[0]).with_probable_size(memory_s)

    @property
    def _longest_s(self) -> float:
        return _LONGEST_S if self.firm else _TIMES_S[1]

    def likeliest_memory_s(self, sd_m: float) -> float:
        """The likeliest memory of a process of that size, seconds."""
        found = minimize_scalar(
            lambda log_time: self.posterior(OffsetProcess(sd_m, float(np.exp(log_time))))[2],
            bounds=tuple(np.log((_TIMES_S[0], self._longest_s))),
            method="bounded",
            options={"xatol": 0.1, "maxiter": 15},
        )
        return float(np.exp(found.x))
