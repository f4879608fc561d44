from __future__ import annotations

import numpy as np
import pytest

from lapkit.simulate.ride import HOLD_S

G = 9.80665


@pytest.fixture(scope="module")
def times(rough):
    return np.arange(HOLD_S + 20.0, rough.end_s - HOLD_S - 20.0, 0.02)


def test_velocity_and_acceleration_are_the_derivatives_of_position(rough, times):
    h = 1e-3
    before, here, after = (rough.at(times + d) for d in (-h, 0.0, h))
    assert np.allclose((after.x_m - before.x_m) / (2 * h), here.vx_mps, atol=1e-4)
    assert np.allclose((after.y_m - before.y_m) / (2 * h), here.vy_mps, atol=1e-4)
    assert np.allclose((after.vx_mps - before.vx_mps) / (2 * h), here.ax_mps2, atol=1e-3)


def test_lean_balances_the_curvature_of_finite_differences(rough, times):
    h = 0.02
    x0, x1, x2 = (np.stack([m.x_m, m.y_m]) for m in (rough.at(times + d) for d in (-h, 0.0, h)))
    a, b, c = x1 - x0, x2 - x1, x2 - x0
    area = a[0] * b[1] - a[1] * b[0]
    curvature = 2.0 * area / (np.hypot(*a) * np.hypot(*b) * np.hypot(*c))
    speed = np.hypot(*c) / (2 * h)
    # Lifted where the road's height over the length ridden bends upwards: by the chain rule, in time.
    z0, z1, z2 = (rough.height_at(times + d) for d in (-5 * h, 0.0, 5 * h))
    quickens = (np.hypot(*b) - np.hypot(*a)) / h**2
    lifted = (z2 - 2 * z1 + z0) / (5 * h) ** 2 - (z2 - z0) / (10 * h) * quickens / speed
    expected = np.degrees(np.arctan(speed**2 * curvature / (G + lifted)))
    assert np.ptp(expected) > 60.0
    assert np.allclose(rough.at(times).lean_deg, expected, atol=0.1)


def test_the_crest_makes_the_rider_lean_further(rough, times):
    moment = rough.at(times)
    flat = np.degrees(np.arctan(moment.speed_mps**2 * moment.curvature_1pm / G))
    station = rough.station_at(times) % rough.course.reference.length_m
    corner = rough.course.corner("Ravens Drop")
    there = np.abs(station - corner.apexes_m[0]) < 8.0
    assert np.all(np.abs(moment.lean_deg[there]) > np.abs(flat[there]) + 0.5)


@pytest.mark.parametrize(("height", "name"), [(-0.6, "tyre"), (0.3, "antenna")])
def test_tyres_and_antenna_stand_on_the_leaning_machine(rough, times, height, name):
    moment = rough.at(times)
    x, y = getattr(rough, f"{name}_xy")(times)
    # Left of the direction of riding, by height × sin(lean), and not ahead or behind.
    left = np.stack([-moment.vy_mps, moment.vx_mps]) / moment.speed_mps
    moved = np.stack([x - moment.x_m, y - moment.y_m])
    assert np.allclose(np.sum(moved * left, axis=0), height * np.sin(np.radians(moment.lean_deg)))
    assert np.allclose(moved[0] * left[1] - moved[1] * left[0], 0.0, atol=1e-9)


def test_antenna_velocity_is_the_derivative_of_its_position(rough, times):
    fine = np.arange(100.0, 110.0, 0.001)
    x, _ = rough.antenna_xy(fine)
    vx, _ = rough.antenna_velocity(fine)
    assert np.allclose(np.gradient(x, fine)[1:-1], vx[1:-1], atol=1e-3)
