from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.importer.repeats import fresh_rows, stalled_rows


def held(rate, per_fix, fixes, speed_mps=20.0, standing=0):
    """Fixes of a rider, each written ``per_fix`` times, after standing for some of them."""
    moved = np.maximum(np.arange(fixes) - standing, 0) * speed_mps * per_fix / rate
    lat = np.repeat(np.round(52 + moved / METRES_PER_DEGREE, 7), per_fix)
    return np.arange(fixes * per_fix) / rate, lat, np.full(fixes * per_fix, -1.0)


@pytest.mark.parametrize("per_fix", [2, 5, 10])
def test_fixes_written_several_times_are_thinned_to_one(per_fix):
    time_s, lat, lon = held(10.0, per_fix, 60)
    fresh = fresh_rows(time_s, lat, lon)
    assert np.flatnonzero(fresh).tolist() == list(range(0, 60 * per_fix, per_fix))
    assert fresh_rows(time_s, lon, lat).tolist() == fresh.tolist()  # he rides due east


def test_while_standing_they_are_thinned_to_the_same_rate():
    time_s, lat, lon = held(10.0, 10, 100, standing=40)
    kept = time_s[fresh_rows(time_s, lat, lon)]
    assert np.all(np.diff(kept) == pytest.approx(1.0))


@pytest.mark.parametrize(("left_over", "kept"), [(4, [0, 10, 20]), (5, [0, 10, 20, 30])])
def test_the_last_rows_of_a_standing_run_are_no_fix_of_their_own(left_over, kept):
    # He stands for 30 rows and a few, then rides: a fix kept of those few comes soon after the first one ridden.
    still = 30 + left_over
    moved = np.repeat(np.arange(60.0), 10) * 20.0
    lat = 52 + np.concatenate([np.full(still, -1.0), moved]) / METRES_PER_DEGREE
    fresh = fresh_rows(np.arange(len(lat)) / 10, lat, np.full(len(lat), 1.0))
    assert np.flatnonzero(fresh[:still]).tolist() == kept


def test_a_receiver_between_two_rates_loses_only_its_repeats():
    # 8 fixes a second written at 10 Hz: two of ten rows repeat the one before.
    new = np.arange(1000) * 8 // 10
    time_s, lat = np.arange(1000) / 10, np.round(52 + new * 2.5 / METRES_PER_DEGREE, 7)
    fresh = fresh_rows(time_s, lat, np.full(1000, 1.0))
    assert np.count_nonzero(fresh) == 800
    assert len(np.unique(lat[fresh])) == 800


@pytest.mark.parametrize(
    ("count", "every"), [(1000, 50), (9000, 15)], ids=["19 of them", "one in fifteen"]
)
def test_a_few_repeats_in_a_long_ride_are_chance(count, every):
    new = np.ones(count, dtype=int)
    new[every::every] = 0
    lat = 52 + np.cumsum(new) * 2.0 / METRES_PER_DEGREE
    assert fresh_rows(np.arange(count) / 10, lat, np.full(count, 1.0)).all()


@pytest.mark.parametrize("speed_mps", [0.0, 0.3, 1.0])
def test_a_slow_or_standing_rider_keeps_every_fix(speed_mps):
    lat = np.round(52 + np.arange(2000) * speed_mps / 10 / METRES_PER_DEGREE, 6)
    assert fresh_rows(np.arange(2000) / 10, lat, np.full(2000, 1.0)).all()


def test_coarse_positions_of_a_moving_rider_are_not_repeats():
    # Four decimals are 11 m: at 10 Hz and 20 m/s most rows equal the one before, and yet are new.
    lat = np.round(52 + np.arange(2000) * 2.0 / METRES_PER_DEGREE, 4)
    assert fresh_rows(np.arange(2000) / 10, lat, np.full(2000, 1.0)).all()


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), max_size=60))
def test_the_first_row_and_every_change_are_fresh(steps):
    lat = 50 + np.cumsum([s for s, _ in steps]) * 1e-3
    lon = np.cumsum([s for _, s in steps]) * 1e-3
    fresh = fresh_rows(np.arange(float(len(steps))), lat, lon)
    assert fresh.shape == (len(steps),)
    changed = np.flatnonzero((np.diff(lat) != 0) | (np.diff(lon) != 0)) + 1
    assert fresh[:1].all()
    assert fresh[changed].all()


@pytest.fixture
def stalled():
    """A rider at 20 m/s whose receiver gives nothing new for two seconds: time, lat, lon, speed, heading."""
    new = np.arange(1000)
    new[500:520] = 500
    lat = np.round(52 + new * 2.0 / METRES_PER_DEGREE, 7)
    return np.arange(1000) / 10, lat, np.full(1000, -1.0), 20.0 + new % 7, 1.0 + new % 5


def test_a_receiver_that_gives_nothing_new_for_once_is_found(stalled):
    assert np.flatnonzero(stalled_rows(*stalled)).tolist() == list(range(501, 520))


def test_it_is_found_without_velocities_too(stalled):
    time_s, lat, lon, *_ = stalled
    none = np.full(1000, np.nan)
    assert np.flatnonzero(stalled_rows(time_s, lat, lon, none, none)).tolist() == [*range(501, 520)]


def test_a_position_that_stands_while_velocities_go_on_is_no_such_row(stalled):
    time_s, lat, lon, _, heading = stalled
    assert not stalled_rows(time_s, lat, lon, np.arange(1000.0), heading).any()


def test_a_rider_who_stands_and_is_seen_again_far_away_after_a_pause_did_stand(stalled):
    time_s, lat, lon, speed, heading = stalled
    time_s[520:] += 3.0
    assert not stalled_rows(time_s, lat, lon, speed, heading).any()


def test_one_row_written_twice_lies_within_the_noise_when_he_is_slow():
    new = np.arange(100)
    new[50] = 49
    lat = np.round(52 + new * 0.7 / METRES_PER_DEGREE, 7)
    none = np.full(100, np.nan)
    assert not stalled_rows(np.arange(100) / 10, lat, np.ones(100), none, none).any()


@pytest.mark.parametrize("count", [0, 1, 2])
def test_hardly_a_row_is_no_fault(count):
    same = np.ones(count)
    assert not stalled_rows(np.arange(float(count)), same, same, same, same).any()
