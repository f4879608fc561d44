"""Velocities that err for a few fixes, as under a bridge or beside a wall, found by their misfit.

The path follows such velocities part of the way, and leans there by some degrees more than the rider did. Their misfit
shows them nevertheless. Where one is plain, velocities are weighted anew by their misfits a few times (the Cauchy loss,
under which one that is far off has no influence): the path then shows which ones err, and those beside them are believed
again. In logs without a plain one nothing is done.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import BoolArray, FloatArray
from lapkit.path.model import Noise, Solution
from lapkit.path.problem import Problem
from lapkit.path.roughness import Roughness
from lapkit.path.spline import values
from lapkit.path.summary import MEDIAN_LENGTH

# Misfit of a wild velocity in standard deviations, as of a wild fix (:mod:`~lapkit.path.estimate`). In logs without wild
# velocities, of any simulated receiver and rider, none was further off than 5.8. A smaller one is believed: it moves the
# lean by less than a degree.
_WILD, _LEAST_MPS = 6.0, 0.3
_MOST_EXACT_MPS = 0.005  # as in the search for the noise (:mod:`~lapkit.path.noise`)
# Errors begin and end with a step that stands out by so many standard deviations. Two logs in three have none by chance
# either, and are looked at no further, which spares a hundredth of their path's time.
_LEAPS = 4.5
# At which misfit the Cauchy loss halves a velocity's weight, in standard deviations, and rounds: then bursts of five fixes
# that err by 1 m/s are found, too.
_HALF_WEIGHT, _REWEIGHTED = 1.5, 4


def wild_velocities(
    problem: Problem, solution: Solution, noise: Noise, rough: Roughness
) -> BoolArray:
    """Which velocities lie further from the path than their noise explains, ``(n,)``.

    Args:
        problem: the log, linearised about the path of the solution.
        solution: that was found from it.
        noise: under which it was found.
        rough: likewise.

    Raises:
        PathError: without the velocities that are doubted, the fixes do not determine a path.
    """
    seen = problem.linear.seen
    weight = seen.velocity_weight
    # A logged speed below walking pace is taken as standing, which has weights of its own.
    going = (weight > 0.0) & ((problem.logged.vx_mps != 0.0) | (problem.logged.vy_mps != 0.0))
    root = np.where(going, np.sqrt(weight), 0.0)
    none = np.zeros(len(weight), dtype=bool)
    if not _leaps((seen.vx_mps + 1j * seen.vy_mps)[going]):
        return none
    away_mps = _away_mps(problem, solution)
    if not _judged(away_mps, root)[1].any():
        return none
    prior = problem.prior(rough)
    for _ in range(_REWEIGHTED):
        misfit, _ = _judged(away_mps, root)
        believed = problem.with_velocity_weight(weight / (1.0 + np.square(misfit / _HALF_WEIGHT)))
        solution = believed.under(noise).solve(prior)
        problem = problem.about(solution.path)
        away_mps = _away_mps(problem, solution)
    return _judged(away_mps, root)[1]


def _leaps(velocity_mps: np.ndarray) -> bool:
    """Whether any step of the velocities, east + i north, ``(k,)``, stands out from those before and after it."""
    step = np.diff(velocity_mps)
    stands_out = np.abs(step[1:-1] - 0.5 * (step[:-2] + step[2:]))
    if not len(stands_out):
        return False
    usual = float(np.median(stands_out)) / MEDIAN_LENGTH
    return float(np.max(stands_out)) > _LEAPS * max(usual, _MOST_EXACT_MPS)


def _judged(away_mps: FloatArray, root: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Misfits in standard deviations, and which are those of wild velocities, ``(n,)`` each.

    Args:
        away_mps: how far each velocity is from the path, m/s, ``(n,)``.
        root: of the weight of each, ``(n,)``; 0 for those that are not judged.
    """
    misfit = away_mps * root
    usual_mps = float(np.median(misfit[root > 0.0])) / MEDIAN_LENGTH
    misfit /= max(usual_mps, _MOST_EXACT_MPS)
    return misfit, (misfit > _WILD) & (away_mps > _LEAST_MPS)


def _away_mps(problem: Problem, solution: Solution) -> FloatArray:
    """How far each velocity is from a solution, m/s, ``(n,)``."""
    seen, (_, at_velocities) = problem.linear.seen, problem.linear.attitudes
    v, jerk = values(solution.knots, solution.path, seen.velocity_time_s, 1, 3)
    v += at_velocities.aside_mps(problem.linear.above_m, jerk.T).T
    return np.hypot(seen.vx_mps - v[:, 0], seen.vy_mps - v[:, 1])
