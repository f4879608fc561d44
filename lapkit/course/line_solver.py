"""The line of largest radius that a corridor and its cones permit.

1. A linear programme lowers the largest |curvature| of every corner. It uses linearised curvature, and is repeated
   from the line it found until the true curvature agrees.
2. Between a corner and a next one that turns the other way, that line changes from one lean to the other at once, which
   nobody can ride. So the programme is run again with a curvature that has to fall to zero and rise again no faster
   than a machine is rolled over.
3. Of all lines that keep those largest curvatures, a quadratic programme takes the one that turns least and most
   gently: squares of curvature and of its change are summed. A line that goes from straight to its tightest within two
   metres gains no radius by doing so.

That is geometry: it is not the fastest line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.optimize import OptimizeResult, linprog

from lapkit.arrays import FloatArray
from lapkit.course.line_faults import check_reach, check_rideable, check_together, conflict
from lapkit.course.line_problem import LineProblem
from lapkit.course.quadratic import Quadratic, minimise
from lapkit.units import GRAVITY_MPS2

_PER_HM = 100.0  # curvature per hundred metres is of order one, which suits the solvers
_BETWEEN = 0.9  # weight of turning tighter outside a corner than in it
_TIE = 1e-3  # small weight that selects, among lines with the same largest curvature, one that turns little
_FIRST_STEP_M, _LAST_STEP_M, _SHORTER = 3.0, 0.2, 0.4  # trust region of the linearised curvature
_KEPT = 0.5  # share of a promised gain that has to come true, or the next step is shorter
_MAX_ROUNDS = 12  # it takes 2 to 4
_AGREES = 5e-4  # relative gain, promised by a linear programme, that counts as none: 1 cm in a radius of 20 m
_STRAIGHT_1PM = 1e-6  # guards against division by zero
_SLACK = 5e-4  # of the largest curvature, 3 cm of 60 m: room for the quadratic programme
_ROUGH_M, _SETTLED_M = 0.3, 0.02  # a round that moves the line by less has converged
_ROUGHLY_AGREES = 1e-2  # as _AGREES, for lines that only show where they reverse
_RELOCATED = 2  # times that the places of reversals are found again
_LEVEL_RAD = 0.03  # heading within this of its largest is a straight between two bends (our choice)
_LEAST_SHARE = 0.05  # of the largest curvature at a reversal: some room to move in

ROLL_RAD_PS, ROLLED_FROM_RAD = 1.05, 0.70
"""A machine is rolled from side to side at about 60 degrees a second (common practice), here at the speed that
asks for a lean of 40 degrees in the corner (our choice)."""

ROLL_OVER_ROOT_M = float(np.sqrt(GRAVITY_MPS2) * np.tan(ROLLED_FROM_RAD) ** 1.5 / ROLL_RAD_PS)
"""Metres of line from upright to the lean of a radius, over the square root of that radius in metres.

