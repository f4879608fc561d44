"""The steps of an estimate on a circle ridden steadily, each by itself."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.path.estimate import estimate, misfits, noise_of, noise_of_sharpened
from lapkit.path.noise import USUAL_NOISE
from lapkit.path.observed import observe_log
from lapkit.path.problem import Problem
from lapkit.path.roughness import Roughness
from lapkit.path.spline import values
from lapkit.path.unknowns import Groups
from lapkit.units import GRAVITY_MPS2

ABOVE_M = 0.3


def level(points):
    """The road does not curve up or down."""
    return lambda speed_mps: np.full_like(speed_mps, GRAVITY_MPS2)


@pytest.fixture
def seen(circle, plane):
    """A minute on a circle."""
    return observe_log(circle.log(), plane)


@pytest.fixture
def solved(steady):
    """A function that solves observations under a noise: the problem and its solution."""

    def solved(seen, noise=steady):
        problem = Problem.of(seen, ABOVE_M, level)
        rough = Roughness.even(problem.knots, problem.path, noise.roughness)
        return problem, problem.under(noise).solve(problem.prior(rough))

    return solved


@pytest.mark.parametrize(("off_m", "is_wild"), [(0.27, False), (0.36, True)])
def test_a_fix_is_wild_beyond_six_standard_deviations(seen, solved, steady, off_m, is_wild):
    problem, solution = solved(seen, replace(steady, white_m=0.05))
    at = problem.linear.attitudes[0].aside_m(ABOVE_M)[:, 300]
    at = at + values(solution.knots, solution.path, seen.time_s[300:301], 0)[0][0]
    seen.x_m[300], seen.y_m[300] = at[0] + off_m, at[1]
    # The wander of a centimetre, which is of the fix's place too, is within the room that is left here.
    assert misfits(problem, solution, steady)[300] == is_wild
    assert np.count_nonzero(misfits(problem, solution, steady)) == is_wild


@pytest.mark.parametrize(("off_m", "is_wild"), [(0.09, False), (0.15, True)])
def test_no_receiver_is_believed_to_be_exact_to_less_than_two_centimetres(
    circle, plane, solved, steady, off_m, is_wild
):
    exact = observe_log(circle.log(white_m=0.0, velocity_mps=0.0), plane)
    problem, solution = solved(exact)
    exact.x_m[300] += off_m
    assert misfits(problem, solution, replace(steady, white_m=0.001))[300] == is_wild


def test_where_fixes_stray_further_than_their_noise_says_more_is_wanted_of_a_wild_one(
    circle, plane, solved, steady
):
    poor = observe_log(circle.log(white_m=0.5), plane)
    problem, solution = solved(poor)
    assert not misfits(problem, solution, steady).any()


def test_what_the_receiver_wandered_does_not_make_a_fix_wild(seen, solved, steady):
    problem, solution = solved(seen)
    groups = Groups.of(solution.knots)
    wandered = solution.mean.copy().reshape(-1, groups.states)
    wandered[:, groups.wander(0)] += 0.6
    away = replace(solution, mean=wandered.ravel())
    seen.x_m[300] += 0.6
    assert misfits(problem, solution, steady)[300]
    assert not misfits(problem, away, steady)[300]


def test_a_log_too_short_to_find_its_noise_from_has_that_which_is_usual(circle, plane):
    seen = observe_log(circle.log(lasts_s=4.0), plane)
    assert noise_of(Problem.of(seen, ABOVE_M, level)) == USUAL_NOISE[True]
    bare = observe_log(circle.log(lasts_s=4.0, velocity_mps=None), plane)
    assert noise_of(Problem.of(bare, ABOVE_M, level)) == USUAL_NOISE[False]


def test_positions_once_a_second_are_taken_for_a_filtering_receivers(circle, plane):
    slow = {"rate_hz": 1.0, "lasts_s": 300.0, "velocity_mps": None}
    noise = noise_of(Problem.of(observe_log(circle.log(**slow), plane), ABOVE_M, level))
    assert noise.wander_m > 0.95
    slow["velocity_mps"] = 0.07
    noise = noise_of(Problem.of(observe_log(circle.log(**slow), plane), ABOVE_M, level))
    assert noise.wander_m < 0.5


def test_velocities_averaged_for_longer_are_believed_less(seen, solved, steady):
    _, solution = solved(seen)
    shares = []
    for blur_s in (1e-3, 0.15, 0.3):
        mean, spread = noise_of_sharpened(solution, steady, blur_s, seed=1)
        # By the share F that the filter leaves: σ/√F for the path, σ/F for its spread.
        share = steady.velocity_mps / spread.velocity_mps
        assert mean.velocity_mps == pytest.approx(steady.velocity_mps / np.sqrt(share))
        assert replace(mean, velocity_mps=steady.velocity_mps) == steady
        shares.append(share)
    assert shares[0] == pytest.approx(1.0, abs=1e-3)
    assert shares[0] > shares[1] > shares[2] > 0.0


def test_the_noise_kept_is_that_of_the_velocities_as_logged(seen):
    plain = estimate(Problem.of(seen, ABOVE_M, level), None, 1)
    found = estimate(Problem.of(seen, ABOVE_M, level, 0.2), None, 1)
    assert found.noise.velocity_mps == pytest.approx(plain.noise.velocity_mps, rel=0.1)
    assert found.blur_s == 0.2 and plain.blur_s == 0.0


def test_the_spread_is_wider_where_velocities_were_averaged(seen):
    def log_det(blur_s):
        return np.sum(
            np.log(estimate(Problem.of(seen, ABOVE_M, level, blur_s), None, 1).solution.factor[-1])
        )

    assert log_det(0.2) < log_det(0.0)


def test_fixes_adrift_wild_and_sound_are_told_apart(seen):
    seen.x_m[[100, 101]] += 12.0
    seen.x_m[400] += 0.7  # too near for the first path to tell
    adrift = list(range(300, 320))
    seen.position_weight[adrift] = 0.0
    found = estimate(Problem.of(seen, ABOVE_M, level), None, 1)
    assert np.flatnonzero(found.wild).tolist() == [100, 101, 400]
    left_out = np.flatnonzero(found.seen.position_weight == 0.0)
    assert left_out.tolist() == sorted([100, 101, 400, *adrift])


def test_laps_are_compared_along_the_course_and_nowhere_else(seen):
    turn = np.linspace(0.0, 2.0 * np.pi, 181)[:-1]

    def found(line):
        return estimate(Problem.of(seen, ABOVE_M, level), line, 1).solution.mean

    here, far = (
        StationLine.through(off_m + 50.0 * np.cos(turn), 50.0 * np.sin(turn), closed=True)
        for off_m in (0.0, 500.0)
    )
    np.testing.assert_array_equal(found(far), found(None))
    assert np.max(np.abs(found(here) - found(None))) > 1e-4
