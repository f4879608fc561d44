"""The tightest bend that a log shows."""

import numpy as np
import pytest

from lapkit.importer.smallest_radius import smallest_radius_m
from lapkit.units import KMH_MPS


def test_the_smallest_radius_grows_with_speed_and_with_coarse_steps():
    assert smallest_radius_m(1.0, 80 * KMH_MPS) > smallest_radius_m(10.0, 80 * KMH_MPS)
    # Derived: five fixes in a quarter turn of R need R = 5 v / (f π/2), rounded up to a metre.
    for rate_hz, speed_mps in ((1.0, 4.0), (5.0, 20.0), (10.0, 30.0)):
        expected = np.ceil(5 * speed_mps / (rate_hz * np.pi / 2))
        assert smallest_radius_m(rate_hz, speed_mps) == expected
    assert smallest_radius_m(10.0, 20.0, 1.1) > smallest_radius_m(10.0, 20.0, 0.011)
    assert smallest_radius_m(float("nan"), 20.0) == np.inf
    assert smallest_radius_m(1.0, 1e6) == np.inf
    assert smallest_radius_m(10.0, 0.0) == np.inf  # where nobody rides no bend is shown


def test_rounding_error_of_the_radius_is_that_of_a_fitted_circle():
    # Source: Gluckstern 1963 (memory), checked here against circles fitted to rounded positions.
    rate_hz, speed_mps, step_m = 10.0, 20.0, 1.0
    radius_m = smallest_radius_m(rate_hz, speed_mps, step_m)
    rng = np.random.default_rng(3)
    length = np.pi / 2 * radius_m
    s = np.arange(0, length, speed_mps / rate_hz)
    errors = []
    for _ in range(400):
        noise = rng.uniform(-step_m / 2, step_m / 2, len(s))
        curvature = 2 * np.polynomial.Polynomial.fit(s, noise, 2).convert().coef[2]
        errors.append(curvature * radius_m)
    assert np.std(errors) == pytest.approx(0.05, rel=0.25)
