"""Heights smoothed as strongly as each place needs, and the uncertainty that remains."""

import numpy as np
import pytest

from lapkit.course.heights import Nodes, smooth_heights
from lapkit.course.smoothing import smooth_even

STEP_M = 5.0
NODES = Nodes(201, STEP_M)
AT_M = STEP_M * np.arange(NODES.number)


def smoothed(height_m, at_m=AT_M):
    return smooth_heights(at_m, height_m, NODES, smooth_even(height_m, at_m[1], False, 25.0, 250.0))


def crest(at_m):
    """Flat, but for a crest of 2 m in the middle, some 80 m long."""
    return 2.0 * np.exp(-0.5 * np.square((at_m - 500.0) / 25.0))


def test_a_crest_keeps_its_height_and_the_flat_is_smoothed():
    noise = np.random.default_rng(1).normal(0.0, 0.1, NODES.number)
    found = smoothed(crest(AT_M) + noise).height_m
    assert found[100] == pytest.approx(2.0, abs=0.15)
    flat = np.abs(AT_M - 500.0) > 150.0
    assert np.std(found[flat]) < 0.4 * np.std(noise[flat])


def test_on_a_crest_the_deviations_are_as_large_as_the_error():
    rng, errors, spreads = np.random.default_rng(2), [], []
    on_crest = np.abs(AT_M - 500.0) < 50.0
    for _ in range(8):
        found = smoothed(crest(AT_M) + rng.normal(0.0, 0.1, NODES.number))
        errors.append((found.height_m - crest(AT_M))[on_crest])
        spreads.append(np.std(found.deviations_m, axis=1)[on_crest])
    assert np.sqrt(np.mean(np.square(errors)) / np.mean(np.square(spreads))) == pytest.approx(
        1.0, abs=0.25
    )


def test_the_same_heights_give_the_same_draws():
    heights = crest(AT_M) + np.random.default_rng(3).normal(0.0, 0.1, NODES.number)
    first, again = smoothed(heights), smoothed(heights)
    assert np.array_equal(first.deviations_m, again.deviations_m)
    assert first.deviations_m.shape == (NODES.number, 32)


def test_heights_between_nodes_are_seen_through_a_cubic():
    """Straight lines would lie 6 mm beside a curve of 500 m radius in the middle of a step."""
    at = np.arange(2.5, AT_M[-1], STEP_M)
    found = smoothed(at**2 / 1000.0, at)
    assert found.height_m[1:-1] == pytest.approx(AT_M[1:-1] ** 2 / 1000.0, abs=2e-3)
