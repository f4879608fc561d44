from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.plane import Plane
from lapkit.importer.log import CHANNELS
from lapkit.simulate.bias import SlowBias, gauss_markov
from lapkit.simulate.receiver import Receiver, observe, stand

PERFECT = Receiver(
    bias_m=0.0,
    wander_m=0.0,
    white_m=0.0,
    velocity_mps=0.0,
    height_m=0.0,
    degree_decimals=12,
    speed_step_mps=1e-6,
    heading_step_deg=1e-6,
)
PLANE = Plane(41.0, -33.0)


def standing(receiver: Receiver, seconds: float = 4000.0, seed: int = 1):
    bias = SlowBias.drawn(receiver.bias_m, receiver.bias_s, 1.9e9, seconds, seed)
    log = stand(PLANE, (100.0, 50.0, 20.0), receiver, bias, seed)
    x, y = PLANE.to_xy(log.lat_deg, log.lon_deg)
    return log, np.stack([x - 100.0, y - 50.0], axis=1), bias


def true_velocity(ride, log, lag_s=0.0):
    return np.stack(ride.antenna_velocity(log.time_s - ride.epoch_s - lag_s), axis=1)


def logged_velocity(log):
    heading = np.radians(log.heading_deg)
    return np.stack([log.speed_mps * np.sin(heading), log.speed_mps * np.cos(heading)], axis=1)


def test_a_perfect_receiver_logs_the_antenna(rough):
    log = observe(rough, PERFECT, 1)
    x, y = rough.course.plane.to_xy(log.lat_deg, log.lon_deg)
    time = log.time_s - rough.epoch_s
    assert np.allclose(np.stack([x, y]), np.stack(rough.antenna_xy(time)), atol=1e-4)
    assert np.allclose(log.height_m, rough.height_at(time), atol=0.006)
    assert np.allclose(logged_velocity(log), true_velocity(rough, log), atol=1e-3)


def test_white_noise_has_the_spread_asked_for():
    _, error, _ = standing(replace(PERFECT, white_m=0.06))
    assert np.std(error) == pytest.approx(0.06, rel=0.02)
    assert np.corrcoef(error[1:, 0], error[:-1, 0])[0, 1] == pytest.approx(0.0, abs=0.02)


def test_wander_has_the_spread_and_the_time_asked_for():
    _, error, _ = standing(replace(PERFECT, wander_m=0.15, wander_s=4.0), seconds=12000.0)
    assert np.std(error) == pytest.approx(0.15, rel=0.08)
    later = 40  # four seconds at 10 Hz
    kept = np.mean(error[later:] * error[:-later]) / np.mean(error**2)
    assert kept == pytest.approx(np.exp(-1.0), abs=0.07)


def test_the_slow_bias_is_stationary_over_many_draws():
    rng = np.random.default_rng(3)
    paths = gauss_markov(1200, 1.0, 600.0, 400, rng)
    assert np.std(paths[0]) == pytest.approx(1.0, rel=0.1)
    assert np.std(paths[-1]) == pytest.approx(1.0, rel=0.1)
    assert np.mean(paths[600] * paths[0]) == pytest.approx(np.exp(-1.0), abs=0.13)


def test_receivers_that_share_a_bias_are_off_together(rough):
    bias = SlowBias.drawn(1.2, 600.0, rough.epoch_s, rough.end_s, seed=9)
    logs = [observe(rough, replace(PERFECT, bias_m=1.2), seed, bias=bias) for seed in (1, 2)]
    assert np.allclose(logs[0].lat_deg, logs[1].lat_deg)
    base = stand(rough.course.plane, (0.0, 0.0, 0.0), PERFECT, bias)
    x, _ = rough.course.plane.to_xy(base.lat_deg, base.lon_deg)
    assert np.allclose(x, bias.at(base.time_s)[:, 0], atol=1e-3)
    alone = observe(rough, replace(PERFECT, bias_m=1.2), 5)
    assert np.abs(alone.lat_deg - logs[0].lat_deg).max() * 111e3 > 0.2


def test_velocity_noise_has_the_spread_asked_for(rough):
    log = observe(rough, Receiver(), 4)
    error = logged_velocity(log) - true_velocity(rough, log)
    assert np.std(error, axis=0) == pytest.approx([0.07, 0.07], rel=0.06)


