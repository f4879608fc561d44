"""What sights say of the offset's process and of the offset under it, held against the same written out dense."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.errors import PathError
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import PRIOR_SD_M, Information, OffsetProcess
from lapkit.path.offset_sight import Readings, Sight
from lapkit.simulate.bias import gauss_markov

KNOTS = OffsetKnots.covering(0.0, 400.0)
SD_M = 0.3


def readings(seed, count=60, knots=KNOTS, offset=None):
    """Readings along any direction, of an offset ``(2, knots)`` where one is given, with an error of a few decimetres."""
    rng = np.random.default_rng(seed)
    time_s = np.sort(rng.uniform(0.0, knots.time_s[-1], count))
    angle = rng.uniform(0.0, 2.0 * np.pi, count)
    direction = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    value = rng.normal(0.0, SD_M, count)
    if offset is not None:
        value += np.sum(knots.between(offset, time_s).T * direction, axis=1)
    return Readings(time_s, direction, value)


def covariance_of(knots, process):
    """That of both components at the knots."""
    apart = np.abs(knots.time_s[:, None] - knots.time_s)
    return np.kron(np.eye(2), process.sd_m**2 * np.exp(-apart / process.memory_s))


def design_of(knots, seen):
    """How readings depend on the knots, by numpy's own interpolation."""
    between = np.stack([np.interp(seen.time_s, knots.time_s, e) for e in np.eye(len(knots.time_s))])
    return np.hstack([between.T * seen.direction[:, :1], between.T * seen.direction[:, 1:]])


@pytest.mark.parametrize("process", [OffsetProcess(1.5, 600.0), OffsetProcess(4.0, 120.0)])
def test_posterior_and_likelihood_are_those_of_the_dense_gaussian(process):
    seen = readings(1)
    found = Information.of(KNOTS, [Sight.of(KNOTS, seen, SD_M)]).posterior(process)
    design, prior = design_of(KNOTS, seen), covariance_of(KNOTS, process)
    of_values = design @ prior @ design.T + SD_M**2 * np.eye(len(seen.time_s))
    gain = np.linalg.solve(of_values, design @ prior).T
    np.testing.assert_allclose(found.mean, gain @ seen.value_m, atol=1e-8)
    precision = np.linalg.inv(prior) + design.T @ design / SD_M**2
    np.testing.assert_allclose(found.factor.T @ found.factor, precision, atol=1e-6)
    expected = np.linalg.slogdet(of_values)[1]
    expected += seen.value_m @ np.linalg.solve(of_values, seen.value_m)
    assert found.minus_2_log == pytest.approx(expected)


def test_sights_say_together_what_all_their_readings_say():
    seen = readings(2)
    parts = [
        Readings(seen.time_s[part], seen.direction[part], seen.value_m[part])
        for part in (slice(0, 25), slice(25, None))
    ]
    whole = Information.of(KNOTS, [Sight.of(KNOTS, seen, SD_M)])
    sights = [Sight.of(KNOTS, part, SD_M) for part in parts]
    one, other = (Information.of(KNOTS, [sight]) for sight in sights)
    for both in (Information.of(KNOTS, sights), one + other):
        np.testing.assert_allclose(both.precision, whole.precision, atol=1e-9)
        np.testing.assert_allclose(both.right, whole.right, atol=1e-9)
        assert both.constant == pytest.approx(whole.constant)


@pytest.mark.parametrize(("one", "other"), [(True, False), (False, True), (False, False)])
def test_together_they_are_firm_if_either_is(one, other):
    none = Information.of(KNOTS, [])
    assert (replace(none, firm=one) + replace(none, firm=other)).firm == (one or other)


def test_sights_that_determine_nothing_are_refused_and_it_says_what_to_do():
    none = Information.of(KNOTS, [])
    with pytest.raises(PathError, match="do not determine") as refused:
        replace(none, precision=none.precision - 1e6 * np.eye(len(none.right))).posterior(
            OffsetProcess(1.5, 600.0)
        )
    assert refused.value.remedy


def test_where_nothing_is_seen_every_size_keeps_its_prior_probability():
    found = Information.of(KNOTS, []).with_probable_size(600.0)
    mean_square = 0.75 * 1.5**2 + 0.2 * 2.5**2 + 0.05 * 4.0**2
    assert found.sd_m**2 == pytest.approx(mean_square)
    # It moves as fast as before: sd² over memory stays.
    assert found.memory_s == pytest.approx(600.0 * mean_square / PRIOR_SD_M**2)


