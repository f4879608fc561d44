"""What clocks do wrong, on arrays of times alone."""

from datetime import UTC, datetime

import numpy as np
import pytest

from lapkit.importer import clock

NOON = 1_777_723_200.0  # 2026-05-02T12:00:00Z


def flagged(flags):
    return np.flatnonzero(flags).tolist()


def test_a_clock_was_never_set_when_most_of_its_dates_are_impossible():
    assert clock.is_never_set(np.arange(10.0))
    assert clock.is_never_set(np.append(np.full(3, NOON), np.arange(4.0)))
    assert not clock.is_never_set(np.append(np.full(4, NOON), np.arange(3.0)))
    assert clock.is_never_set(np.full(3, clock.LAST_TIME_S))
    assert not clock.is_never_set(np.full(3, clock.FIRST_TIME_S))


def test_times_that_cannot_be_read_say_nothing_of_the_clock():
    assert not clock.is_never_set(np.array([np.nan, np.inf]))
    assert not clock.is_never_set(np.array([np.nan, np.nan, NOON]))


def test_dates_are_possible_from_the_beginning_of_gps_to_the_end_of_the_century():
    edges = np.array(
        [clock.FIRST_TIME_S - 1, clock.FIRST_TIME_S, clock.LAST_TIME_S - 1, clock.LAST_TIME_S]
    )
    assert clock.impossible_dates(edges).tolist() == [True, False, False, True]
    assert datetime(1980, 1, 6, tzinfo=UTC).timestamp() == clock.FIRST_TIME_S
    assert datetime(2100, 1, 1, tzinfo=UTC).timestamp() == clock.LAST_TIME_S


@pytest.mark.parametrize("size", [1, 2, 3])
@pytest.mark.parametrize("leap_s", [100.0, -100.0])
def test_up_to_three_times_that_leap_and_come_back_are_wild(size, leap_s):
    time_s = np.arange(30.0)
    time_s[10 : 10 + size] += leap_s
    assert flagged(clock.wild_times(time_s)) == list(range(10, 10 + size))


@pytest.mark.parametrize("leap_s", [100.0, -100.0])
def test_four_times_that_leap_are_no_longer_wild(leap_s):
    time_s = np.arange(30.0)
    time_s[10:14] += leap_s
    assert not clock.wild_times(time_s).any()


def test_a_clock_that_does_not_come_back_is_not_wild():
    assert not clock.wild_times(np.append(np.arange(100.0, 110.0), np.arange(10.0))).any()
    assert not clock.wild_times(np.array([0.0, 1.0, 2.0, 7.0, 2.5, 3.0, 4.0])).any()  # 4.5 s back


def test_a_wild_time_at_either_end_is_found_where_a_neighbour_beyond_it_tells():
    assert not clock.wild_times(np.append(1e6, np.arange(10.0))).any()
    assert flagged(clock.wild_times(np.array([0.0, 1e6, 1.0, 2.0]))) == [1]
    assert flagged(clock.wild_times(np.array([9.0, 10.0, -1e6, 11.0]))) == [2]


def test_a_clock_that_falls_back_by_five_seconds_has_not_leapt():
    assert not clock.wild_times(np.array([0.0, 1.0, 7.5, 2.5, 3.5])).any()
    assert flagged(clock.wild_times(np.array([0.0, 1.0, 7.6, 2.5, 3.5]))) == [2]


def test_where_either_side_of_a_fall_may_be_wild_only_the_leap_ahead_is():
    assert flagged(clock.wild_times(np.array([0.0, 1.0, 2.0, 10.0, 4.0, 11.0]))) == [3]


def test_a_new_stretch_begins_where_the_clock_jumps():
    steps = [1.0, -5.0, -5.1, 1.0, clock.JUMP_AHEAD_S, clock.JUMP_AHEAD_S + 1.0]
    time_s = np.cumsum([0.0, *steps])
    assert clock.stretch_of_each(time_s).tolist() == [0, 0, 0, 1, 1, 1, 2]
    assert clock.stretch_of_each(np.empty(0)).tolist() == []


def test_stretches_of_fewer_than_ten_fixes_are_scraps():
    stretch = np.repeat([0, 1, 2], [9, 10, 11])
    assert clock.in_scraps(stretch).tolist() == [True] * 9 + [False] * 21


def test_of_scraps_alone_the_longest_is_kept():
    stretch = np.repeat([0, 1, 2], [3, 5, 5])
    assert clock.in_scraps(stretch).tolist() == [True] * 3 + [False] * 5 + [True] * 5
    assert clock.in_scraps(np.empty(0, dtype=np.int64)).tolist() == []


def test_of_very_many_stretches_the_hundred_longest_are_kept():
    sizes = np.full(103, 12)
    sizes[[0, 50, 102]] = 11
    dropped = clock.in_scraps(np.repeat(np.arange(103), sizes))
    assert np.unique(np.repeat(np.arange(103), sizes)[dropped]).tolist() == [0, 50, 102]


def test_a_time_is_held_against_the_latest_before_it():
    time_s = np.array([3.0, 3.0, 2.0, 4.0, 3.0, 4.0, 5.0])
    assert flagged(clock.repeats_latest(time_s)) == [1, 5]
    assert flagged(clock.goes_back(time_s)) == [2, 4]
    assert clock.goes_back(np.empty(0)).tolist() == []
