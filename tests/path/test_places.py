"""Sums of powers over the fixes of each interval, against the same summed fix by fix."""

import numpy as np
import pytest

from lapkit.path.places import Places
from lapkit.path.spline import SUPPORT, Knots

KNOTS = Knots(start_s=5.0, spacing_s=0.5, intervals=40)

TIMES = {
    "one fix an interval": 5.2 + 0.5 * np.arange(40),
    "many fixes an interval": 5.0 + 0.04 * np.arange(500),
    "uneven times": np.sort(np.random.default_rng(1).uniform(5.0, 25.0, 90)),
    "a gap in the middle": np.concatenate([5.0 + 0.1 * np.arange(30), 22.0 + 0.1 * np.arange(30)]),
    "a fix now and then": np.array([6.1, 9.3, 14.6, 14.8, 24.9]),
    "a burst in a slow log": np.sort(
        np.concatenate([5.2 + 0.5 * np.arange(40), [7.21, 7.3, 18.4]])
    ),
    "a single fix": np.array([11.3]),
    "on the knots": 5.0 + 0.5 * np.arange(41),
}


def summed(time_s, weight, powers):
    """Fix by fix."""
    sums = np.zeros((powers, KNOTS.intervals))
    for at, heavy in zip(time_s, weight, strict=True):
        # The last knot of all belongs to the interval before it.
        interval = min(int((at - 5.0) // 0.5), KNOTS.intervals - 1)
        sums[:, interval] += heavy * ((at - 5.0) / 0.5 - interval) ** np.arange(powers)
    return sums


@pytest.mark.parametrize("powers", [1, 3, 2 * SUPPORT - 1])
@pytest.mark.parametrize("time_s", TIMES.values(), ids=TIMES)
def test_sums_are_those_fix_by_fix(time_s, powers):
    weight = np.random.default_rng(2).uniform(-1.0, 2.0, len(time_s))
    found = Places.of(KNOTS, time_s).sums(weight, powers)
    np.testing.assert_allclose(found, summed(time_s, weight, powers), rtol=0, atol=1e-11)


def test_an_interval_without_fixes_sums_to_nothing_whatever_weighs_elsewhere():
    # The first fix stands in for those that intervals lack.
    time = np.delete(5.2 + 0.5 * np.arange(40), [7, 8, 21])
    weight = np.full(len(time), 1e300)
    found = Places.of(KNOTS, time).sums(weight, 4)
    np.testing.assert_array_equal(found[:, [7, 8, 21]], 0.0)


def test_few_fixes_apart_are_kept_as_few():
    """A log with a hole of hours costs what its fixes cost, not what its hours would."""
    hours = Knots(start_s=0.0, spacing_s=0.25, intervals=100_000)
    time = np.concatenate([0.1 * np.arange(50), 24_990.0 + 0.1 * np.arange(50)])
    turns = Places.of(hours, time).turns
    assert sum(turn.powers.shape[1] for turn in turns) == len(time)


def test_places_are_kept_without_gaps_where_few_intervals_lack_a_fix():
    """There sums are taken over a slice, which is several times as fast."""
    time = np.delete(5.2 + 0.5 * np.arange(40), [*range(11), 21])
    (turn,) = Places.of(KNOTS, time).turns
    assert turn.intervals == slice(11, 40)
