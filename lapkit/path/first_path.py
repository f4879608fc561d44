"""A first path, robust against wild fixes: each axis by itself, without lean of the antenna or wander of the receiver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solveh_banded

from lapkit.arrays import FloatArray
from lapkit.errors import PathError
from lapkit.path.banded import one_axis, one_axis_right
from lapkit.path.model import LOOK_AT_IT, UNDETERMINED, Noise, Observed
from lapkit.path.places import Places
from lapkit.path.priors import chord_band, smooth_band
from lapkit.path.spline import Knots, values

_WHITE_M = 0.5  # noise of positions that is assumed at first; it is found later
_REWEIGHTED = 4  # rounds, at the most
# A fix is wild if its misfit is more than this many times the median, and more than a metre (our choice).
_WILD, _LEAST_WILD_M = 8.0, 1.0
# Share of a wild fix's misfit: reweighting hardly raises a misfit by more than half of itself. So where no misfit reaches
# this share of it, no fix will be wild.
_PLAINLY_NONE = 0.5
# At which misfit the Cauchy loss halves a fix's weight, in medians, and the least of it (our choice).
_HALF_WEIGHT, _LEAST_HALF_M = 3.0, 0.6


@dataclass(frozen=True, eq=False)
class _Axes:
    """Normal equations of both axes without the positions, whose weights change from round to round.

    Attributes:
        knots: of the path.
        seen: the fixes.
        places: where the positions lie between the knots.
        band: matrix of prior and velocities, alike for both axes, ``(6, coefficients)``.
        right: right side of the velocities, ``(coefficients, 2)``.
    """

    knots: Knots
    seen: Observed
    places: Places
    band: FloatArray
    right: FloatArray

    @classmethod
    def of(cls, knots: Knots, seen: Observed, noise: Noise, places: tuple[Places, Places]) -> _Axes:
        band = smooth_band(knots, np.full(knots.intervals, noise.roughness))
        band += chord_band(knots, seen.time_s)
        right = np.zeros((knots.coefficients, 2))
        at_positions, at_velocities = places
        if seen.has_velocity:
            weight = seen.velocity_weight / noise.velocity_mps**2
            band += one_axis(knots, at_velocities, 1, weight)
            for axis, v in enumerate((seen.vx_mps, seen.vy_mps)):
                weighted = weight * np.nan_to_num(v)
                right[:, axis] = one_axis_right(knots, at_velocities, 1, weighted)
        return cls(knots, seen, at_positions, band, right)

    def solved(self, position_weight: FloatArray, white_m: float) -> FloatArray:
        """Spline coefficients ``(coefficients, 2)``, from weights of the positions ``(n,)`` and their noise, metres."""
        weight = position_weight / white_m**2
        band = self.band + one_axis(self.knots, self.places, 0, weight)
        sides = [
            one_axis_right(self.knots, self.places, 0, weight * at)
            for at in (self.seen.x_m, self.seen.y_m)
        ]
        try:
            return solveh_banded(band, self.right + np.stack(sides, axis=1), check_finite=False)
        except np.linalg.LinAlgError:
            raise PathError(UNDETERMINED, remedy=LOOK_AT_IT) from None


def first_path(
    knots: Knots, seen: Observed, noise: Noise, places: tuple[Places, Places]
) -> tuple[FloatArray, np.ndarray]:
    """A path from which heading and lean can be taken, and which fixes are wild.

    Positions are reweighted by a Cauchy loss until the wild ones stand out or it is plain that there are none. Then the
    path is solved without them.

    Args:
        knots: of the path.
        seen: the fixes.
        noise: roughly the noise of the receiver and the roughness of the rider.
        places: where positions lie between the knots, and where velocities do.

    Returns:
        Spline coefficients ``(coefficients, 2)``, and whether each fix is wild, ``(n,)``.

    Raises:
        PathError: the fixes do not determine a path.
    """
    axes = _Axes.of(knots, seen, noise, places)
    weight = seen.position_weight
    for _ in range(_REWEIGHTED):
        path = axes.solved(weight, _WHITE_M)
        (at,) = values(knots, path, seen.time_s, 0)
        away = np.hypot(seen.x_m - at[:, 0], seen.y_m - at[:, 1])
        usual = float(np.median(away))
        limit = max(_WILD * usual, _LEAST_WILD_M)
        if np.max(away) < _PLAINLY_NONE * limit:
            break
        half = max(_HALF_WEIGHT * usual, _LEAST_HALF_M)
        weight = seen.position_weight / (1.0 + np.square(away / half))
    wild = away > limit
    weight = np.where(wild, 0.0, seen.position_weight)
    return axes.solved(weight, noise.white_m), wild
