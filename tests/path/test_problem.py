"""A log as a problem: every step gives a new one, and in whichever order they come they say the same."""

from dataclasses import fields, replace

import numpy as np
import pytest

from lapkit.errors import PathError
from lapkit.path.banded import gram
from lapkit.path.log_knots import knots_for, places_for
from lapkit.path.model import Noise, positions, velocities
from lapkit.path.observed import observe_log
from lapkit.path.problem import Problem
from lapkit.path.roughness import Roughness, snap_at_knots
from lapkit.path.spline import values
from lapkit.units import GRAVITY_MPS2

ABOVE_M = 0.3
NOISE = Noise(white_m=0.05, wander_m=0.1, wander_s=4.0, velocity_mps=0.1, roughness=5.0)
FEW_WILD = np.isin(np.arange(600), [50, 51, 400])


def level(points):
    """The road does not curve up or down."""
    return lambda speed_mps: np.full_like(speed_mps, GRAVITY_MPS2)


@pytest.fixture
def seen(circle, plane):
    """The observations of a minute on a circle."""
    return observe_log(circle.log(), plane)


@pytest.fixture(params=[0.0, 0.2], ids=["as logged", "sharpened"])
def problem(request, seen):
    return Problem.of(seen, ABOVE_M, level, request.param)


def further_out(problem):
    """A path a tenth longer than that about which the problem is linearised."""
    return 1.1 * problem.path


def said(problem):
    """All that a problem's observations say under a noise."""
    equations = problem.under(NOISE).equations
    return np.concatenate([equations.band.ravel(), equations.right, [equations.square]])


def test_fewer_than_eight_fixes_are_refused(circle, plane):
    few = observe_log(circle.log().part(slice(0, 7)), plane)
    with pytest.raises(PathError, match="fewer than eight fixes"):
        Problem.of(few, ABOVE_M, level)


def test_a_step_leaves_the_problem_before_it_as_it_was(problem):
    before, path, wild = said(problem), problem.path.copy(), problem.wild.copy()
    problem.about(further_out(problem)).without(FEW_WILD)
    np.testing.assert_array_equal(said(problem), before)
    np.testing.assert_array_equal(problem.path, path)
    np.testing.assert_array_equal(problem.wild, wild)


def test_linearising_and_leaving_out_may_come_in_either_order(problem):
    path = further_out(problem)
    one, other = problem.about(path).without(FEW_WILD), problem.without(FEW_WILD).about(path)
    np.testing.assert_array_equal(said(one), said(other))
    assert np.max(np.abs(said(one) - said(problem))) > 0.0


def test_velocities_are_sharpened_from_those_logged_and_never_twice(seen):
    problem = Problem.of(seen, ABOVE_M, level, 0.2)
    path = problem.path
    once, twice = problem.about(path), problem.about(further_out(problem)).about(path)
    np.testing.assert_array_equal(once.linear.seen.vx_mps, twice.linear.seen.vx_mps)
    # Averaged over a circle at the rate w a velocity is exp(-(w blur)² / 2) of itself: so much of it is put back.
    left = np.exp(-0.5 * (20.0 / 50.0 * 0.2) ** 2)
    inner = slice(20, -20)
    lost_x, lost_y = (
        getattr(once.linear.seen, name) - getattr(seen, name) for name in ("vx_mps", "vy_mps")
    )
    assert np.median(np.hypot(lost_x, lost_y)[inner]) == pytest.approx(
        20.0 * (1.0 - left), rel=0.05
    )


def test_more_wild_fixes_add_to_those_left_out_before(problem):
    both = problem.without(FEW_WILD).without(np.arange(600) == 9)
    assert np.flatnonzero(both.wild).tolist() == [9, 50, 51, 400]
    weight = both.linear.seen.position_weight, both.linear.seen.velocity_weight
    for each in weight:
        assert np.flatnonzero(each == 0.0).tolist() == [9, 50, 51, 400]


def test_a_position_adrift_is_not_called_wild_and_keeps_its_velocity(seen):
    adrift = np.where(np.arange(600) == 50, 0.0, 1.0)
    problem = Problem.of(replace(seen, position_weight=adrift), ABOVE_M, level).without(FEW_WILD)
    assert np.flatnonzero(problem.wild).tolist() == [51, 400]
    assert problem.linear.seen.position_weight[50] == 0.0
    assert problem.linear.seen.velocity_weight[50] == 1.0


