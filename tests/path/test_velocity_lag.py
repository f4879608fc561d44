"""How late a velocity was logged, found beside the positions of a ride round a circle."""

import numpy as np
import pytest

from lapkit.path.observed import observe_log
from lapkit.path.velocity_lag import velocity_lag_s, without_lag


@pytest.fixture
def lag_of(circle, plane):
    """Finds the lag of a ride logged as told."""
    return lambda **logged: velocity_lag_s(observe_log(circle.log(**logged), plane))


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 25.0])
@pytest.mark.parametrize("lag_s", [-0.15, 0.08, 0.2, 0.56])
def test_it_is_found_between_the_lags_tried_as_well(lag_of, lag_s, rate_hz):
    assert lag_of(lag_s=lag_s, rate_hz=rate_hz) == pytest.approx(lag_s, abs=0.015)


def test_without_noise_it_is_found_to_a_millisecond(lag_of):
    found = lag_of(lag_s=0.22, white_m=0.0, velocity_mps=0.0)
    assert found == pytest.approx(0.22, abs=0.002)


def test_noise_of_the_velocities_does_not_draw_it_to_the_lags_tried(lag_of):
    found = [lag_of(lag_s=0.215, velocity_mps=0.1, seed=seed) for seed in range(20)]
    assert np.mean(found) == pytest.approx(0.215, abs=0.001)


def test_wild_velocities_do_not_lead_it_astray(circle, plane):
    seen = observe_log(circle.log(lag_s=0.25), plane)
    seen.vx_mps[300:330] -= 60.0
    assert velocity_lag_s(seen) == pytest.approx(0.25, abs=0.02)


@pytest.mark.parametrize("lag_s", [-0.045, 0.045])
def test_one_above_forty_milliseconds_counts(lag_of, lag_s):
    found = lag_of(lag_s=lag_s, white_m=0.0, velocity_mps=0.0)
    assert found == pytest.approx(lag_s, abs=0.002)


@pytest.mark.parametrize("lag_s", [0.0, 0.035, -0.035])
def test_one_below_forty_milliseconds_is_taken_for_none(lag_of, lag_s):
    assert lag_of(lag_s=lag_s, white_m=0.0, velocity_mps=0.0) == 0.0


@pytest.mark.parametrize("lag_s", [-0.3, 0.7])
def test_one_beyond_all_that_is_tried_is_no_lag(lag_of, lag_s):
    assert lag_of(lag_s=lag_s) == 0.0


@pytest.mark.parametrize(
    "logged",
    [{"rate_hz": 1.0, "lasts_s": 300.0}, {"lasts_s": 10.5}, {"velocity_mps": None}],
    ids=["fixes too far apart", "too few displacements", "no velocity"],
)
def test_what_cannot_tell_a_lag_tells_none(lag_of, logged):
    assert lag_of(**{"lag_s": 0.3, **logged}) == 0.0


def test_a_few_more_fixes_tell_it(lag_of):
    # Of 106 fixes a hundred displacements of three each way can be made.
    assert lag_of(lag_s=0.3, lasts_s=10.6) == pytest.approx(0.3, abs=0.05)


def test_on_a_straight_ridden_steadily_none_shows(circle, plane):
    seen = observe_log(circle.log(lag_s=0.3, velocity_mps=0.0), plane)
    seen.x_m[:], seen.y_m[:] = 20.0 * (seen.time_s - seen.time_s[0]), 0.0
    seen.vx_mps[:], seen.vy_mps[:] = 20.0, 0.0
    assert velocity_lag_s(seen) == 0.0


def test_gaps_and_velocities_left_out_do_not_lead_it_astray(circle, plane):
    log = circle.log(lag_s=0.25)
    since = log.time_s - log.time_s[0]
    seen = observe_log(log.part(since % 20.0 < 15.0), plane)
    seen.velocity_weight[::7] = 0.0
    seen.vx_mps[::7] = 400.0
    assert velocity_lag_s(seen) == pytest.approx(0.25, abs=0.02)


def test_dating_back_moves_the_velocities_and_nothing_else(circle, plane):
    seen = observe_log(circle.log(lag_s=0.25), plane)
    dated = without_lag(seen, 0.25)
    np.testing.assert_array_equal(dated.velocity_time_s, seen.time_s - 0.25)
    np.testing.assert_array_equal(dated.time_s, seen.time_s)
    np.testing.assert_array_equal(dated.vx_mps, seen.vx_mps)
    assert without_lag(seen, 0.0) is seen


def test_what_was_dated_back_has_no_lag_left(circle, plane):
    seen = observe_log(circle.log(lag_s=0.25), plane)
    assert velocity_lag_s(without_lag(seen, velocity_lag_s(seen))) == 0.0
