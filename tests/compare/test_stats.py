"""Intervals and false discovery rates, against simulation and published procedures."""

import numpy as np
import pytest
from scipy.stats import false_discovery_control
from scipy.stats import t as student

from lapkit.compare.stats import (
    LEAST_SPREAD,
    adjusted,
    change_of,
    discoveries,
    mean_interval,
    spread_of,
)
from lapkit.path.moderated import moderated
from lapkit.path.summary import DRAWS, Summary, summarise


def change(before, after, shared_sd=0.0):
    """Of two runs with as many laps, no other corner helping."""
    variance = np.mean([np.var(laps, ddof=1) for laps in (before, after)])
    of_means = variance * (1.0 / len(before) + 1.0 / len(after))
    free = len(before) + len(after) - 2.0
    return change_of(np.mean(after) - np.mean(before), of_means, free, shared_sd)


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
    assert change_of(0.0, 0.0, 5.0).p == 1.0
    assert change_of(1.0, 0.0, 5.0) == (1.0, 1.0, 1.0, 0.0)


def between(lo, hi):
    """A value somewhere in an interval."""
    return Summary(np.array([0.5 * (lo + hi)]), np.array([lo]), np.array([hi]))


def test_a_spread_is_read_off_an_interval_of_the_usual_draws():
    reach = student.ppf(0.975, DRAWS - 1)
    assert spread_of(between(-reach, reach)) == pytest.approx(1.0, rel=1e-12)
    assert spread_of(between(3.0, 3.0)) == LEAST_SPREAD


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


def test_the_interval_of_a_mean_of_two_is_students():
    # Student's t of one degree of freedom is 12.7062 (a table of Student's t, memory).
    mean, lo, hi = mean_interval(np.array([1.0, 3.0]))
    assert (mean, lo, hi) == pytest.approx((2.0, 2.0 - 12.7062, 2.0 + 12.7062), abs=1e-4)


def test_a_spread_is_read_back_from_its_interval():
    rows = np.random.default_rng(2).normal(3.0, 0.4, (49, 1))
    found = summarise(rows)
    assert spread_of(found) == pytest.approx(np.std(rows[1:], ddof=1), rel=0.02)
    assert spread_of(Summary(found.value, found.lo, found.lo))[0] > 0.0


def test_help_from_other_corners_finds_more_and_is_wrong_no_more_often():
    rng = np.random.default_rng(4)
    wrong, seen, alone = [], [], []
    for _ in range(300):
        sd = np.sqrt(0.01 * 8.0 / rng.chisquare(8.0, (8, 1)))
        before, after = (rng.normal(0.0, sd, (8, 4)) for _ in range(2))
        after[0] += 0.25
        variance = np.mean([v.var(axis=1, ddof=1) for v in (before, after)], axis=0)
        drawn, free = moderated(variance, np.full(8, 6.0))
        size = after.mean(axis=1) - before.mean(axis=1)
        p = [change_of(*each).p for each in zip(size, drawn / 2.0, free, strict=True)]
        seen.append(p[0] < 0.005)
        wrong += [each < 0.05 for each in p[1:]]
        alone.append(change(before[0], after[0]).p < 0.005)
    assert np.mean(wrong) == pytest.approx(0.05, abs=0.015)
    assert np.mean(seen) > np.mean(alone) + 0.15


def test_p_values_are_raised_for_how_many_tests_there_are():
    # scipy.stats.false_discovery_control is the same step up, made by others.
    p = np.array([0.01, 0.04, 0.0005, 0.9, 0.02])
    assert adjusted(p) == pytest.approx(false_discovery_control(p))
    raised = adjusted(np.array([0.02, np.nan, 0.01]))
    assert raised[[0, 2]] == pytest.approx([0.02, 0.02])
    assert np.isnan(raised[1])
