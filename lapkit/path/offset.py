"""The receiver's slow position offset: shared by everything near in time, and decisive for every seam call.

Two components, east and north, each a Gauss–Markov process at knots every ten seconds. What tells of it:

- stops at the hold point, whose place is known;
- a base log, whose own offset is seen all the while;
- the edges: a machine on its wheels is between them, and comes as near to them as its rider is used to;
- the rider's own laps: one usual line, seen again and again, shows how the offset moved between laps
  (never where it stood), since a shift of the receiver moves every corner the same way on the map.

All enter one small Gaussian system; its Cholesky factor gives the draws.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_solve, solve_triangular

from lapkit.path.offset_knots import OffsetKnots, Sight
from lapkit.path.offset_process import UNTOLD, Told, Wander
from lapkit.units import FloatArray


@dataclass(frozen=True, eq=False)
class PositionOffset:
    """Posterior of the offset at its knots: ``rows`` of shape ``(1 + draws, 2, knots)``, metres.

    Row 0 is the estimate, ``sd_m`` its standard deviation, ``(2, knots)``. ``source`` is the contract's
    ``offset_from``.
    """

    knots: OffsetKnots
    rows: FloatArray
    sd_m: FloatArray
    source: str
    notes: tuple[str, ...] = ()

    def at(self, time_s: FloatArray) -> FloatArray:
        """Offset rows at times, shape ``(1 + draws, 2, n)``, metres."""
        return self.knots.between(self.rows, time_s)

    def mean_at(self, time_s: FloatArray) -> FloatArray:
        """The estimate alone at times, shape ``(2, n)``, metres."""
        return self.knots.between(self.rows[0], time_s)

    @property
    def typical_sd_m(self) -> float:
        """Root mean square over the log of the offset's standard deviation, per axis, metres."""
        return float(np.sqrt(np.mean(np.square(self.sd_m))))


def nothing_known(knots: OffsetKnots, draws: int) -> PositionOffset:
    """An offset of zero in every row, before anything was looked at."""
    rows = np.zeros((1 + draws, 2, len(knots.time_s)))
    return PositionOffset(knots, rows, np.zeros(rows.shape[1:]), "none")


def _beside_paths(
    told: Told, sights: list[Sight], wander: Wander, factor: FloatArray, z: FloatArray
) -> FloatArray:
    """What each draw has of the offset beyond its mean, from normal deviates ``z``; both ``(unknowns, draws)``.

    Where the path is drawn beside its estimate by what the receiver wandered meanwhile, the sights that were seen
    from it have the offset beside its mean by their share of that: the wander counts once in where he really was.
    Only the rest of their noise is drawn here.
    """
    blurred = [(s, s.path_m) for s in sights if s.path_m is not None and len(s.path_m)]
    if not blurred:
        return solve_triangular(factor, z)
    precision, moved = told.precision.copy(), np.zeros_like(z)
    for sight, path_m in blurred:
        share = min(float(np.mean(np.var(path_m, axis=0))) / sight.sd_m**2, 1.0)
        precision -= share * sight.information[0]
        moved += told.knots.right_of_path(sight, path_m)
    rest, _, _ = replace(told, precision=precision).posterior(wander)
    return cho_solve((factor, False), rest.T @ z + moved)


def mean_offset(
    knots: OffsetKnots, sights: list[Sight], wander: Wander | None = None
) -> tuple[FloatArray, Wander]:
    """The offset at the knots alone, ``(2, knots)``, and the process it was found with.

    ``wander`` is found by maximum likelihood when it is not given.
    """
    told = Told.by(knots, sights)
    if wander is None:
        wander = told.wander() if sights else UNTOLD
    return told.posterior(wander)[1].reshape(2, -1), wander


def scatter_beside(
    knots: OffsetKnots, sights: list[Sight], loose: Sight, near: Wander
) -> tuple[float, Wander]:
    """How far ``loose`` sights scatter, metres, and the process that the offset follows, by maximum likelihood.

    ``loose.sd_m`` and ``near`` are where the search begins, ``sights`` are all others.
    """
    return Told.by(knots, sights).beside(loose, near)


def misfit(knots: OffsetKnots, sights: list[Sight], wander: Wander) -> float:
    """−2 log likelihood of the sights, to compare other sights of as many values."""
    return Told.by(knots, sights).posterior(wander)[2]


def find_offset(
    knots: OffsetKnots,
    sights: list[Sight],
    source: str,
    draws: int,
    seed: int,
    notes: tuple[str, ...] = (),
) -> PositionOffset:
    """Posterior of the offset from all sights; its size and memory by maximum likelihood.

    With no sight at all the prior stays, and with it the spread in every draw.
    """
    n = len(knots.time_s)
    told = Told.by(knots, sights)
    wander = told.wander() if sights else UNTOLD
    factor, mean, _ = told.posterior(wander)
    z = np.random.default_rng(seed).standard_normal((2 * n, draws))
    noise = _beside_paths(told, sights, wander, factor, z)
    rows = np.concatenate([mean[None], (mean[:, None] + noise).T]).reshape(-1, 2, n)
    inverse = solve_triangular(factor, np.eye(2 * n))
    sd = np.sqrt(np.sum(np.square(inverse), axis=1)).reshape(2, n)
    return PositionOffset(knots, rows, sd, source, notes)
