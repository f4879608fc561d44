"""The receiver's slow position offset: shared by all positions near in time, and decisive for every seam call.

It has two components, east and north, each a Gauss–Markov process at knots every ten seconds. It is observed through

- stops at the hold point, whose place is known (:mod:`~lapkit.path.stops`);
- a base log, whose receiver has nearly the same offset at the same time (:mod:`~lapkit.path.base`);
- the edges: a machine on its wheels is between them, and its rider comes as near to them as is his habit
  (:mod:`~lapkit.path.edges`);
- the rider's own laps: his usual line, ridden again and again, shows how the offset moved between laps, though not
  what it was, since an offset moves every corner the same way on the map (:mod:`~lapkit.path.own_laps`).

All of them enter one small Gaussian system, whose Cholesky factor gives the draws.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_solve, solve_triangular
from scipy.linalg.lapack import dtrtri

from lapkit.arrays import FloatArray
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import USUAL_PROCESS, Information, OffsetProcess
from lapkit.path.offset_sight import Sight
from lapkit.path.offset_source import NOTHING


@dataclass(frozen=True, eq=False)
class PositionOffset:
    """Posterior of the offset.

    Attributes:
        knots: at which it is known.
        rows: the offset at the knots, east and north, metres, ``(1 + draws, 2, knots)``; row 0 is the estimate.
        sd_m: standard deviation of the estimate, metres, ``(2, knots)``.
        source: what it was found from (:mod:`~lapkit.path.offset_source`).
        notes: sentences about what was found wrong or left out.
    """

    knots: OffsetKnots
    rows: FloatArray
    sd_m: FloatArray
    source: str = NOTHING
    notes: tuple[str, ...] = ()

    def at(self, time_s: FloatArray) -> FloatArray:
        """Offset rows at times, shape ``(1 + draws, 2, n)``, metres."""
        return self.knots.between(self.rows, time_s)

    def mean_at(self, time_s: FloatArray) -> FloatArray:
        """The estimate alone at times, shape ``(2, n)``, metres."""
        return self.knots.between(self.rows[0], time_s)

    def typical_sd_m(self, start_s: float = -np.inf, stop_s: float = np.inf) -> float:
        """Root mean square of the offset's standard deviation between two times, per axis, metres.

        Between times that have no knot between them it is that of the whole log.
        """
        during = (self.knots.time_s >= start_s) & (self.knots.time_s <= stop_s)
        sd_m = self.sd_m[:, during] if during.any() else self.sd_m
        return float(np.sqrt(np.mean(np.square(sd_m))))


def nothing_known(knots: OffsetKnots, draws: int) -> PositionOffset:
    """An offset of zero in every row, from which the search begins."""
    rows = np.zeros((1 + draws, 2, len(knots.time_s)))
    return PositionOffset(knots, rows, np.zeros(rows.shape[1:]))


def _beside_paths(
    information: Information,
    sights: list[Sight],
    process: OffsetProcess,
    factor: FloatArray,
    z: FloatArray,
) -> FloatArray:
    """What each draw adds to the mean offset, from normal deviates ``z``; both ``(unknowns, draws)``.

    A sight taken from the ridden path shows the sum of the offset and the receiver's wander of seconds. A drawn path
    already lies beside the estimate by some wander. That share of the sight's noise is therefore taken from the drawn
    path, so that the wander enters the rider's true place only once, and only the rest of the noise is drawn here.
    """
    from_path = [(s, s.path_m) for s in sights if s.path_m is not None and len(s.path_m)]
    if not from_path:
        return solve_triangular(factor, z)
    precision, moved = information.precision.copy(), np.zeros_like(z)
    for sight, path_m in from_path:
        share = min(float(np.mean(np.var(path_m, axis=0))) / sight.sd_m**2, 1.0)
        precision -= share * sight.information.precision
        moved += sight.right_of_path(information.knots, path_m)
    rest = replace(information, precision=precision).posterior(process)
    return cho_solve((factor, False), rest.factor.T @ z + moved)


def mean_offset(
    knots: OffsetKnots, sights: list[Sight], process: OffsetProcess | None = None
) -> tuple[FloatArray, OffsetProcess]:
    """The mean offset at the knots, metres, ``(2, knots)``, and the process it was found under.

    The process is found from the sights (:meth:`~lapkit.path.offset_process.Information.likeliest_process`) when it is not
    given.
    """
    information = Information.of(knots, sights)
    if process is None:
        process = information.likeliest_process() if sights else USUAL_PROCESS
    return information.posterior(process).mean.reshape(2, -1), process


def find_offset(
    knots: OffsetKnots, sights: list[Sight], draws: int, seed: int, jumped_m: float = 0.0
) -> PositionOffset:
    """Posterior of the offset from all sights, under the process that they make likely.

    Without any sight the prior is left, and the draws spread as it does.

    Args:
        knots: at which it is found.
        sights: all of them.
        draws: how many to draw.
        seed: of the draws.
        jumped_m: how far jumps that were taken out had carried positions from their mean place, per axis, root mean
            square, metres. By so much more the offset may be off from zero.

    Raises:
        PathError: the sights do not determine it.
    """
    n = len(knots.time_s)
    information = Information.of(knots, sights)
    process = information.likeliest_process() if sights else USUAL_PROCESS
    process = process.larger(jumped_m)
    factor, mean, _ = information.posterior(process)
    z = np.random.default_rng(seed).standard_normal((2 * n, draws))
    noise = _beside_paths(information, sights, process, factor, z)
    rows = np.concatenate([mean[None], (mean[:, None] + noise).T]).reshape(-1, 2, n)
    inverse, _ = dtrtri(factor)
    sd = np.sqrt(np.sum(np.square(inverse), axis=1)).reshape(2, n)
    return PositionOffset(knots, rows, sd)
