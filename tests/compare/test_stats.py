import numpy as np
import pytest

from lapkit.compare.stats import change, discoveries, mean_interval, wilson


def test_a_shared_spread_widens_a_change_and_nothing_else():
    rng = np.random.default_rng(0)
    before, after = rng.normal(0, 0.3, 6), rng.normal(0.5, 0.3, 6)
    plain, shared = change(before, after), change(before, after, shared_sd=1.0)
    assert shared.size == plain.size
    assert shared.hi - shared.lo > 3.0 * (plain.hi - plain.lo)
    assert shared.p > plain.p
    # What is shared counts as known: the interval tends to that of a normal.
    assert shared.hi - shared.lo == pytest.approx(
        2 * 1.96 * np.hypot(1.0, 0.3 / np.sqrt(3)), rel=0.05
    )


def test_equal_laps_have_changed_for_certain_or_not_at_all():
    assert change(np.ones(3), np.ones(4)).p == 1.0
    assert change(np.ones(3), np.full(4, 2.0)) == (1.0, 1.0, 1.0, 0.0)


def test_false_changes_are_held_down():
    rng = np.random.default_rng(1)
    reported = 0
    for _ in range(400):
        runs = rng.normal(size=(2, 8, 6))
        p = np.array([change(*pair).p for pair in zip(*runs, strict=True)])
        reported += discoveries(p).any()
    # With nothing to find, any report is false: 5 % of looks, standard error 1.1 %.
    assert reported / 400 < 0.085


def test_nothing_is_reported_of_what_is_not_known():
    assert discoveries(np.array([np.nan, 0.001, np.nan])).tolist() == [False, True, False]
    assert discoveries(np.array([])).tolist() == []
    assert not discoveries(np.array([0.2, 0.9])).any()


def test_mean_interval_of_two():
    # Student's t of one degree of freedom is 12.7062 (a table of Student's t, memory).
    mean, lo, hi = mean_interval(np.array([1.0, 3.0]))
    assert (mean, lo, hi) == pytest.approx((2.0, 2.0 - 12.7062, 2.0 + 12.7062), abs=1e-4)


def test_wilson_stays_within_none_and_all():
    for hits in range(6):
        lo, hi = wilson(hits, 5)
        assert -1e-12 <= lo <= hits / 5 <= hi <= 1.0 + 1e-12
