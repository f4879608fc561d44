"""How closely the knots of a log's path lie, and what they cover."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.log_knots import SPACING_S, WANDER_EVERY, knots_for, places_for
from lapkit.path.model import Observed


def seen(step_s, *, has_velocity=True, lasts_s=30.0):
    time = 100.0 + np.arange(0.0, lasts_s, step_s)
    zero, one = np.zeros(len(time)), np.ones(len(time))
    return Observed(time, zero, zero, one, time, zero, zero, one * has_velocity)


@pytest.mark.parametrize(
    ("step_s", "spacing_s"), [(0.04, SPACING_S), (0.2, SPACING_S), (0.5, 0.25), (1.0, 0.5)]
)
def test_between_fixes_that_come_slowly_lies_one_knot_more(step_s, spacing_s):
    assert knots_for(seen(step_s)).spacing_s == pytest.approx(spacing_s)


@pytest.mark.parametrize("step_s", [0.1, 1.0])
@pytest.mark.parametrize("has_velocity", [True, False])
@pytest.mark.parametrize("lasts_s", [29.3, 30.0, 30.4])
def test_they_cover_the_fixes_and_make_whole_groups_of_wander(step_s, has_velocity, lasts_s):
    fixes = seen(step_s, has_velocity=has_velocity, lasts_s=lasts_s)
    knots = knots_for(fixes)
    assert knots.start_s <= fixes.time_s[0] - 0.5
    assert fixes.time_s[-1] + 0.5 <= knots.stop_s < fixes.time_s[-1] + 0.5 + 3.0 * knots.spacing_s
    assert knots.wander_every == WANDER_EVERY[has_velocity]
    assert knots.coefficients % knots.wander_every == 0


def test_velocities_that_lag_have_places_of_their_own():
    fixes = seen(0.1)
    knots = knots_for(fixes)
    positions, velocities = places_for(knots, fixes)
    assert velocities is positions
    late = replace(fixes, velocity_time_s=fixes.time_s - 0.3)
    positions, velocities = places_for(knots, late)
    ones = np.ones(len(fixes.time_s))
    moved = velocities.sums(ones, 1) - positions.sums(ones, 1)
    assert np.any(moved != 0.0) and np.sum(moved) == 0.0
