"""The estimate of a ride and the paths drawn beside it, as splines in the receiver's frame.

Each drawn path has a machine of its own: heights of antenna and centre of mass that differ as far as they are in doubt.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.importer.heights import Heights
from lapkit.path.estimate import Estimate
from lapkit.path.flattening import shares
from lapkit.path.model import draw
from lapkit.path.offset_sight import Readings
from lapkit.path.spline import values
from lapkit.path.unknowns import path_coefficients

_LOWEST_COM_M = 0.1  # the lowest centre of mass that is drawn: no machine's lies on the road


class Drawn(IntEnum):
    """What is drawn for a log. Each kind has random numbers of its own, however many another kind takes.

    The signs with which roughness is found begin at the same seeds. They come of other bits of the generator's numbers
    than normal deviates do, and are not correlated with them.
    """

    PATH = 0
    COM_HEIGHT = 1
    OFFSET = 2
    DOUBTS = 3
    ANTENNA_HEIGHT = 4

    def seed(self, of_log: int) -> int:
        """The seed of its random numbers, from the log's own seed."""
        return of_log + self


@dataclass(frozen=True, eq=False)
class Ensemble:
    """An estimate and its draws, drawn when they are first asked for.

    Attributes:
        estimate: the posterior that is drawn from.
        heights: of the machine, and how well each is known.
        draws: how many paths are drawn.
        seed: the log's own, from its hash: the same log gives the same draws.
    """

    estimate: Estimate
    heights: Heights
    draws: int
    seed: int

    @cached_property
    def coefficients(self) -> FloatArray:
        """Spline coefficients of the estimate and then of the draws, ``(coefficients, 2, 1 + draws)``."""
        solution = self.estimate.solution
        # One array, because slices of it are evaluated corner by corner.
        rows = np.empty((*solution.path.shape, 1 + self.draws))
        rows[..., 0] = solution.path
        drawn = draw(solution, self.draws, Drawn.PATH.seed(self.seed))
        rows[..., 1:] = path_coefficients(solution.knots, drawn)
        # In one product, because each pass over all draws takes as long as a tenth of the drawing.
        doubts = self.estimate.doubts
        moved = np.concatenate([doubts, self.estimate.raised[..., None]], axis=-1)
        by = shares(doubts.shape[-1], self.draws, Drawn.DOUBTS.seed(self.seed))
        rows[..., 1:] += np.tensordot(moved, np.vstack([by, self._higher_m]), axes=1)
        return rows

    @cached_property
    def com_height_m(self) -> FloatArray:
        """Height of the centre of mass in each row, metres, ``(1 + draws, 1)``; drawn in all rows but the first."""
        rng = np.random.default_rng(Drawn.COM_HEIGHT.seed(self.seed))
        spread = rng.standard_normal(1 + self.draws) * self.heights.com_sd_m
        spread[0] = 0.0
        return np.maximum(self.heights.com_m + spread, _LOWEST_COM_M)[:, None]

    @property
    def _higher_m(self) -> FloatArray:
        """How much higher than in the estimate each draw's antenna stands above its mass, metres, ``(draws,)``; mean 0."""
        rng = np.random.default_rng(Drawn.ANTENNA_HEIGHT.seed(self.seed))
        antenna = rng.standard_normal(self.draws) * self.heights.antenna_sd_m
        higher = antenna - (self.com_height_m[1:, 0] - self.heights.com_m)
        return higher - np.sum(higher) / max(self.draws, 1)

    def beside_estimate(self, seen: Readings) -> FloatArray:
        """How far each drawn path runs beside the estimate at the ``n`` readings, along their directions, metres.

        Shape ``(draws, n)``.
        """
        (at,) = values(self.estimate.solution.knots, self.coefficients, seen.time_s, 0)
        return np.einsum("nwd,nw->dn", at[..., 1:] - at[..., :1], seen.direction)
