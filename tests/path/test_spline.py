"""The quintic spline, held against scipy's."""

import numpy as np
import pytest
from scipy.interpolate import BSpline

from lapkit.path.spline import DEGREE, SUPPORT, Knots, penalty_block, values


@pytest.fixture
def knots():
    return Knots(start_s=2.0, spacing_s=0.2, intervals=12)


def reference(knots, coefficients, order):
    full = knots.start_s + knots.spacing_s * np.arange(-DEGREE, knots.intervals + DEGREE + 1)
    spline = BSpline(full, coefficients, DEGREE)
    return spline.derivative(order) if order else spline


@pytest.mark.parametrize("order", range(5))
def test_values_are_those_of_scipy(knots, order):
    coefficients = np.random.default_rng(1).normal(size=knots.coefficients)
    t = np.linspace(2.001, 4.399, 77)
    expected = reference(knots, coefficients, order)(t)
    atol = 1e-11 * np.abs(expected).max() + 1e-12
    (ours,) = values(knots, coefficients, t, order)
    assert np.allclose(ours, expected, rtol=0, atol=atol)


@pytest.mark.parametrize("rows", [3, 40])
def test_few_and_many_paths_are_evaluated_alike(knots, rows):
    coefficients = np.random.default_rng(3).normal(size=(knots.coefficients, 2, rows))
    t = np.linspace(2.001, 4.399, 700)
    both = values(knots, coefficients, t, 2, 0)
    for ours, order in zip(both, (2, 0), strict=True):
        assert ours.shape == (700, 2, rows)
        expected = reference(knots, coefficients, order)(t)
        assert np.allclose(ours, expected, rtol=0, atol=1e-11 * np.abs(expected).max())


def test_penalty_is_the_integral_of_the_squared_derivative(knots):
    coefficients = np.random.default_rng(2).normal(size=knots.coefficients)
    block = penalty_block(4, knots.spacing_s)
    ours = sum(
        coefficients[i : i + SUPPORT] @ block @ coefficients[i : i + SUPPORT]
        for i in range(knots.intervals)
    )
    fourth = reference(knots, coefficients, 4)
    t = np.linspace(knots.start_s, knots.stop_s, 240_001)[:-1] + 0.5e-5
    assert ours == pytest.approx(np.mean(fourth(t) ** 2) * 2.4, rel=1e-4)


def test_times_outside_count_as_the_ends(knots):
    index, within = knots.locate(np.array([-5.0, 99.0]))
    assert index.tolist() == [0, 11]
    assert within.tolist() == [0.0, 1.0]
