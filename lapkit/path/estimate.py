"""Solve a log for its ridden path: noise found, wild fixes left out, roughness learnt place by place."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.stations import StationLine
from lapkit.path.along_course import AlongCourse
from lapkit.path.blur import share_left
from lapkit.path.displacements import usual_step_s
from lapkit.path.likeliest import ridden_alone, ridden_in_laps
from lapkit.path.model import Noise, Observed, Solution, deviations
from lapkit.path.noise import USUAL_NOISE, Stretch, find_noise, moving_part
from lapkit.path.pooling import Pooling, over_laps, over_time
from lapkit.path.problem import Problem, Weighted
from lapkit.path.roughness import Roughness
from lapkit.path.spline import values
from lapkit.path.summary import MEDIAN_LENGTH
from lapkit.path.unknowns import path_coefficients, wander_at
from lapkit.path.usual_passes import as_usual
from lapkit.path.usual_ride import UsualRide
from lapkit.path.wild_velocities import wild_velocities

# Over how long roughness is averaged, by whether there is velocity: with it shorter bursts show.
_OVER_S = {True: 0.4, False: 0.7}
# Rounds in which roughness is learnt, by whether there is velocity, and deviations in each: twelve rounds find the same.
_ROUNDS, _DEVIATIONS = {True: 2, False: 3}, 8
# Two deviations, at the middle of every fourth interval, show what averaging leaves of the uncertainty to a twentieth.
_FEW_DEVIATIONS, _EVERY = 2, 4
_MOVING_MPS = 5.0  # slower, what is uncertain of a path is not riding
# A fix is wild so many standard deviations from the path; none is believed to be more exact than 2 cm.
_WILD, _MOST_EXACT_M = 6.0, 0.02
_FILTERED_STEP_S = 0.5  # positions alone that come no faster are a phone's or a watch's


@dataclass(frozen=True, eq=False)
class Estimate:
    """The posterior of a log, the noise under which it was found, and what was left out as wild.

    Attributes:
        solution: the posterior; its spread is that under a rougher prior than its mean's.
        doubts: how far the mean may be off beyond that spread (:class:`~lapkit.path.likeliest.Likeliest`), spline
            coefficients ``(coefficients, 2, doubts)``.
        raised: how the mean moves for each metre that the antenna stands higher above the mass, ``(coefficients, 2)``.
        noise: of receiver and rider; that of velocities is for velocities as they were logged.
        seen: the observations as they took part.
        has_velocity: whether any velocity took part.
        wild: whether each fix was left out, ``(n,)``.
        wild_velocities: how many velocities were left out while their positions stayed.
        blur_s: over how long the receiver had averaged its velocities, seconds.
    """

    solution: Solution
    doubts: FloatArray
    raised: FloatArray
    noise: Noise
    seen: Observed
    has_velocity: bool
    wild: np.ndarray
    wild_velocities: int = 0
    blur_s: float = 0.0


def estimate(problem: Problem, line: StationLine | None, seed: int) -> Estimate:
    """Recover the ridden path's posterior from a log.

    Args:
        problem: the log, linearised about its first path (:meth:`~lapkit.path.problem.Problem.of`).
        line: of the course, along which laps are compared; None where there is none.
        seed: of the random signs with which roughness by place is found; each round takes the next number.

    Raises:
        PathError: the fixes do not determine a path.
    """
    noise, even, solution, again = _first(problem)
    wild = wild_velocities(again, solution, noise, even)
    if wild.any():
        # What they erred by was in the noise found, too.
        weight = np.where(wild, 0.0, problem.linear.seen.velocity_weight)
        noise, even, solution, again = _first(problem.with_velocity_weight(weight))
    problem = again
    mean_noise = spread_noise = noise
    if problem.blur_s:
        mean_noise, spread_noise = noise_of_sharpened(solution, noise, problem.blur_s, seed)
        # So far velocities were sharpened by a path that their blur had smoothed; repeating it leaves a tenth of the error.
        problem = problem.about(problem.under(mean_noise).solve(problem.prior(even)).path)
    problem = problem.without(misfits(problem, solution, noise))

    seen_by_mean = problem.under(mean_noise)
    seen_by_spread = problem.under(spread_noise) if problem.blur_s else seen_by_mean
    pooling, usual_ride = _other_moments(problem, solution.path, line)
    rough, solution = _learned(seen_by_mean, solution, even, pooling, seed)
    seed += max(_ROUNDS.values())
    likeliest = (
        ridden_alone(seen_by_mean, rough)
        if usual_ride is None
        else ridden_in_laps(seen_by_mean, rough, solution.path, usual_ride, pooling, seed)
    )
    wider = seen_by_spread.solve(problem.prior(likeliest.rough))
    return Estimate(
        solution=replace(wider, mean=likeliest.solution.mean),
        doubts=likeliest.doubts,
        raised=seen_by_mean.raised(likeliest.solution),
        noise=noise,
        seen=problem.linear.seen,
        has_velocity=problem.linear.has_velocity,
        wild=problem.wild,
        wild_velocities=int(np.count_nonzero(wild)),
        blur_s=problem.blur_s,
    )


def _first(problem: Problem) -> tuple[Noise, Roughness, Solution, Problem]:
    """The noise of a log, the roughness of its ride taken as even, the solution under both, and the log about that.

    Linearised again only once: roughness by place moves the path too little to change its heading and lean.
    """
    noise = noise_of(problem)
    even = Roughness.even(problem.knots, problem.path, noise.roughness)
    solution = problem.under(noise).solve(problem.prior(even))
    return noise, even, solution, problem.about(solution.path)


def noise_of(problem: Problem) -> Noise:
    """Noise by maximum likelihood over a stretch on the move; the usual one where there is no such stretch."""
    linear = problem.linear
    usual = USUAL_NOISE[linear.has_velocity]
    (v,) = values(problem.knots, problem.path, linear.seen.time_s, 1)
    part = moving_part(linear.seen.time_s, np.hypot(*v.T))
    if part is None:
        return usual
    cut = linear.cut(part)
    filtered = not linear.has_velocity and usual_step_s(cut.seen) > _FILTERED_STEP_S
    return find_noise(Stretch(cut.knots, *cut.grams()), usual, filtered=filtered)


def noise_of_sharpened(
    solution: Solution, noise: Noise, blur_s: float, seed: int
) -> tuple[Noise, Noise]:
    """Noise under which to find the path, and noise under which to find its spread, where velocities were sharpened.

    A filter that leaves a share F of a wave leaves F² of the information on it. So the spread is that of velocities with a
    noise of σ/F instead of σ. Velocities are sharpened by the path, which its prior holds back; repeated, that settles at
    the likeliest path for a noise of σ/√F (derived). F is taken for what is uncertain of the path: for the accelerations
    of its posterior's deviations.

    Args:
        solution: posterior of the path with the velocities' noise as logged.
        noise: found for it.
        blur_s: standard deviation of the filter, seconds.
        seed: of the deviations.
    """
    knots = solution.knots
    away = path_coefficients(knots, deviations(solution, _FEW_DEVIATIONS, seed))
    some_s = knots.middle_s[::_EVERY]
    (v,) = values(knots, solution.path, some_s, 1)
    moving = some_s[np.hypot(*v.T) > _MOVING_MPS]
    # This is F².
    left = share_left(lambda t: values(knots, away, t, 2)[0], moving, blur_s)
    path, spread = (noise.velocity_mps * left**-power for power in (0.25, 0.5))
    return replace(noise, velocity_mps=path), replace(noise, velocity_mps=spread)


def misfits(problem: Problem, solution: Solution, noise: Noise) -> np.ndarray:
    """Which fixes lie further from a solution than its noise explains, ``(n,)``."""
    seen, (at_positions, _) = problem.linear.seen, problem.linear.attitudes
    (at,) = values(solution.knots, solution.path, seen.time_s, 0)
    at += wander_at(solution.knots, solution.mean, seen.time_s)
    at += at_positions.aside_m(problem.linear.above_m).T
    away = np.hypot(seen.x_m - at[:, 0], seen.y_m - at[:, 1])
    scale = np.median(away[seen.position_weight > 0]) / MEDIAN_LENGTH
    return away > _WILD * max(scale, noise.white_m, _MOST_EXACT_M)


def _other_moments(
    problem: Problem, path: FloatArray, line: StationLine | None
) -> tuple[Pooling, UsualRide | None]:
    """What moments tell of each other: how roughly he rode, and what laps repeat."""
    nearby = over_time(problem.knots, _OVER_S[problem.linear.has_velocity])
    if line is None:
        return nearby, None
    along = AlongCourse.of(problem.knots, path, line)
    usual = as_usual(along)
    return over_laps(along, usual, nearby), UsualRide.of(along, usual, path)


def _learned(
    seen: Weighted, solution: Solution, rough: Roughness, pooling: Pooling, seed: int
) -> tuple[Roughness, Solution]:
    """Roughness by place, learnt in rounds from ``solution`` and the even roughness it was found under, and the last solution."""
    problem, knots = seen.problem, solution.knots
    for turn in range(_ROUNDS[problem.linear.has_velocity]):
        if turn:
            solution = seen.solve(problem.prior(rough))
        # Other signs in every round, or the levels would settle on what one set of them happens to show.
        away = path_coefficients(knots, deviations(solution, _DEVIATIONS, seed + turn))
        rough = rough.learned(knots, solution.path, away, pooling)
    return rough, solution
