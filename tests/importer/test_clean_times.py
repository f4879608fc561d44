"""What is left out of a file for its times, and where its clock starts a new log."""

from __future__ import annotations

import pytest

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs

START = 1_777_713_240.0


def test_equal_and_backward_times_are_left_out_and_counted(logs_of, ride, reasons):
    (log,) = logs_of(ride([0, 1, 2, 2, 2, 3, 1.5, 2.5, 4]))
    assert (log.time_s - START).tolist() == [0, 1, 2, 3, 4]
    assert log.lat_deg[2] == pytest.approx(52 + 2 * 2e-4)  # the first of the three
    assert reasons(log) == {
        "repeating the time of an earlier fix": 2,
        "going back in time": 2,
    }


@pytest.mark.parametrize("wild", ["nan", "inf", "1e308", "-1e308", ""])
def test_times_that_are_no_numbers_are_left_out(logs_of, write, wild, reasons):
    lines = [f"{START + i},{52 + i * 2e-4},1" for i in range(5)]
    lines.insert(3, f"{wild},52,1")
    (log,) = read_logs(write("time (s),lat,lon\n" + "\n".join(lines)))
    assert len(log) == 5
    assert sum(reasons(log).values()) == 1


@pytest.mark.parametrize("size", [1, 2, 3])
@pytest.mark.parametrize("leap", [30.0, 1e5, 1e8, -30.0, -1e5, -1e8])
def test_a_clock_that_leaps_and_comes_back_is_wild(logs_of, size, leap, ride, reasons):
    times = [*range(20), *(leap + 20 + k for k in range(size)), *range(20 + size, 40)]
    (log,) = logs_of(ride(times))
    assert len(log) == 40 - size
    assert log.time_s[-1] - log.time_s[0] == 39
    assert sum(reasons(log).values()) == size


def test_a_clock_that_jumps_back_starts_a_new_log(logs_of, ride):
    first, second = logs_of(ride([*range(100, 130), *range(50, 90)]))
    assert (first.time_s - START).tolist() == list(range(100, 130))
    assert (second.time_s - START).tolist() == list(range(50, 90))
    assert first.sha256 == second.sha256
    assert first.dropped == second.dropped == ()


def test_a_clock_that_jumps_ahead_by_a_day_starts_a_new_log(logs_of, ride):
    assert [len(log) for log in logs_of(ride([*range(20), *range(90_000, 90_030)]))] == [20, 30]
    # A long break in the same day does not.
    assert [len(log) for log in logs_of(ride([*range(20), *range(20_000, 20_030)]))] == [50]


def test_scraps_between_clock_jumps_are_left_out(logs_of, ride, reasons):
    times = [*range(500, 505), *range(100, 130), *range(10, 14), *range(9)]
    (log,) = logs_of(ride(times))
    assert len(log) == 30
    assert reasons(log) == {"in a scrap between clock jumps": 18}


def test_a_clock_that_runs_backward_gives_one_log_not_thousands(logs_of, ride):
    logs = logs_of(ride(range(100_000, 0, -20)))
    assert len(logs) == 1


def test_a_clock_that_jumps_all_the_time_gives_a_limited_number_of_logs(logs_of, ride, reasons):
    times = [start + i for start in range(500_000, 0, -1000) for i in range(12)]
    logs = logs_of(ride(times))
    assert len(logs) == 100
    assert reasons(logs[0]) == {"in a scrap between clock jumps": 400 * 12}


def test_the_longest_of_several_logs_is_the_log(logs_of, write):
    lines = [f"{START + t},{52 + i * 2e-4},1" for i, t in enumerate([*range(40, 60), *range(15)])]
    path = write("time (s),lat,lon\n" + "\n".join(lines))
    assert len(read_log(path)) == 20


def test_dates_before_any_receiver_are_left_out(logs_of, ride, reasons):
    (log,) = logs_of([(-START, 52, 1), (-START + 1, 52, 1), *ride(range(20))])
    assert len(log) == 20
    assert reasons(log) == {"at an impossible date": 2}


def test_a_clock_that_was_never_set_still_counts_seconds(write, gpx_points):
    rows = [(52 + i / 5000, 1, f"1970-01-01T00:00:{i:02}Z", "") for i in range(30)]
    log = read_log(write(gpx_points(rows)))
    assert not log.has_clock
    assert log.time_s.tolist() == list(range(30))
    assert log.notes == ("the dates in the file are impossible, so times count from the first fix",)


@pytest.mark.parametrize("refused", [False, True])
def test_two_places_at_one_time_are_told_past_rows_that_go_back(logs_of, refused, ride, reasons):
    """Between a time and the same time once more stands a late row of another place."""
    rows = []
    for t, lat, lon in ride(range(40)):
        again = lat + 0.01 if refused else lat
        rows += [(t, lat, lon), (t - 0.3, lat + 0.01, lon), (t, again, lon)]
    if refused:
        with pytest.raises(LogError, match="at 40 times it has two places far apart"):
            logs_of(rows)
    else:
        (log,) = logs_of(rows)
        assert len(log) == 40
        assert reasons(log) == {
            "repeating the time of an earlier fix": 40,
            "going back in time": 40,
        }


def test_a_few_times_with_two_places_among_many_are_a_receiver_s_fault(logs_of, ride):
    rows = ride(range(1000))
    doubled = [(t, lat + 0.01, lon) for t, lat, lon in rows[:900:30]]
    (log,) = logs_of(sorted([*rows, *doubled]))
    assert len(log) == 1000


def test_without_a_clock_every_log_counts_from_its_own_first_fix(logs_of, ride):
    rows = [*ride(range(50, 90)), *ride(range(20, 45))]
    first, second = logs_of(rows, start=0.0)
    assert not first.has_clock and first.notes == ()
    assert (first.time_s[0], first.time_s[-1]) == (0.0, 39.0)
    assert (second.time_s[0], second.time_s[-1]) == (0.0, 24.0)


@pytest.mark.parametrize("late", [(), (7, 30)])
def test_a_file_with_the_newest_fixes_first_is_turned_round(logs_of, late):
    rows = [(t / 10, 52 + t * 2e-5, -1.0) for t in range(100)]
    for i in late:  # written after the row that it should stand before
        rows[i], rows[i + 1] = rows[i + 1], rows[i]
    (log,) = logs_of(rows[::-1])
    (forward,) = logs_of(rows)
    assert log.time_s.tolist() == forward.time_s.tolist()
    assert log.lat_deg.tolist() == forward.lat_deg.tolist()
    assert log.notes == ("the newest fixes come first in the file; they were turned round",)


def test_a_few_times_that_run_backward_are_a_fault_of_the_clock(logs_of, reasons):
    (log,) = logs_of([(t / 10, 52 + t * 2e-5, -1.0) for t in range(15)][::-1])
    assert len(log) == 1
    assert reasons(log) == {"going back in time": 14}