@pytest.mark.parametrize("off_m", [0.5, 2.5, 6.0])
def test_each_size_counts_by_its_prior_probability_and_its_likelihood(off_m):
    off = np.full((2, len(KNOTS.time_s)), off_m)
    information = Information.of(KNOTS, [Sight.of(KNOTS, readings(3, offset=off), SD_M)])
    squares = np.square([1.5, 2.5, 4.0])
    tried = [OffsetProcess(float(np.sqrt(each)), 900.0 * each / 2.25) for each in squares]
    misfit = np.array([information.minus_2_log(process) for process in tried])
    probable = np.array([0.75, 0.2, 0.05]) * np.exp(-0.5 * (misfit - misfit.min()))
    mean_square = probable @ squares / probable.sum()
    assert information.with_probable_size(900.0).sd_m ** 2 == pytest.approx(mean_square)
    assert (mean_square > 6.0) == (off_m == 6.0)


@pytest.mark.parametrize("sd_m", [1.0, 2.5])
def test_the_likeliest_memory_is_that_of_a_search_over_all(sd_m):
    knots = OffsetKnots.covering(0.0, 1800.0)
    ridden = sd_m * gauss_markov(
        len(knots.time_s), knots.step_s, 400.0, 2, np.random.default_rng(4)
    )
    sight = Sight.of(knots, readings(4, 400, knots, ridden.T), SD_M)
    information = Information.of(knots, [sight])
    found = information.likeliest_memory_s(sd_m)
    grid = np.geomspace(120.0, 3600.0, 60)
    costs = [information.minus_2_log(OffsetProcess(sd_m, each)) for each in grid]
    assert 1.0 < np.argmin(costs) < 58.0
    assert np.log(found / grid[np.argmin(costs)]) == pytest.approx(0.0, abs=0.15)


@pytest.mark.parametrize(("firm", "longest_s"), [(False, 3600.0), (True, 18_000.0)])
def test_only_a_firm_sight_shows_a_memory_of_hours(firm, longest_s):
    still = np.full((2, len(KNOTS.time_s)), 1.0)
    sight = Sight.of(KNOTS, readings(5, offset=still), SD_M, firm=firm)
    found = Information.of(KNOTS, [sight]).likeliest_memory_s(PRIOR_SD_M)
    assert 0.5 * longest_s < found <= longest_s


@pytest.mark.parametrize("count", [20, 21])
def test_every_other_knot_says_the_same_of_an_offset_that_runs_straight_past_the_rest(count):
    knots = OffsetKnots(10.0 * np.arange(count))
    whole = Information.of(knots, [Sight.of(knots, readings(6, knots=knots), SD_M)])
    thin = whole.at_every_other_knot()
    at_thin = np.random.default_rng(6).normal(size=(2, len(thin.knots.time_s)))
    straight = thin.knots.between(at_thin, knots.time_s).ravel()
    few = at_thin.ravel()
    assert few @ thin.precision @ few == pytest.approx(straight @ whole.precision @ straight)
    assert few @ thin.right == pytest.approx(straight @ whole.right)
    assert thin.constant == whole.constant


def test_a_scatter_beside_other_sights_is_what_their_information_would_be_with_it():
    own, loose = Sight.of(KNOTS, readings(7), 0.1), Sight.of(KNOTS, readings(8), 1.0)
    together = Information.of(KNOTS, [own]).beside(
        Information.of(KNOTS, [loose]), loose.sums.free_values, np.log(0.4)
    )
    expected = Information.of(KNOTS, [own, replace(loose, sd_m=0.4)])
    np.testing.assert_allclose(together.precision, expected.precision)
    np.testing.assert_allclose(together.right, expected.right)
    assert together.constant == pytest.approx(expected.constant)


@pytest.mark.parametrize("memory_s", [600.0, 2000.0])
@pytest.mark.parametrize("begin_m", [0.15, 1.0])
def test_scatter_and_process_are_found_together_from_wherever_the_search_begins(memory_s, begin_m):
    knots = OffsetKnots.covering(0.0, 1800.0)
    scatters, memories = [], []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        moved = PRIOR_SD_M * gauss_markov(len(knots.time_s), knots.step_s, memory_s, 2, rng).T
        firm = Sight.of(knots, readings(seed, 6, knots, moved), 0.3, firm=True)
        loose = Sight.of(knots, readings(seed + 90, 500, knots, moved), begin_m)
        scatter, process = Information.of(knots, [firm]).scatter_and_process(
            loose, OffsetProcess(PRIOR_SD_M, 600.0)
        )
        scatters.append(scatter)
        memories.append(process.memory_s * (PRIOR_SD_M / process.sd_m) ** 2)
    assert np.mean(scatters) == pytest.approx(SD_M, rel=0.15)
    assert np.exp(np.mean(np.log(memories))) == pytest.approx(memory_s, rel=0.5)