def test_wild_fixes_of_the_first_path_are_left_out_from_the_start(seen):
    seen.x_m[[100, 300]] += 30.0
    problem = Problem.of(seen, ABOVE_M, level)
    assert np.flatnonzero(problem.wild).tolist() == [100, 300]
    assert problem.linear.seen.position_weight[100] == 0.0


def test_a_part_has_the_normal_equations_of_its_own_fixes(problem):
    part = slice(100, 300)
    whole, cut = problem.linear, problem.linear.cut(part)
    alone = replace(
        whole.seen, **{f.name: getattr(whole.seen, f.name)[part] for f in fields(whole.seen)}
    )
    knots = knots_for(alone)
    assert cut.knots == knots and len(cut.seen.time_s) == 200
    places = places_for(knots, alone)
    about = (problem.about(problem.path).linear.attitudes[i] for i in (0, 1))
    attitudes = [
        replace(each, **{f.name: getattr(each, f.name)[..., part] for f in fields(each)})
        for each in about
    ]
    for found, of, place, attitude in zip(
        cut.grams(), (positions, velocities), places, attitudes, strict=True
    ):
        expected = gram(knots, of(alone, ABOVE_M, attitude, place))
        np.testing.assert_array_equal(found.band, expected.band)
        np.testing.assert_array_equal(found.right, expected.right)


def test_a_part_without_velocities_of_a_log_that_has_them_says_so_by_a_count_of_none(seen):
    seen.velocity_weight[100:300] = 0.0
    problem = Problem.of(seen, ABOVE_M, level)
    _, velocity = problem.linear.cut(slice(100, 300)).grams()
    assert velocity.count == 0.0
    without = replace(seen, velocity_weight=np.zeros(600))
    assert Problem.of(without, ABOVE_M, level).linear.grams()[1] is None


def test_about_the_snap_of_a_path_a_stiff_prior_leaves_that_path(seen):
    problem = Problem.of(seen, ABOVE_M, level)
    circle, stiff = problem.path, Roughness.even(problem.knots, problem.path, 1e-3)
    observed, prior = problem.under(NOISE), problem.prior(stiff)
    right = problem.prior_right(stiff, snap_at_knots(problem.knots, circle).T)
    away = [
        np.hypot(*(solution.path - circle).T).max()
        for solution in (observed.solve(prior), observed.solve(prior, right))
    ]
    # As stiff and about nothing it cannot turn; the circle is that of the antenna, which stands a few inches further in.
    assert away[0] > 10.0
    assert away[1] < 0.5


def test_fixes_that_determine_no_path_are_refused_and_it_says_what_to_do(seen):
    problem = Problem.of(seen, ABOVE_M, level)
    rough = Roughness.even(problem.knots, problem.path, 5.0)
    nothing = problem.without(np.ones(600, dtype=bool)).under(NOISE)
    with pytest.raises(PathError, match="to determine a path") as refused:
        nothing.solve(0.0 * problem.prior(rough))
    assert refused.value.remedy


def test_across_a_hole_the_prior_holds_the_path_to_the_chord(circle, plane):
    log = circle.log()
    since = log.time_s - log.time_s[0]
    seen = observe_log(log.part((since < 20.0) | (since > 40.0)), plane)
    holed = Problem.of(seen, ABOVE_M, level)
    rough = Roughness.even(holed.knots, holed.path, 5.0)
    with_chord, without = holed.prior(rough), replace(holed, chord=0.0 * holed.chord).prior(rough)
    at_hole = with_chord[-1] - without[-1] > 0.0
    assert 0.2 < np.mean(at_hole) < 0.4


@pytest.mark.parametrize("velocity_mps", [0.07, None])
def test_with_a_higher_antenna_the_mass_had_run_further_out(circle, plane, velocity_mps):
    seen = observe_log(circle.log(velocity_mps=velocity_mps), plane)
    problem = Problem.of(seen, ABOVE_M, level)
    weighted = problem.under(NOISE)
    prior = problem.prior(Roughness.even(problem.knots, problem.path, NOISE.roughness))
    solution = weighted.solve(prior)
    time_s = seen.time_s[100:-100]
    (at,), (moved,) = (
        values(problem.knots, path, time_s, 0)
        for path in (solution.path, weighted.raised(solution))
    )
    # Round a circle the antenna is sin(lean) nearer to the centre for each metre of height.
    outward = at / np.hypot(*at.T)[:, None]
    out, along = np.sum(moved * outward, axis=1), np.sum(moved * outward[:, ::-1], axis=1)
    assert np.mean(out) == pytest.approx(np.sin(circle.lean_rad), rel=0.1)
    assert np.abs(np.mean(along)) < 0.1
