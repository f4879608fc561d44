from __future__ import annotations

import numpy as np
import pytest

from lapkit.simulate.speed import Limits, profile

G = 9.80665


def ridden(bend, length=400.0, step=0.05, vertical_1pm=0.0, **limits):
    at = np.arange(0.0, length, step)
    flat = np.zeros_like(at)
    usual = Limits(flat + 45.0, flat + G, flat + G, flat + np.inf, 1e6)
    return at, profile(at, bend(at), flat + vertical_1pm, usual._replace(**limits))


def test_drive_under_an_ellipse_on_a_constant_radius():
    # v² = μ g R sin(2s/R + asin(v0²/(μ g R))): μ 1, R 40, v0 10, s 8 → 15.485948. derived
    at, speed = ridden(lambda s: np.full_like(s, 1 / 40.0), length=120.0, step=0.01)
    start = np.interp(10.0, speed[: np.argmax(speed)], at[: np.argmax(speed)])
    assert np.interp(start + 8.0, at, speed) == pytest.approx(15.485948, abs=0.01)


def test_a_straight_is_drive_then_brake():
    at, speed = ridden(np.zeros_like, drive_mps2=np.full(8000, 4.0), brake_mps2=np.full(8000, 8.0))
    # derived: v² = 2 · 4 · s = 2 · 8 · (L − s) meet at s = 2 L / 3
    assert at[np.argmax(speed)] == pytest.approx(2.0 * at[-1] / 3.0, abs=0.2)
    assert speed.max() == pytest.approx(np.sqrt(8.0 * 2.0 * at[-1] / 3.0), rel=1e-3)


def test_a_bend_holds_the_lean_and_limits_hold():
    at, speed = ridden(lambda s: np.where(np.abs(s - 200.0) < 30.0, 1 / 50.0, 0.0))
    middle = np.abs(at - 200.0) < 25.0
    assert speed[middle] == pytest.approx(np.sqrt(50.0 * G), rel=1e-6)
    _, slow = ridden(np.zeros_like, allowed_mps=np.full(8000, 14.0))
    assert slow.max() == 14.0
    _, tired = ridden(np.zeros_like, length=4000.0, top_mps=50.0)
    assert 45.0 < tired.max() < 50.0


def test_a_crest_lowers_the_speed_at_the_same_lean():
    _, flat = ridden(lambda s: np.full_like(s, 1 / 50.0))
    _, over = ridden(lambda s: np.full_like(s, 1 / 50.0), vertical_1pm=-1 / 300.0)
    # derived: v² (1/R + tan φ / 300) = g tan φ
    assert over.max() == pytest.approx(np.sqrt(G / (1 / 50.0 + 1 / 300.0)), rel=1e-3)
    assert over.max() < flat.max()
