"""The likeliest path of a ride, each lap smoothed about what laps have in common, and what is in doubt beyond its spread.

What laps have in common is found under the roughness of the ride, because a sharp roll that every lap repeats is as
rough. Each lap is then smoothed about it under the roughness of what sets laps apart, which is learnt for that. So a lap's
posterior lacks the doubt about what laps have in common, and that is told beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded

from lapkit.arrays import FloatArray
from lapkit.path.flattening import flattened
from lapkit.path.model import Solution, deviations
from lapkit.path.pooling import Pooling
from lapkit.path.problem import Weighted
from lapkit.path.roughness import Roughness
from lapkit.path.unknowns import path_coefficients
from lapkit.path.usual_ride import UsualRide

# Rounds in which laps are smoothed about their mean, by whether there is velocity. Each leaves a part of what smoothing had
# taken off the mean, and brings in noise; from positions twelve are as good, and with velocity three.
_USUAL_ROUNDS = {True: 1, False: 6}
# Rounds in which it is learnt how roughly laps differ from that mean. After one, laps still differ as much as they were
# let; after three they do as after two. And deviations in each: with velocity more of them gain nothing.
_APART_ROUNDS, _APART_DEVIATIONS = 2, {True: 4, False: 8}
# A rider's spectrum is not exactly that of white snap, and the levels found lack what the log does not show of it. By
# which factor draws have to be rougher for 95 % intervals to hold was measured over riders smooth and rough; it is one
# number for every receiver.
_ROUGHER_DRAWS = 1.1
_MEAN_DEVIATIONS = 4  # of the laps' mean: with eight, intervals are the same to a hundredth


@dataclass(frozen=True, eq=False)
class Likeliest:
    """The likeliest path, and how far it is in doubt.

    Attributes:
        solution: whose mean it is.
        rough: under which to find its spread: about that of what it differs by from the laps' mean, or that of the ride
            where it was smoothed alone.
        doubts: how far the path may be off beyond the spread of its posterior, spline coefficients ``(coefficients, 2,
            doubts)``: each by one standard deviation, independently of the others.
    """

    solution: Solution
    rough: Roughness
    doubts: FloatArray


def ridden_alone(seen: Weighted, rough: Roughness) -> Likeliest:
    """Of a ride that has no laps to compare: smoothed under its roughness."""
    prior = seen.problem.prior(rough.middle())
    solution = seen.solve(prior)
    return Likeliest(solution, _drawn(rough), flattened(solution, prior)[..., None])


def ridden_in_laps(
    seen: Weighted,
    rough: Roughness,
    path: FloatArray,
    usual_ride: UsualRide,
    pooling: Pooling,
    seed: int,
) -> Likeliest:
    """Of a ride whose laps have something in common: each lap smoothed about that.

    Args:
        seen: the observations.
        rough: of the ride.
        path: shows at first what laps have in common, spline coefficients ``(coefficients, 2)``.
        usual_ride: what brings laps together.
        pooling: which moments show one level of roughness.
        seed: of the random signs with which roughness is learnt; each round takes the next number.
    """
    middle = rough.middle()
    usual_path, gained = _repeated(seen, middle, path, usual_ride)
    usual = usual_ride.snap(usual_path.path)
    solution, apart, flattened_by = _apart(seen, middle, usual_path, usual, pooling, seed)
    off = _mean_off(seen, rough, usual_ride, solution, apart, seed + _APART_ROUNDS)
    doubts = [flattened_by[..., None], gained[..., None], off]
    # What lies below the noise is missing from the roughness that laps show apart from their mean, and that of the ride has
    # too much in it: under the one intervals held the truth in 0.89 to 0.99 for riders by several hands, under the other in
    # 0.94 to 1.00.
    spread = _drawn(apart).halfway(_drawn(rough))
    return Likeliest(solution, spread, np.concatenate(doubts, axis=-1))


def _drawn(rough: Roughness) -> Roughness:
    """The roughness under which to find the spread of what has this one."""
    return rough.mean().times(_ROUGHER_DRAWS)


def _repeated(
    seen: Weighted, rough: Roughness, path: FloatArray, usual_ride: UsualRide
) -> tuple[Solution, FloatArray]:
    """The path from which to take what laps have in common, and how much of it came back after the first round.

    What came back, spline coefficients ``(coefficients, 2)``, shows about how much smoothing may still take off it.
    Arguments as for :func:`ridden_in_laps`.
    """
    problem = seen.problem
    right = problem.prior_right(rough, usual_ride.snap(path))
    first = solution = seen.solve(problem.prior(rough), right)
    for _ in range(_USUAL_ROUNDS[problem.linear.has_velocity] - 1):
        right = problem.prior_right(rough, usual_ride.snap(solution.path))
        solution = seen.about(solution, right)
    return solution, solution.path - first.path


def _apart(
    seen: Weighted,
    rough: Roughness,
    solution: Solution,
    usual: FloatArray,
    pooling: Pooling,
    seed: int,
) -> tuple[Solution, Roughness, FloatArray]:
    """Each lap smoothed about the usual snap, under what roughness, and what smoothing still takes off it.

    Args:
        seen: the observations.
        rough: of the ride, from which the roughness of what sets laps apart is learnt.
        solution: the ride as smoothed under that.
        usual: what laps have in common (:meth:`~lapkit.path.usual_ride.UsualRide.snap`).
        pooling: which moments show one level of roughness.
        seed: of the first round's random signs.
    """
    problem, knots = seen.problem, seen.problem.knots
    count = _APART_DEVIATIONS[problem.linear.has_velocity]
    apart = rough
    for turn in range(_APART_ROUNDS):
        away = path_coefficients(knots, deviations(solution, count, seed + turn))
        apart = rough.learned(knots, solution.path, away, pooling, usual)
        rough = apart.middle()
        prior, right = problem.prior(rough), problem.prior_right(rough, usual)
        solution = seen.solve(prior, right)
    return solution, apart, flattened(solution, prior, right)


def _mean_off(
    seen: Weighted,
    rough: Roughness,
    usual_ride: UsualRide,
    solution: Solution,
    apart: Roughness,
    seed: int,
) -> FloatArray:
    """How far the path may be off because the laps' mean is, ``(coefficients, 2, doubts)``.

    The mean of n passes is taken of a ride that is √n as rough as it was: if its passes have nothing in common a priori,
    their mean is a priori as rough as the ride, and it is seen through the fixes of n passes (derived).

    Args:
        seen: the observations.
        rough: of the ride.
        usual_ride: what brings laps together.
        solution: the path, smoothed about the mean.
        apart: how roughly laps differ from the mean.
        seed: of the random signs.
    """
    problem, knots = seen.problem, seen.problem.knots
    passes = _drawn(rough).times(np.sqrt(usual_ride.passes))
    away = deviations(seen.solve(problem.prior(passes)), _MEAN_DEVIATIONS, seed)
    means = (usual_ride.snap(one) for one in np.moveaxis(path_coefficients(knots, away), -1, 0))
    middle = apart.middle()
    rights = [problem.prior_right(middle, mean) for mean in means]
    off = cho_solve_banded((solution.factor, False), np.stack(rights, axis=-1), check_finite=False)
    return path_coefficients(knots, off) / np.sqrt(_MEAN_DEVIATIONS)
