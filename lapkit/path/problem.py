"""A log as a smoothing problem: its observations, made linear about a path that is roughly known.

All classes are frozen: what is learnt on the way, such as a better path or a wild fix, gives a new problem.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
from scipy.linalg import cho_solve_banded

from lapkit.arrays import FloatArray
from lapkit.errors import PathError
from lapkit.path.antenna import AntennaPath
from lapkit.path.attitude import Attitude
from lapkit.path.banded import Gram, Linear, gram, right_side
from lapkit.path.blur import sharpened
from lapkit.path.draws import SLOWEST_MPS
from lapkit.path.first_path import first_path
from lapkit.path.load import Load, LoadUnder, PathPoints
from lapkit.path.log_knots import knots_for, places_for
from lapkit.path.model import (
    LOOK_AT_IT,
    UNDETERMINED,
    Noise,
    NormalEquations,
    Observed,
    Solution,
    positions,
    solve,
    velocities,
)
from lapkit.path.noise import USUAL_NOISE
from lapkit.path.places import Places
from lapkit.path.priors import about_snap, chord_band, rough_band
from lapkit.path.roughness import Roughness
from lapkit.path.spline import Knots, values
from lapkit.path.unknowns import Groups, columns, in_order, path_coefficients

_FEWEST_FIXES = 8  # fewer leave nothing to smooth

T = TypeVar("T", Observed, Attitude)


@dataclass(frozen=True, eq=False)
class Linearised:
    """Observations that are linear in the unknowns, because heading and lean are taken from a path.

    Attributes:
        knots: of the unknown path.
        seen: the observations.
        has_velocity: whether the log has any velocity; a part of it that was cut out may be without.
        above_m: height of the antenna above the centre of mass, metres.
        places: where positions lie between the knots, and where velocities do.
        attitudes: heading and lean at the times of the positions, and at those of the velocities.
    """

    knots: Knots
    seen: Observed
    has_velocity: bool
    above_m: float
    places: tuple[Places, Places]
    attitudes: tuple[Attitude, Attitude]

    def observations(self) -> tuple[Linear, ...]:
        """The positions and, where there are any, the velocities."""
        at_positions, at_velocities = self.attitudes
        position = positions(self.seen, self.above_m, at_positions, self.places[0])
        if not self.has_velocity:
            return (position,)
        return position, velocities(self.seen, self.above_m, at_velocities, self.places[1])

    def grams(self) -> tuple[Gram, Gram | None]:
        """Normal equations of both at unit noise; None for velocities where there are none."""
        position, *velocity = (gram(self.knots, each) for each in self.observations())
        return position, velocity[0] if velocity else None

    def cut(self, part: slice) -> Linearised:
        """A part of the fixes, with knots of its own that cover no more than them."""
        seen = _part_of(self.seen, part)
        knots = knots_for(seen)
        at_positions, at_velocities = self.attitudes
        return replace(
            self,
            knots=knots,
            seen=seen,
            places=places_for(knots, seen),
            attitudes=(_part_of(at_positions, part), _part_of(at_velocities, part)),
        )


def _part_of(arrays: T, part: slice) -> T:
    """A dataclass of arrays cut to a part of them."""
    return replace(arrays, **{f.name: getattr(arrays, f.name)[..., part] for f in fields(arrays)})


def _linearised(
    path: AntennaPath,
    seen: Observed,
    logged: Observed,
    places: tuple[Places, Places],
    blur_s: float,
) -> Linearised:
    """Observations of a whole log, linearised about a path and sharpened by it where velocities were averaged."""
    if blur_s:
        seen = sharpened(seen, logged, path.velocity, blur_s)
    attitudes = path.attitudes(seen)
    return Linearised(path.knots, seen, logged.has_velocity, path.above_m, places, attitudes)


@dataclass(frozen=True, eq=False)
class Problem:
    """A whole log to be solved, at one stage of what is known of it.

    Attributes:
        logged: the observations as they came, before any was left out or sharpened.
        load: gravity felt by the wheels at the middles of the intervals, by the speeds there.
        blur_s: over how long the receiver averaged its velocities, seconds; 0 for not at all.
        chord: what holds the path across holes in the log (:func:`~lapkit.path.priors.chord_band`).
        path: the path about which it is linearised, spline coefficients ``(coefficients, 2)``.
        linear: the observations as they take part now.
        wild: whether each fix is left out as wild, ``(n,)``.
    """

    logged: Observed
    load: Load
    blur_s: float
    chord: FloatArray
    path: FloatArray
    linear: Linearised
    wild: np.ndarray

    @classmethod
    def of(
        cls, logged: Observed, above_m: float, load_under: LoadUnder, blur_s: float = 0.0
    ) -> Problem:
        """A log linearised about a robust first path, without the fixes that this path shows to be wild.

        Args:
            logged: the fixes.
            above_m: height of the antenna above the centre of mass, metres.
            load_under: how gravity felt by the wheels along a path is found.
            blur_s: over how long the receiver averaged its velocities, seconds.

        Raises:
            PathError: too few fixes, or they do not determine a path.
        """
        if len(logged.time_s) < _FEWEST_FIXES:
            raise PathError("fewer than eight fixes", remedy="Check that the receiver had a fix.")
        knots = knots_for(logged)
        places = places_for(knots, logged)
        path, wild = first_path(knots, logged, USUAL_NOISE[logged.has_velocity], places)
        # The road's profile is smooth over the metre or so by which the path will still move, and over the metres
        # from knot to knot: it is looked up once.
        load = load_under(_points(knots, path))
        antenna = AntennaPath.of(knots, path, above_m, load)
        linear = _linearised(antenna, logged, logged, places, blur_s)
        chord = chord_band(knots, logged.time_s)
        none_wild = np.zeros(len(wild), dtype=bool)
        return cls(logged, load, blur_s, chord, path, linear, none_wild).without(wild)

    @property
    def knots(self) -> Knots:
        """The knots of the path."""
        return self.linear.knots

    def about(self, path: FloatArray) -> Problem:
        """The same problem linearised about another path, spline coefficients ``(coefficients, 2)``."""
        now = self.linear
        antenna = AntennaPath.of(now.knots, path, now.above_m, self.load)
        linear = _linearised(antenna, now.seen, self.logged, now.places, self.blur_s)
        return replace(self, path=path, linear=linear)

    def without(self, wild: np.ndarray) -> Problem:
        """The same with more fixes ``(n,)`` left out as wild, positions and velocities.

        A position that had been left out before, because it was adrift, is not called wild, and its velocity stays.
        """
        wild = self.wild | (wild & (self.logged.position_weight > 0.0))
        weight = np.where(wild, 0.0, 1.0)
        seen = replace(
            self.linear.seen,
            position_weight=self.logged.position_weight * weight,
            velocity_weight=self.logged.velocity_weight * weight,
        )
        return replace(self, wild=wild, linear=replace(self.linear, seen=seen))

    def with_velocity_weight(self, weight: FloatArray) -> Problem:
        """The same with other weights of the velocities, ``(n,)``."""
        logged, seen = (
            replace(each, velocity_weight=weight) for each in (self.logged, self.linear.seen)
        )
        return replace(self, logged=logged, linear=replace(self.linear, seen=seen))

    def under(self, noise: Noise) -> Weighted:
        """The problem's observations weighted by a noise."""
        return Weighted(self, NormalEquations.of(*self.linear.grams(), noise))

    def prior(self, rough: Roughness) -> FloatArray:
        """The path's prior precision as a band (:func:`~lapkit.path.unknowns.columns`)."""
        smooth = rough_band(self.knots, rough)
        smooth[::2] += self.chord
        return columns(Groups.of(self.knots), smooth)

    def prior_right(self, rough: Roughness, snap: FloatArray) -> FloatArray:
        """What that prior adds to the right side where paths have a snap of their own, ``(unknowns,)``.

        The snap is that at the knots, ``(2, intervals + 1)`` (:func:`~lapkit.path.priors.about_snap`).
        """
        path = about_snap(self.knots, rough, snap)
        return in_order(path, np.zeros((2, self.knots.coefficients // self.knots.wander_every)))


@dataclass(frozen=True, eq=False)
class Weighted:
    """A problem's observations weighted by one noise, to be solved under as many priors as are asked for."""

    problem: Problem
    equations: NormalEquations

    def solve(self, prior: FloatArray, right: FloatArray | None = None) -> Solution:
        """Posterior of all unknowns under a prior of the path (:meth:`Problem.prior`).

        ``right`` is the prior's right side (:meth:`Problem.prior_right`); None for paths without a snap of their own.

        Raises:
            PathError: the fixes do not determine a path.
        """
        equations = self.equations
        if right is not None:
            equations = equations._replace(right=equations.right + right)
        try:
            return solve(self.problem.knots, equations, prior)
        except np.linalg.LinAlgError:
            raise PathError(UNDETERMINED, remedy=LOOK_AT_IT) from None

    def about(self, solution: Solution, right: FloatArray) -> Solution:
        """A solution under the same prior but with another right side, ``(unknowns,)``: its mean moves, its spread stays."""
        right = self.equations.right + right
        mean = cho_solve_banded((solution.factor, False), right, check_finite=False)
        return replace(solution, mean=mean)

    def raised(self, solution: Solution) -> FloatArray:
        """How a solution moves for each metre that the antenna stands higher, coefficients ``(coefficients, 2)``.

        Lean then carries the antenna further to the inside than was assumed, so the mass ran that much further out. The
        solution moves as it would for observations moved out by that distance (derived; noise of the fixes is neglected).
        """
        linear, noise = self.problem.linear, self.equations.noise
        (jerk,) = values(solution.knots, solution.path, linear.seen.velocity_time_s, 3)
        at_positions, at_velocities = linear.attitudes
        moved = (-at_positions.aside_m(1.0), -at_velocities.aside_mps(1.0, jerk.T))
        sds = (noise.white_m, noise.velocity_mps)
        right = np.zeros_like(solution.mean)
        for observed, by, sd in zip(linear.observations(), moved, sds, strict=False):
            right += right_side(linear.knots, replace(observed, data=by)) / sd**2
        answer = cho_solve_banded((solution.factor, False), right, check_finite=False)
        return path_coefficients(solution.knots, answer)


def _points(knots: Knots, path: FloatArray) -> PathPoints:
    """A path at the middles of its intervals."""
    at, v, a = values(knots, path, knots.middle_s, 0, 1, 2)
    (x, y), (vx, vy), (ax, ay) = at.T, v.T, a.T
    curvature = (vx * ay - vy * ax) / np.maximum(np.hypot(vx, vy), SLOWEST_MPS) ** 3
    return PathPoints(x, y, np.arctan2(vy, vx), curvature)
