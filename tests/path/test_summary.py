"""Value, interval and probability from the rows of an ensemble."""

import numpy as np
import pytest
from scipy import stats

from lapkit.path.summary import (
    draws_of,
    probability,
    probability_above,
    quantile,
    spread,
    summarise,
    summarise_extreme,
)


def test_quantile_is_students():
    assert quantile(47) == pytest.approx(stats.t.ppf(0.975, 47))


def test_the_value_is_the_estimates_and_lies_in_the_middle_of_its_interval():
    rows = np.array([[3.0], [5.0], [6.0], [7.0]])
    value, lo, hi = summarise(rows)
    # Three draws: standard deviation 1, t(2) = 4.302653 (a table of Student's t, memory).
    # The estimate is no mean of theirs, so that nothing is added for how well they tell one.
    reach = 4.302653
    assert value[0] == 3.0
    assert [lo[0], hi[0]] == pytest.approx([3.0 - reach, 3.0 + reach], abs=1e-5)


def test_without_draws_a_truth_is_its_own_interval():
    rows = np.array([[4.0, 2.0]])
    for part in summarise(rows):
        np.testing.assert_array_equal(part, rows[0])
    np.testing.assert_array_equal(spread(rows), [0.0, 0.0])
    np.testing.assert_array_equal(draws_of(rows), rows)


def test_intervals_hold_95_per_cent_of_truths():
    rng = np.random.default_rng(5)
    truth = rng.normal(0.0, 2.0, 4000)
    # A posterior of spread 1: estimate and draws are what a truth of that posterior looks like.
    estimate = truth + rng.normal(0.0, 1.0, 4000)
    rows = np.concatenate([estimate[None], estimate + rng.normal(0.0, 1.0, (48, 4000))])
    _, lo, hi = summarise(rows)
    # Standard error of the share is 0.0034.
    assert np.mean((lo <= truth) & (truth <= hi)) == pytest.approx(0.95, abs=0.012)


def test_a_draw_without_a_value_leaves_the_interval_open():
    value, lo, hi = summarise(np.array([[1.0], [2.0], [np.nan], [3.0]]))
    assert value[0] == 1.0
    assert np.isnan([lo[0], hi[0]]).all()


@pytest.mark.parametrize("level", [True, False])
def test_draws_that_stand_higher_widen_an_extremes_interval(level):
    rows = np.array([[10.0], [12.0], [13.0], [14.0], [13.0]])
    extreme = summarise_extreme(rows, level=level)
    # The draws stand 3 above the estimate. A level's interval takes half of it for doubt; elsewhere the interval lies
    # half of it beyond the value and takes all of it.
    value = extreme.value[0]
    assert value == 10.0
    spread_of = np.std([12.0, 13.0, 14.0, 13.0], ddof=1)
    # Where they stand is known from four draws only, and with it the interval's middle.
    reach = stats.t.ppf(0.975, 3) * np.sqrt(1 + 1 / 4)
    middle, doubt = (value, 1.5) if level else (11.5, 3.0)
    assert middle - extreme.lo[0] == pytest.approx(reach * np.hypot(spread_of, doubt))
    assert extreme.hi[0] - middle == pytest.approx(reach * np.hypot(spread_of, doubt))


def test_a_smallest_value_reaches_further_down():
    rows = np.array([[10.0], [12.0], [13.0], [14.0], [13.0]])
    up, down = summarise_extreme(rows), summarise_extreme(-rows)
    assert down.lo[0] == pytest.approx(-up.hi[0])
    assert down.hi[0] == pytest.approx(-up.lo[0])


def test_on_a_level_stretch_the_interval_of_the_largest_value_holds_it():
    rng = np.random.default_rng(3)
    truth = 40.0
    # 400 cases: a plateau seen through smooth errors of one degree, 20 of them independent along it.
    error = rng.normal(0.0, 1.0, (400, 20))
    draws = error + rng.normal(0.0, 1.0, (48, 400, 20))
    rows = truth + np.concatenate([error.max(axis=-1)[None], draws.max(axis=-1)])
    _, lo, hi = summarise_extreme(rows, level=True)
    assert np.mean((lo <= truth) & (truth <= hi)) > np.mean(
        (summarise(rows).lo <= truth) & (truth <= summarise(rows).hi)
    )


def test_the_probability_of_lying_above_a_limit_is_students_about_the_estimate():
    rng = np.random.default_rng(1)
    # Draws of an extreme stand above the estimate; what counts of them is their spread.
    rows = np.concatenate([[[2.0, 5.0]], rng.normal(9.0, 3.0, (32, 2))])
    sd = np.std(rows[1:], axis=0, ddof=1)
    above = probability_above(rows, np.array([4.0, 1.0]))
    np.testing.assert_allclose(above, stats.t.sf(np.array([2.0, -4.0]) / sd, 31))


def test_beyond_either_end_of_an_interval_lies_half_of_what_it_leaves_out():
    rows = np.concatenate([[3.0], np.random.default_rng(2).normal(3.0, 1.0, 32)])[:, None]
    lo, hi = summarise(rows)[1:]
    np.testing.assert_allclose(probability_above(rows, lo), 0.975)
    np.testing.assert_allclose(probability_above(rows, hi), 0.025)


def test_without_a_spread_something_lies_above_a_limit_or_not():
    for rows in (np.array([[2.0, 2.0, 2.0]]), np.full((5, 3), 2.0)):
        above = probability_above(rows, np.array([1.0, 2.0, 3.0]))
        np.testing.assert_array_equal(above, [1.0, 0.0, 0.0])
    assert np.isnan(probability_above(np.array([[1.0], [2.0], [np.nan], [3.0]]), np.zeros(1)))


def test_of_events_called_probable_by_a_limit_as_many_come_true():
    rng = np.random.default_rng(4)
    truth = rng.normal(0.0, 2.0, 20000)
    estimate = truth + rng.normal(0.0, 1.0, 20000)
    rows = np.concatenate([estimate[None], estimate + rng.normal(0.0, 1.0, (32, 20000))])
    # A limit anywhere near each estimate: it knows nothing of the truth.
    limit = estimate + rng.uniform(-2.5, 2.5, 20000)
    p, above = probability_above(rows, limit), truth > limit
    # A prior of spread 2 brings truths nearer to zero than estimates are, on either side alike: the shares stay.
    for lo, hi in ((0.05, 0.3), (0.3, 0.7), (0.7, 0.95)):
        told = (p >= lo) & (p < hi)
        assert np.mean(above[told]) == pytest.approx(np.mean(p[told]), abs=0.03)


def test_probability_is_the_share_of_draws():
    assert probability(np.array([True, True, False, True])) == 0.75
