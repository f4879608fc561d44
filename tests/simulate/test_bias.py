"""The receiver's slow bias: its spread, how long it lasts, and that it is the same for the same seed."""

import numpy as np
import pytest

from lapkit.simulate.bias import SlowBias, gauss_markov


def test_a_gauss_markov_process_has_its_spread_from_the_first_moment_on():
    rng = np.random.default_rng(1)
    runs = np.stack([gauss_markov(40, 1.0, 10.0, 1, rng)[:, 0] for _ in range(4000)])
    np.testing.assert_allclose(runs.std(axis=0), 1.0, atol=0.05)
    # What it was ten steps ago is left by 1/e.
    assert np.mean(runs[:, 30] * runs[:, 20]) == pytest.approx(np.exp(-1.0), abs=0.05)


def test_half_the_steps_for_half_the_time_are_as_alike():
    rng = np.random.default_rng(2)
    fine = gauss_markov(60_000, 0.5, 4.0, 2, rng)
    alike = np.mean(fine[2:] * fine[:-2], axis=0)
    np.testing.assert_allclose(alike, np.exp(-1.0 / 4.0), atol=0.05)
    assert abs(np.mean(fine[:, 0] * fine[:, 1])) < 0.05


def test_heights_err_twice_as_much_as_positions():
    bias = SlowBias.drawn(1.5, 20.0, 1.9e9, 60_000.0, seed=3)
    np.testing.assert_allclose(bias.offset_m.std(axis=0), [1.5, 1.5, 3.0], rtol=0.08)


def test_it_runs_over_all_the_time_asked_for_in_whole_seconds():
    bias = SlowBias.drawn(1.0, 300.0, 1000.7, 59.6, seed=4)
    assert bias.time_s[0] == 1000.0
    assert bias.time_s[-1] >= 1000.7 + 59.6
    np.testing.assert_array_equal(np.diff(bias.time_s), 1.0)
    assert bias.offset_m.shape == (len(bias.time_s), 3)


def test_every_receiver_nearby_gets_the_same():
    one, same, other = (SlowBias.drawn(1.0, 300.0, 0.0, 99.0, seed=seed) for seed in (5, 5, 6))
    np.testing.assert_array_equal(one.offset_m, same.offset_m)
    assert not np.allclose(one.offset_m, other.offset_m)


def test_between_its_seconds_it_runs_straight():
    bias = SlowBias.drawn(1.0, 300.0, 0.0, 99.0, seed=7)
    found = bias.at(np.array([10.0, 10.25, 11.0]))
    np.testing.assert_allclose(found[[0, 2]], bias.offset_m[10:12])
    np.testing.assert_allclose(found[1], 0.75 * found[0] + 0.25 * found[2])


def test_as_it_ran_it_cannot_be_changed():
    bias = SlowBias.drawn(1.0, 300.0, 0.0, 9.0, seed=8)
    for values in (bias.time_s, bias.offset_m):
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 0.0