def test_a_lagging_velocity_is_an_old_one(rough):
    log = observe(rough, replace(PERFECT, lag_s=0.3), 4)
    late = log.time_s - rough.epoch_s > 1.0
    assert np.allclose(logged_velocity(log)[late], true_velocity(rough, log, 0.3)[late], atol=1e-3)
    assert np.abs(logged_velocity(log) - true_velocity(rough, log)).max() > 1.0


def test_heading_freezes_when_he_stands(rough):
    log = observe(rough, Receiver(freeze_below_mps=1.0), 4)
    stood = log.time_s - rough.epoch_s > rough.end_s - 30.0
    assert np.ptp(log.heading_deg[stood]) == 0.0
    assert np.ptp(observe(rough, Receiver(), 4).heading_deg[stood]) > 100.0


def test_without_velocity_there_is_none(rough):
    log = observe(rough, Receiver(velocity_mps=None, height_m=None), 4)
    assert log.speed_mps is None
    assert log.heading_deg is None
    assert log.height_m is None
    assert not log.has_velocity


@pytest.mark.parametrize("rate", [1.0, 5.0, 18.0, 25.0])
def test_fixes_come_at_the_receiver_s_rate(rough, rate):
    log = observe(rough, Receiver(rate_hz=rate), 4)
    assert log.rate_hz == pytest.approx(rate, rel=0.01)
    assert len(log) == int(rough.end_s * rate)


def test_gaps_missing_wild_and_uneven_fixes(rough):
    whole = observe(rough, PERFECT, 6)
    thin = observe(rough, replace(PERFECT, missing_share=0.1), 6)
    assert len(thin) / len(whole) == pytest.approx(0.9, abs=0.02)
    gapped = observe(rough, replace(PERFECT, gaps_per_hour=60.0, gap_s=4.0), 6)
    assert np.diff(gapped.time_s).max() > 2.0
    wild = observe(rough, replace(PERFECT, wild_share=0.01, wild_run=3), 6)
    off = np.abs(wild.lat_deg - whole.lat_deg) * 111e3 > 1.0
    assert 0.01 < off.mean() < 0.03
    uneven = np.diff(observe(rough, replace(PERFECT, jitter_s=0.06), 6).time_s)
    assert 0.03 < uneven.min() < 0.06
    assert 0.14 < uneven.max() < 0.17


def test_values_are_rounded_as_asked(rough):
    coarse = Receiver(
        degree_decimals=6, speed_step_mps=0.1, heading_step_deg=1.0, time_step_s=0.1, jitter_s=0.05
    )
    log = observe(rough, coarse, 6)
    for values, step in ((log.lat_deg, 1e-6), (log.speed_mps, 0.1), (log.heading_deg, 1.0)):
        whole = values / step
        assert np.allclose(whole, np.round(whole), atol=1e-5)
    assert log.heading_deg.max() < 360.0
    tenths = (log.time_s - rough.epoch_s) * 10.0
    assert np.allclose(tenths, np.round(tenths), atol=1e-4)


def test_a_clock_that_is_ahead(rough):
    late = observe(rough, replace(PERFECT, clock_s=2.0), 6)
    assert np.allclose(late.time_s - observe(rough, PERFECT, 6).time_s, 2.0)


def test_the_same_seed_gives_the_same_log(rough):
    receiver = Receiver(wild_share=0.001, gaps_per_hour=10.0, missing_share=0.01, jitter_s=0.02)
    first, again, other = (observe(rough, receiver, seed) for seed in (1, 1, 2))
    for name in ("time_s", "lat_deg", "lon_deg", *CHANNELS):
        a, b = getattr(first, name), getattr(again, name)
        assert (a is None and b is None) or np.array_equal(a, b)
    assert len(first) != len(other) or not np.array_equal(first.lat_deg, other.lat_deg)


def test_a_drift_slides_away_and_comes_back():
    drifting = replace(PERFECT, drifts_per_hour=6.0, drift_m=5.0, drift_s=10.0)
    _, error, _ = standing(drifting)
    away = np.hypot(*error.T)
    assert away.max() == pytest.approx(5.0, abs=0.2)
    assert 0.001 < np.mean(away > 0.5) < 0.05
    assert np.abs(np.diff(away)).max() < 0.3
