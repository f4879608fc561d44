from __future__ import annotations

import numpy as np
import pytest

from lapkit.simulate.mass import above_tyres, wobble_m

G = 9.80665
H = 0.6
DT = 0.05


def test_over_a_circle_the_mass_runs_inside_by_height_times_sine_of_lean():
    speed, radius = 20.0, 60.0
    time = np.arange(0.0, 60.0, DT)
    angle = speed * time / radius
    tyres = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    mass = above_tyres(tyres, angle + np.pi / 2, np.zeros_like(time), H, DT)
    inner = np.hypot(*mass.T)[200:-200]
    lean = np.arctan((speed * inner / radius) ** 2 / (G * inner))
    assert inner == pytest.approx(radius - H * np.sin(lean), abs=1e-3)


def test_tyres_follow_from_the_mass_again():
    time = np.arange(0.0, 40.0, DT)
    x = 25.0 * time
    y = 3.0 * np.tanh((x - 300.0) / 15.0) - 3.0 * np.tanh((x - 700.0) / 15.0)
    heading = np.arctan2(np.gradient(y), np.gradient(x))
    dip = np.full_like(time, 1 / 500.0)
    mass = above_tyres(np.stack([x, y], axis=1), heading, dip, H, DT)
    v = np.gradient(mass, DT, axis=0)
    a = np.zeros_like(mass)
    a[1:-1] = np.diff(mass, 2, axis=0) / DT**2
    speed = np.hypot(*v.T)
    left = np.stack([-v[:, 1], v[:, 0]], axis=1) / speed[:, None]
    across = np.sum(a * left, axis=1)
    lean = np.arctan2(across, G + speed**2 / 500.0)
    assert np.degrees(np.ptp(lean)) > 30.0
    tyres = mass - H * np.sin(lean)[:, None] * left
    assert tyres[5:-5, 1] == pytest.approx(y[5:-5], abs=0.003)


def test_standing_the_mass_is_above_the_tyres():
    tyres = np.tile([3.0, 4.0], (50, 1))
    assert np.allclose(above_tyres(tyres, np.zeros(50), np.zeros(50), H, DT), tyres)


def test_wobble_is_worth_the_lean_asked_for():
    moved = wobble_m(20000, DT, 0.9, np.random.default_rng(1))
    accel = np.diff(moved, 2) / DT**2
    assert np.degrees(np.std(accel) / G) == pytest.approx(0.9, rel=0.05)
    power = np.abs(np.fft.rfft(accel)) ** 2
    hz = np.fft.rfftfreq(len(accel), DT)
    assert power[(hz > 0.2) & (hz < 1.0)].sum() > 0.98 * power.sum()
