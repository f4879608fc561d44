"""Curvature of curves that are known exactly, through the measures that lapkit uses."""

import numpy as np
import pytest
from scipy.special import ellipe, fresnel

from lapkit.compare.grid import STEP_M
from lapkit.compare.held import Held
from lapkit.curvature import circle_curvature, held_curvature, path_length_m


def test_an_ellipse_has_its_radii_and_length():
    # κ = ab/(a² sin² t + b² cos² t)^1.5; 60 × 40 (semi-axes): R 26.667 and 90, perimeter 317.308792
    # (derived).
    t = np.linspace(0.0, 2.0 * np.pi, 20001)
    x, y = 60.0 * np.cos(t), 40.0 * np.sin(t)
    bend = circle_curvature(x, y)
    assert 1.0 / bend.max() == pytest.approx(26.667, abs=5e-4)
    assert 1.0 / bend.min() == pytest.approx(90.0, abs=5e-4)
    assert path_length_m(x, y)[-1] == pytest.approx(317.308792, abs=1e-5)
    assert 4.0 * 60.0 * ellipe(1.0 - (40.0 / 60.0) ** 2) == pytest.approx(317.308792, abs=1e-6)


def test_lemniscate_crosses_itself_and_keeps_its_curvature():
    # r² = a² cos 2θ: κ = 3r/a², length 5.244115108584 a (derived).
    a, t = 50.0, np.linspace(0.0, 2.0 * np.pi, 40001)
    x = a * np.cos(t) / (1.0 + np.sin(t) ** 2)
    y = x * np.sin(t)
    assert path_length_m(x, y)[-1] == pytest.approx(5.244115108584 * a, abs=1e-4)
    bend = np.abs(circle_curvature(x, y))
    np.testing.assert_allclose(bend, 3.0 * np.hypot(x, y)[1:-1] / a**2, atol=2e-6)


@pytest.mark.parametrize(
    ("radius_m", "length_m", "x_m", "y_m", "shift_m"),
    # Clothoid A² = R L (derived; recomputed with Fresnel integrals).
    [(50.0, 30.0, 29.73112, 2.98077, 0.74759), (100.0, 60.0, 59.46225, 5.96154, 1.49519)],
)
def test_a_clothoid_has_its_tabled_end_shift_and_curvature(radius_m, length_m, x_m, y_m, shift_m):
    s = np.linspace(0.0, length_m, 3001)
    scale = np.sqrt(np.pi * radius_m * length_m)
    sine, cosine = fresnel(s / scale)
    x, y = scale * cosine, scale * sine
    assert [x[-1], y[-1]] == pytest.approx([x_m, y_m], abs=6e-6)
    turned = length_m / (2.0 * radius_m)
    assert y[-1] - radius_m * (1.0 - np.cos(turned)) == pytest.approx(shift_m, abs=6e-6)
    # Curvature grows straight with length: held over 10 m it is that of the middle.
    heading = np.square(s) / (2.0 * radius_m * length_m)
    start = np.array([0.0, 7.0, length_m - 10.0])
    held = held_curvature(heading, s, start)
    np.testing.assert_allclose(held, (start + 5.0) / (radius_m * length_m), rtol=1e-9)
    np.testing.assert_allclose(circle_curvature(x, y), s[1:-1] / (radius_m * length_m), atol=1e-7)


def test_the_tightest_radius_of_a_clothoid_lies_at_its_end():
    # The same on the grid of the comparison, to an end between grid points (derived).
    s = STEP_M * np.arange(0.0, 37.0)
    held = Held(np.square(s) / (2.0 * 100.0 * 60.0), s)
    tightest, place = held.largest(np.array([5.5]) / STEP_M, np.array([57.3]) / STEP_M)
    assert STEP_M * place[0] == pytest.approx(52.3)
    assert tightest[0] == pytest.approx(52.3 / 6000.0)


def test_chord_and_middle_ordinate():
    # R = c²/(8m) + m/2: chord 20, ordinate 1 → 50.5 (derived).
    bend = circle_curvature(np.array([0.0, 10.0, 20.0]), np.array([0.0, -1.0, 0.0]))
    assert 1.0 / bend[0] == pytest.approx(50.5)
