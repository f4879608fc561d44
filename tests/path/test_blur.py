"""Velocities that a receiver averaged: found beside the positions, and put right."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.blur import share_left, velocity_blur_s
from lapkit.path.estimate import estimate
from lapkit.path.model import Observed, draw
from lapkit.path.problem import Problem
from lapkit.path.spline import values
from lapkit.path.unknowns import path_coefficients
from lapkit.path.velocity_lag import velocity_lag_s, without_lag
from lapkit.units import GRAVITY_MPS2

SPEED_MPS = 25.0
SWAYS = ((0.9, 2.0), (1.9, 2.5))  # (rad/s, metres aside): as quick as a machine is rolled
FILTER = np.linspace(-3.5, 3.5, 141)


def slalom(blur_s, *, lag_s=0.0, rate_hz=10.0, lasts_s=120.0, noise_mps=0.04, seed=0):
    """A straight ridden in sways, its velocity averaged over a Gaussian filter and then late."""
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, lasts_s, 1.0 / rate_hz)
    weight = np.exp(-0.5 * FILTER**2)
    moments = t[:, None] - lag_s + blur_s * FILTER
    vy = sum(w * d * np.cos(w * moments) for w, d in SWAYS) @ (weight / weight.sum())
    y = sum(d * np.sin(w * t) for w, d in SWAYS)
    return Observed(
        time_s=t,
        x_m=SPEED_MPS * t + rng.normal(0.0, 0.05, len(t)),
        y_m=y + rng.normal(0.0, 0.05, len(t)),
        position_weight=np.ones(len(t)),
        velocity_time_s=t,
        vx_mps=np.full(len(t), SPEED_MPS) + rng.normal(0.0, noise_mps, len(t)),
        vy_mps=vy + rng.normal(0.0, noise_mps, len(t)),
        velocity_weight=np.ones(len(t)),
    )


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 25.0])
@pytest.mark.parametrize("blur_s", [0.15, 0.25])
def test_how_long_a_receiver_averages_is_found_beside_the_positions(rate_hz, blur_s):
    found = [velocity_blur_s(slalom(blur_s, rate_hz=rate_hz, seed=seed)) for seed in range(5)]
    assert np.mean(found) == pytest.approx(blur_s, abs=0.025)


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 18.0, 25.0])
@pytest.mark.parametrize("noise_mps", [0.02, 0.1])
def test_a_receiver_that_does_not_average_is_left_alone(rate_hz, noise_mps):
    for seed in range(5):
        assert velocity_blur_s(slalom(0.0, rate_hz=rate_hz, noise_mps=noise_mps, seed=seed)) == 0.0


def test_a_velocity_late_and_averaged_is_both():
    seen = slalom(0.2, lag_s=0.3)
    lag_s = velocity_lag_s(seen)
    assert lag_s == pytest.approx(0.3, abs=0.03)
    assert velocity_blur_s(without_lag(seen, lag_s)) == pytest.approx(0.2, abs=0.03)


@pytest.mark.parametrize(
    "of_no_use", [{"rate_hz": 2.0}, {"lasts_s": 20.0}], ids=["few fixes a second", "a short log"]
)
def test_too_little_tells_no_blur(of_no_use):
    assert velocity_blur_s(slalom(0.25, **of_no_use)) == 0.0
    seen = slalom(0.25)
    assert velocity_blur_s(replace(seen, velocity_weight=np.zeros(len(seen.time_s)))) == 0.0


def level(points):
    """The road does not curve up or down."""
    return lambda speed: np.full(np.shape(speed), GRAVITY_MPS2)


def test_what_averaging_took_off_the_sways_is_put_back():
    """Of what the path loses of the quick sway where the velocities are taken as logged, most is back."""
    seen = slalom(0.25, noise_mps=0.02)

    def sway(blur_s):
        solution = estimate(Problem.of(seen, 0.0, level, blur_s), None, 1).solution
        t = np.arange(10.0, 110.0, 0.1)
        (a,) = values(solution.knots, solution.path, t, 2)
        w, d = SWAYS[1]
        turned = np.stack([np.sin(w * t), np.cos(w * t), np.sin(SWAYS[0][0] * t)], axis=1)
        return -np.linalg.lstsq(turned, a[:, 1], rcond=None)[0][0] / (w**2 * d)

    as_logged, put_right = 1.0 - sway(0.0), 1.0 - sway(velocity_blur_s(seen))
    assert as_logged > 0.015
    assert abs(put_right) < 0.3 * as_logged


# Sways of many speeds, quicker ones smaller: rad/s, and metres aside.
WAVES_RAD_S = np.array([0.5, 0.9, 1.4, 1.9, 2.6, 3.3, 4.1])
ASIDE_M = 2.0 / WAVES_RAD_S**1.5


def weaving(blur_s, seed, *, lasts_s=150.0):
    """As :func:`slalom`, of many sways at 10 Hz; and its acceleration aside at times, m/s²."""
    rng = np.random.default_rng(seed)
    t, phase = np.arange(0.0, lasts_s, 0.1), rng.uniform(0.0, 2.0 * np.pi, len(WAVES_RAD_S))

    def aside(times, order):
        turned = np.multiply.outer(times, WAVES_RAD_S) + phase + order * np.pi / 2.0
        return np.sin(turned) @ (ASIDE_M * WAVES_RAD_S**order)

    weight = np.exp(-0.5 * FILTER**2)
    vy = (weight / weight.sum()) @ aside(t + blur_s * FILTER[:, None], 1)
    noise_m, noise_mps = rng.normal(0.0, 0.05, (2, len(t))), rng.normal(0.0, 0.03, (2, len(t)))
    seen = Observed(
        time_s=t,
        x_m=SPEED_MPS * t + noise_m[0],
        y_m=aside(t, 0) + noise_m[1],
        position_weight=np.ones(len(t)),
        velocity_time_s=t,
        vx_mps=SPEED_MPS + noise_mps[0],
        vy_mps=vy + noise_mps[1],
        velocity_weight=np.ones(len(t)),
    )
    return seen, lambda times: aside(times, 2)


@pytest.mark.parametrize("blur_s", [0.15, 0.25])
def test_what_averaging_took_off_is_not_believed_to_be_seen(blur_s):
    t, in_sd = np.arange(10.0, 140.0, 0.4), []
    for seed in range(3):
        seen, acceleration = weaving(blur_s, seed)
        solution = estimate(Problem.of(seen, 0.0, level, blur_s), None, 1).solution
        (a,) = values(solution.knots, solution.path, t, 2)
        drawn = path_coefficients(solution.knots, draw(solution, 64, 1))
        (each,) = values(solution.knots, drawn, t, 2)
        in_sd.append((a[:, 1] - acceleration(t)) / np.std(each[:, 1], axis=1))
    assert 0.93 < np.mean(np.abs(in_sd) < 1.96) < 0.99


def test_of_a_wave_averaging_leaves_what_a_gaussian_filter_leaves():
    t = np.arange(0.0, 60.0, 0.1)
    for rad_s in (1.0, 2.0, 4.0):
        left = share_left(
            lambda at, rad_s=rad_s: np.stack([np.sin(rad_s * at), np.cos(rad_s * at)], axis=1),
            t,
            0.25,
        )
        assert left == pytest.approx(np.exp(-((0.25 * rad_s) ** 2)), rel=0.03)


def test_a_gap_has_no_part_in_what_averaging_leaves():
    t = np.arange(0.0, 60.0, 0.1)

    def wave(at):
        return np.sin(4.0 * at)

    def wave_and_gap(at):
        return wave(at) + 50.0 * np.exp(-0.5 * ((at - 30.0) / 2.0) ** 2)

    assert share_left(wave_and_gap, t, 0.25) == pytest.approx(share_left(wave, t, 0.25), rel=0.1)
