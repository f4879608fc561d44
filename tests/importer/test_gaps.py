import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.importer import Log
from lapkit.importer.gaps import gaps_of

PACE_MPS = 20.0


def north(kept_s, every_s=np.inf, seconds=600.0):
    """The gaps of a log of ten fixes a second, ridden straight on at one pace, without some of them."""
    time_s = np.arange(0.0, seconds, 0.1)
    time_s = time_s[np.mod(time_s, every_s) < kept_s]
    lat = 10.0 + PACE_MPS * time_s / METRES_PER_DEGREE
    moving_s = 0.1 * len(time_s)
    return gaps_of(Log("ride", "", time_s, lat, np.full(len(lat), 8.0)), moving_s, PACE_MPS)


def test_a_log_without_a_gap_has_every_corner_whole():
    gaps = north(600.0)
    assert (gaps.count, gaps.missing_s, gaps.share, gaps.whole_share) == (0, 0.0, 0.0, 1.0)
    assert not list(gaps.sentences(laps=True, corners=True))


def test_corners_that_begin_before_a_gap_or_in_it_are_spoilt():
    # Derived: a corner of 100 m takes 5 s; of every 20 s it may begin in 15 s less those 5.
    gaps = north(15.0, 20.0)
    assert gaps.whole_share == pytest.approx(10.0 / 20.0, abs=0.02)
    assert gaps.share == pytest.approx(5.0 / 20.0, abs=0.02)
    assert gaps.leave_corners
    (told,) = gaps.sentences(laps=True, corners=True)
    assert f"About {100.0 - 100.0 * gaps.whole_share:.0f} % of its corners have one in them" in told


def test_a_corner_between_two_gaps_is_not_counted_twice():
    assert north(3.0, 4.0).whole_share == pytest.approx(0.0, abs=0.02)
    assert not north(3.0, 4.0).leave_corners
    (told,) = north(3.0, 4.0).sentences(laps=True, corners=True)
    assert told.endswith("no radius and no lean from this log, lap times only.")


def test_of_gaps_close_together_seconds_are_spoilt_once():
    # A corner takes 5 s: each pair of gaps spoils what begins from 5 s before the first to the end of the second.
    time_s = np.arange(0.0, 600.0, 0.1)
    for at in (100.0, 103.0, 300.0, 303.0):
        time_s = time_s[(time_s <= at + 0.01) | (time_s >= at + 1.99)]
    lat = 10.0 + PACE_MPS * time_s / METRES_PER_DEGREE
    gaps = gaps_of(Log("ride", "", time_s, lat, np.full(len(lat), 8.0)), 592.0, PACE_MPS)
    assert gaps.count == 4
    assert gaps.whole_share == pytest.approx(1.0 - 20.0 / 600.0, abs=1e-3)


def test_a_step_that_is_usual_is_no_gap_however_far_it_leads():
    time_s = np.arange(0.0, 600.0, 1.0)
    lat = 10.0 + PACE_MPS * time_s / METRES_PER_DEGREE
    assert gaps_of(Log("ride", "", time_s, lat, np.full(600, 8.0)), 600.0, PACE_MPS).count == 0


@pytest.mark.parametrize(("pushed_m", "count"), [(9.0, 0), (40.0, 0), (60.0, 1)])
def test_a_machine_that_is_pushed_about_in_a_pause_did_not_ride(pushed_m, count):
    time_s = np.concatenate([np.arange(0.0, 100.0), np.arange(200.0, 300.0)])
    north_m = np.where(time_s < 150.0, PACE_MPS * time_s, PACE_MPS * (time_s - 101.0) + pushed_m)
    lat = 10.0 + north_m / METRES_PER_DEGREE
    gaps = gaps_of(Log("ride", "", time_s, lat, np.full(200, 8.0)), 200.0, PACE_MPS)
    assert gaps.count == count
    assert (gaps.paused_s > 0.0) is (count == 0)


def test_gaps_too_short_to_hide_a_bend_spoil_nothing():
    # 0.6 s at 20 m/s are 12 m: in a bend of 30 m radius 0.4 rad.
    gaps = north(3.5, 4.0)
    assert gaps.count == 149
    assert gaps.whole_share == 1.0


def test_one_gap_in_a_long_ride_is_counted_and_no_more_is_said_of_it():
    (told,) = north(300.0, 304.0, 604.0).sentences(laps=True, corners=True)
    assert told == "4.0 s are missing in 1 gap."


def test_a_pause_is_told_apart_from_what_is_missing_of_a_ride():
    time_s = np.concatenate([np.arange(0.0, 100.0, 0.1), np.arange(160.0, 260.0, 0.1)])
    ridden_s = np.minimum(time_s, 100.0) + np.maximum(time_s - 160.0, 0.0)
    lat = 10.0 + PACE_MPS * ridden_s / METRES_PER_DEGREE
    gaps = gaps_of(Log("ride", "", time_s, lat, np.full(len(lat), 8.0)), 200.0, PACE_MPS)
    assert (gaps.count, gaps.missing_s) == (0, 0.0)
    assert gaps.paused_s == pytest.approx(60.0)
    assert list(gaps.sentences(laps=True, corners=True)) == ["It paused for 60 s without riding."]


def test_where_much_is_missing_laps_are_spoken_of():
    (told,) = north(30.0, 60.0).sentences(laps=True, corners=True)
    assert told.endswith("A lap of which much is missing is not timed.")


@pytest.mark.parametrize("every_s", [4.0, 20.0])
def test_of_a_log_that_tells_nothing_without_gaps_no_corner_and_no_lap_is_spoken_of(every_s):
    (told,) = north(0.5 * every_s, every_s).sentences(laps=False, corners=False)
    assert told.endswith(" gaps.")
