"""The first, robust path: near the fixes that are sound, and which of them it calls wild."""

import numpy as np
import pytest

from lapkit.errors import PathError
from lapkit.path.first_path import first_path
from lapkit.path.log_knots import knots_for
from lapkit.path.noise import USUAL_NOISE
from lapkit.path.observed import observe_log
from lapkit.path.places import Places
from lapkit.path.spline import values


def first_of(seen):
    """Places of the first path at the fixes, metres, ``(n, 2)``, and which fixes are wild."""
    knots = knots_for(seen)
    places = Places.of(knots, seen.time_s), Places.of(knots, seen.velocity_time_s)
    path, wild = first_path(knots, seen, USUAL_NOISE[seen.has_velocity], places)
    return values(knots, path, seen.time_s, 0)[0], wild


@pytest.mark.parametrize("velocity", [0.07, None])
def test_it_stays_within_the_noise_of_sound_fixes(circle, plane, velocity):
    seen = observe_log(circle.log(velocity_mps=velocity, above_m=0.0), plane)
    at, wild = first_of(seen)
    assert not wild.any()
    assert np.hypot(*at[20:-20].T) == pytest.approx(circle.radius_m, abs=0.15)


@pytest.mark.parametrize("velocity", [0.07, None])
@pytest.mark.parametrize("off_m", [5.0, 500.0])
def test_wild_fixes_are_found_and_move_it_no_further(circle, plane, velocity, off_m):
    seen = observe_log(circle.log(velocity_mps=velocity), plane)
    sound, _ = first_of(seen)
    chosen = [100, 101, 102, 300, 450]
    seen.x_m[chosen] += off_m
    at, wild = first_of(seen)
    assert np.flatnonzero(wild).tolist() == chosen
    assert np.max(np.hypot(*(at - sound).T)) < 0.3


def test_without_any_position_there_is_no_path_and_it_says_what_to_do(circle, plane):
    seen = observe_log(circle.log(velocity_mps=None), plane)
    seen.position_weight[:] = 0.0
    with pytest.raises(PathError, match="to determine a path") as refused:
        first_of(seen)
    assert refused.value.remedy