Lean near upright grows as v²κ/g, so curvature grows by g·roll/v³ a metre; with v² = g·tan(lean)·R
that reaches 1/R after √g·tan(lean)^1.5·√R / roll (derived).
"""


@dataclass(frozen=True, eq=False)
class _Candidate:
    """A line with its curvature, and the largest curvatures of its ``z`` zones.

    Attributes:
        move_m: its sideways move, metres, ``(n,)``.
        share: the part of its zone's largest |curvature| that each bent point may have, ``(b,)``.
        curvature_1pm, jacobian: of :meth:`LineProblem.curvature`.
        inside: largest |curvature| over share in each corner, 1/m, ``(z,)``.
        extra: by how much it is exceeded in the rest of the corner's zone, 1/m, ``(z,)``.
    """

    move_m: FloatArray
    share: FloatArray
    curvature_1pm: FloatArray
    jacobian: sp.csr_array
    inside: FloatArray
    extra: FloatArray

    @classmethod
    def of(cls, problem: LineProblem, move_m: FloatArray, share: FloatArray) -> _Candidate:
        curvature, _, jacobian = problem.curvature(move_m)
        asked = np.abs(curvature) / share
        zone, in_corner = problem.zone[problem.bent], problem.in_corner[problem.bent]
        inside, between = np.zeros((2, problem.zone.max() + 1))
        np.maximum.at(inside, zone[in_corner], asked[in_corner])
        np.maximum.at(between, zone[~in_corner], asked[~in_corner])
        return cls(move_m, share, curvature, jacobian, inside, np.maximum(between - inside, 0.0))

    @property
    def cost(self) -> float:
        """Sum over corners of the largest |curvature| in it, and of its excess outside, 1/m."""
        return float(np.sum(self.inside) + _BETWEEN * np.sum(self.extra))

    def caps(self, problem: LineProblem) -> FloatArray:
        """Largest |curvature| that each bent point may have, 1/m, ``(b,)``."""
        return self.share * self.peak(problem)

    def peak(self, problem: LineProblem) -> FloatArray:
        """Largest |curvature| of the zone that each bent point lies in, 1/m, ``(b,)``."""
        zone, in_corner = problem.zone[problem.bent], problem.in_corner[problem.bent]
        return self.inside[zone] + np.where(in_corner, 0.0, self.extra[zone])


def solve(problem: LineProblem, start_m: FloatArray) -> FloatArray:
    """Find the sideways move of the line of largest radius, metres, shape ``(n,)``.

    Args:
        problem: the line's problem.
        start_m: the move of a line of about the right shape, ``(n,)``; it need not keep the bounds.

    Raises:
        TrackError: no line that can be ridden passes the cones as asked; the error names the one in the way.
    """
    check_reach(problem)
    check_together(problem)
    share = np.ones(len(problem.station_m[problem.bent]))
    move_m = _least_squares(problem, start_m, np.inf * share, _ROUGH_M)
    # A line that has to be rolled over reverses at a slightly different place than one that reverses at once.
    for _ in range(_RELOCATED if problem.flicks else 0):
        rough, _ = _largest_radius(problem, move_m, share, _ROUGHLY_AGREES)
        move_m, share = rough.move_m, _rolling_share(problem, rough)
    best, forces = _largest_radius(problem, move_m, share, _AGREES)
    check_rideable(problem, best.move_m, forces)
    caps = best.caps(problem) * (1.0 + _SLACK)
    return _least_squares(problem, best.move_m, caps, _SETTLED_M)


def _rolling_share(problem: LineProblem, line: _Candidate) -> FloatArray:
    """The share of the largest curvature that a machine can have while it is rolled over, ``(b,)``.

    It falls to nearly zero where the line reverses, and is one away from reversals.
    """
    n, offset = len(line.move_m), 0 if problem.closed else 1
    step = problem.step_m
    share = np.ones(len(line.curvature_1pm))
    for first, last, sign in problem.flicks:
        inner = np.arange(first, last + 1)
        at = (inner % n if problem.closed else inner) - offset
        peak = line.peak(problem)[at]
        # The heading grows up to the place where the line reverses, and stays level along a straight.
        # Being a sum of curvatures, it is not misled by single points that jerk about a cone.
        heading = step * np.cumsum(sign * line.curvature_1pm[at])
        level = np.flatnonzero(heading > heading.max() - _LEVEL_RAD)
        away = step * np.abs(np.arange(len(inner)) - 0.5 * (level[0] + level[-1] + 1))
        growing = np.clip(away / _roll_over_m(peak), _LEAST_SHARE, 1.0)
        share[at] = np.minimum(share[at], growing)
    return share


def _roll_over_m(curvature_1pm: FloatArray) -> FloatArray:
    """Metres of line from upright to the lean of a curvature, in the shape of the latter."""
    return ROLL_OVER_ROOT_M / np.sqrt(np.maximum(curvature_1pm, _STRAIGHT_1PM))


def _largest_radius(
    problem: LineProblem, move_m: FloatArray, share: FloatArray, agrees: float
) -> tuple[_Candidate, FloatArray]:
    """The line whose largest curvatures are lowest, and the force with which each cone holds it, ``(k,)``."""
    best, step = _Candidate.of(problem, move_m, share), _FIRST_STEP_M
    k = len(problem.windows)
    for _ in range(_MAX_ROUNDS):
        found = _linear_programme(problem, best, step)
        if found.x is None:
            raise conflict(problem, problem.windows)
        forces = np.abs(found.ineqlin.marginals[: 2 * k]).reshape(2, k).sum(axis=0)
        new = _Candidate.of(problem, found.x[: len(move_m)], share)
        before = max(best.cost, _STRAIGHT_1PM)
        promised, gain = 1.0 - found.fun / _PER_HM / before, 1.0 - new.cost / before
        if gain > 0:
            best = new
        # A round that gains little of what it promised has gone too far, not arrived.
        if promised < agrees or step < _LAST_STEP_M:
            break
        if gain < _KEPT * promised:
            step *= _SHORTER
    return best, forces


def _linear_programme(problem: LineProblem, line: _Candidate, step_m: float) -> OptimizeResult:
    """Lower the sum of the largest |linearised curvature|, moving no point further than a step.

    The unknowns are the move (n), the peak of each zone and its excess outside the corner (2 z), and the positive and
    the negative part of the curvature at each bent point (2 b). Curvatures are per hundred metres.
    """
    n, b, z = len(line.move_m), len(line.curvature_1pm), len(line.inside)
    zone, in_corner = problem.zone[problem.bent], problem.in_corner[problem.bent]
    point = np.arange(b)
    peak = sp.csr_array((line.share, (point, zone)), shape=(b, z))
    extra = sp.csr_array((np.where(in_corner, 0.0, line.share), (point, zone)), shape=(b, z))
    eye = sp.eye_array(b, format="csr")
    parts = sp.hstack([_PER_HM * line.jacobian, sp.csr_array((b, 2 * z)), -eye, eye]).tocsr()
    under_peak = sp.hstack([sp.csr_array((b, n)), -peak, -extra, eye, eye])
    at_cones = sp.hstack([problem.rows, sp.csr_array((len(problem.windows), 2 * (z + b)))])
    low, high = _window_bounds(problem)
    low_move = np.maximum(problem.lower_m, line.move_m - step_m)
    high_move = np.minimum(problem.upper_m, line.move_m + step_m)
    positive = np.tile([0.0, np.inf], (2 * (z + b), 1))
    cost = [np.zeros(n), np.ones(z), np.full(z, _BETWEEN), np.full(2 * b, _TIE * z / b)]
    return linprog(
        np.concatenate(cost),
        A_ub=sp.vstack([at_cones, -at_cones, under_peak]).tocsr(),
        b_ub=np.concatenate([high, -low, np.zeros(b)]),
        A_eq=parts,
        b_eq=_PER_HM * (line.jacobian @ line.move_m - line.curvature_1pm),
        bounds=np.concatenate([np.stack([low_move, high_move], -1), positive]),
        method="highs",
    )


def _window_bounds(problem: LineProblem) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest offset at each window, metres, ``(k,)`` each."""
    bounds = np.array([(w.low_m, w.high_m) for w in problem.windows], dtype=np.float64)
    low, high = bounds.reshape(-1, 2).T
    return low, high


