"""The offset's posterior: what it makes of sights, of their groups and of the process behind them."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.offset import PositionOffset, find_offset, mean_offset
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.offset_process import PRIOR_SD_M
from lapkit.path.offset_sight import Readings, Sight
from lapkit.path.stops import Stop, hold_sights
from lapkit.simulate.bias import gauss_markov


def test_without_sights_the_spread_stays(knots):
    offset = find_offset(knots, [], draws=200, seed=1)
    assert offset.typical_sd_m() == pytest.approx(PRIOR_SD_M, rel=0.01)
    assert offset.rows[1:].std() == pytest.approx(PRIOR_SD_M, rel=0.1)
    assert np.all(offset.rows[0] == 0.0)


def test_a_receiver_whose_positions_jumped_may_be_further_off(knots):
    offset = find_offset(knots, [], draws=200, seed=1, jumped_m=2.0)
    assert offset.typical_sd_m() == pytest.approx(np.hypot(PRIOR_SD_M, 2.0), rel=0.01)
    steps = np.diff(offset.rows[1:], axis=-1).std()
    assert steps == pytest.approx(np.diff(find_offset(knots, [], 200, 1).rows[1:]).std(), rel=0.02)


def test_how_well_it_is_known_is_told_of_the_time_asked_for(knots):
    first, last = knots.time_s[[0, -1]]
    sd_m = np.where(knots.time_s < 0.5 * (first + last), 3.0, 0.4)
    offset = PositionOffset(knots, np.zeros((1, 2, len(sd_m))), np.tile(sd_m, (2, 1)))
    assert offset.typical_sd_m(last - 100.0, last) == pytest.approx(0.4)
    assert offset.typical_sd_m() == pytest.approx(np.sqrt((9.0 + 0.16) / 2.0), rel=0.02)
    assert offset.typical_sd_m(last + 5.0) == offset.typical_sd_m()


def test_correlation_time_comes_from_the_sights():
    knots = OffsetKnots.covering(0.0, 900.0)
    rng = np.random.default_rng(3)
    t = rng.uniform(0, 900, 300)
    angle = rng.uniform(0, 2 * np.pi, 300)
    direction = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    moving = np.stack([np.sin(t / 60), np.cos(t / 60)], axis=1)
    value = np.sum(moving * direction, axis=1) + rng.normal(0, 0.1, 300)
    offset = find_offset(knots, [Sight.of(knots, Readings(t, direction, value), 0.1)], 48, 1)
    at = np.arange(50.0, 850.0, 10.0)
    truth = np.stack([np.sin(at / 60), np.cos(at / 60)])
    assert np.sqrt(np.mean((offset.at(at)[0] - truth) ** 2)) < 0.1


def test_groups_tell_of_changes_only(knots):
    t = np.tile(np.arange(50.0, 850.0, 100.0), 2)
    direction = np.tile([[1.0, 0.0]], (len(t), 1))
    value = np.full(len(t), 7.0)
    group = np.zeros(len(t), dtype=int)
    laps = Sight.of(knots, Readings(t, direction, value, group), 0.05)
    offset = find_offset(knots, [laps], 48, 1)
    assert np.max(np.abs(offset.rows[0, 0])) < 1e-6
    assert offset.sd_m[0, 40] > 1.0


def about_middle(values):
    return values - values.mean(axis=-1, keepdims=True)


def test_what_the_receiver_wandered_counts_once(knots):
    # Laps show offset and wander as one, and one is what they are taken out as.
    at = np.arange(40.0, 860.0, 5.0)
    east = np.tile([[1.0, 0.0]], (len(at), 1))
    group = np.arange(len(at)) % 12
    misses, believed = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        offset = 1.2 * gauss_markov(len(knots.time_s), knots.step_s, 600.0, 1, rng).T
        wander, *drawn = 0.3 * gauss_markov(len(at), 5.0, 4.0, 33, rng).T
        moved = knots.between(offset, at)[0] + wander
        seen = Readings(at, east, moved + rng.normal(0, 0.1, len(at)), group)
        sight = Sight.of(knots, seen, 0.32)
        stop = Readings(np.array([20.0]), np.eye(2)[:1], offset[0, 2:3])
        stood = Sight.of(knots, stop, 0.05, firm=True)
        laps = replace(sight, path_m=-np.array(drawn))
        told = find_offset(knots, [stood, laps], 32, seed).at(at)[:, 0]
        misses.append(about_middle(moved - told[0]))
        believed.append(about_middle(np.array(drawn) + told[1:] - told[0]))
    off, by = (float(np.sqrt(np.mean(np.square(np.concatenate(x))))) for x in (misses, believed))
    # A third more was believed while the wander was added to what laps had left of the offset.
    assert off == pytest.approx(by, rel=0.07)


def test_a_log_of_a_whole_day_keeps_the_system_small():
    knots = OffsetKnots.covering(0.0, 10.0 * 3600.0)
    assert len(knots.time_s) <= 401
    assert knots.time_s[-1] >= 10.0 * 3600.0
    offset = find_offset(knots, [], draws=200, seed=1)
    assert offset.rows[1:].std() == pytest.approx(PRIOR_SD_M, rel=0.1)


def test_how_far_off_a_receiver_stands_and_how_fast_it_moves_are_told_apart(knots, steady, mark):
    stops = [Stop(20.0 + 40.0 * i, 30.0, 0.2, -0.1) for i in range(22)]
    still, _ = hold_sights(knots, stops, mark, steady)
    moves = [replace(s, x_m=2.0 * (-1) ** i, y_m=2.0) for i, s in enumerate(stops)]
    moving, _ = hold_sights(knots, moves, mark, steady)
    away, _ = hold_sights(knots, [replace(s, x_m=3.4, y_m=-2.7) for s in stops], mark, steady)
    (_, slow), (_, fast), (_, far) = (mean_offset(knots, s) for s in (still, moving, away))
    assert slow.memory_s > 3600.0 > 600.0 > fast.memory_s
    assert slow.sd_m < 1.2 * PRIOR_SD_M < far.sd_m
    assert far.memory_s > 3600.0


@pytest.mark.parametrize("seed", range(6))
def test_laps_alone_do_not_make_a_receiver_worse_than_most(knots, seed):
    """They show how the offset moved: every size explains that alike, and the likeliest by a hair said nothing."""
    rng = np.random.default_rng(seed)
    t = np.arange(5.0, 895.0, 5.0)
    angle = 2.0 * np.pi * t / 90.0
    left = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    bias = 1.2 * gauss_markov(len(t), 5.0, 300.0, 2, rng)
    seen = np.sum(left * bias, axis=1) + rng.normal(0.0, 0.2, len(t))
    place = (t / 5.0).astype(int) % 18
    laps = Sight.of(knots, Readings(t, left, seen, place), 0.2)
    _, process = mean_offset(knots, [laps])
    assert PRIOR_SD_M < process.sd_m < 2.2