def _least_squares(
    problem: LineProblem, move_m: FloatArray, caps_1pm: FloatArray, settled_m: float
) -> FloatArray:
    """The line of least squared curvature with |curvature| under the caps, by repeated quadratic programmes.

    Added to each square of curvature is the square of its change over the length in which a machine is rolled to the cap.
    Caps may be infinite, and then change costs nothing.
    """
    low, high = _window_bounds(problem)
    caps = _PER_HM * caps_1pm
    gentle = np.square(_roll_over_m(caps_1pm))
    change = problem.forward_difference()
    eye = sp.eye_array(len(move_m))
    for _ in range(_MAX_ROUNDS):
        curvature, length, jacobian = problem.curvature(move_m)
        scaled, rest = _PER_HM * jacobian, _PER_HM * (curvature - jacobian @ move_m)
        weight = sp.diags_array(length) + change.T @ sp.diags_array(gentle / length) @ change
        new = minimise(
            Quadratic(
                # A very weak pull to the reference determines moves that change no curvature.
                hessian=(scaled.T @ weight @ scaled + 1e-9 * eye).tocsr(),
                linear=scaled.T @ (weight @ rest),
                rows=sp.vstack([eye, problem.rows, scaled]).tocsr(),
                lower=np.concatenate([problem.lower_m, low, -caps - rest]),
                upper=np.concatenate([problem.upper_m, high, caps - rest]),
            ),
            move_m,
        )
        moved = np.max(np.abs(new - move_m))
        move_m = new
        if moved < settled_m:
            break
    return move_m
