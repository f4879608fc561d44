"""What is left out of a file's fixes and counted, and where its clock starts a new log."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs

START = 1_777_713_240.0


@pytest.fixture
def logs_of(write):
    """Logs of rows (time since START, lat, lon) or of whole columns, by way of a CSV."""

    def read(rows, header="time (s),lat,lon", start=START):
        lines = [",".join([f"{start + row[0]:.3f}", *map(str, row[1:])]) for row in rows]
        return read_logs(write("\n".join([header, *lines]) + "\n"))

    return read


def ride(times):
    """Rows of a rider who moves on by 20 m at each fix."""
    return [(t, 52 + i % 10_000 * 2e-4, -1.0) for i, t in enumerate(times)]


def reasons(log):
    return {d.reason: d.count for d in log.dropped}


@pytest.mark.parametrize(
    ("lat", "lon", "reason"),
    [
        ("nan", "0", "without a readable position"),
        ("inf", "0", "without a readable position"),
        ("", "5", "without a readable position"),
        ("52", "-inf", "without a readable position"),
        ("90.0001", "0", "with a latitude or longitude beyond the globe"),
        ("-91", "5", "with a latitude or longitude beyond the globe"),
        ("1e308", "5", "with a latitude or longitude beyond the globe"),
        ("52", "361", "with a latitude or longitude beyond the globe"),
        ("52", "-1e308", "with a latitude or longitude beyond the globe"),
        ("0", "0", "at position 0, 0 (which means no fix)"),
    ],
)
def test_impossible_positions_are_left_out_and_counted(logs_of, lat, lon, reason):
    (log,) = logs_of([*ride(range(3)), (3, lat, lon), *[(t, 53, 1) for t in range(4, 6)]])
    assert len(log) == 5
    assert reasons(log) == {reason: 1}


@given(st.floats(-360, 360))
def test_longitudes_are_brought_into_one_turn(write_once, lon):
    write_once.write_text(f"time (s),lat,lon\n{START},52,{lon!r}\n")
    log = read_log(write_once)
    assert -180 <= log.lon_deg[0] < 180
    turns = (log.lon_deg[0] - lon) / 360
    assert turns == pytest.approx(round(turns), abs=1e-12)
    if -180 <= lon < 180:
        assert log.lon_deg[0] == lon
        assert not log.dropped


@pytest.fixture(scope="module")
def write_once(tmp_path_factory):
    return tmp_path_factory.mktemp("once") / "log.csv"


def test_poles_and_the_antimeridian_are_places(logs_of):
    rows = [(0, 90, 10), (1, -90, 10), (2, 10, -180), (3, 10, 180), (4, 10, 179.9999999)]
    (log,) = logs_of(rows)
    assert log.lat_deg.tolist() == [90, -90, 10, 10, 10]
    assert log.lon_deg.tolist() == [10, 10, -180, -180, 179.9999999]


def test_equal_and_backward_times_are_left_out_and_counted(logs_of):
    (log,) = logs_of(ride([0, 1, 2, 2, 2, 3, 1.5, 2.5, 4]))
    assert (log.time_s - START).tolist() == [0, 1, 2, 3, 4]
    assert log.lat_deg[2] == pytest.approx(52 + 2 * 2e-4)  # the first of the three
    assert reasons(log) == {
        "repeating the time of an earlier fix": 2,
        "going back in time": 2,
    }


@pytest.mark.parametrize("wild", ["nan", "inf", "1e308", "-1e308", ""])
def test_times_that_are_no_numbers_are_left_out(logs_of, write, wild):
    lines = [f"{START + i},{52 + i * 2e-4},1" for i in range(5)]
    lines.insert(3, f"{wild},52,1")
    (log,) = read_logs(write("time (s),lat,lon\n" + "\n".join(lines)))
    assert len(log) == 5
    assert sum(reasons(log).values()) == 1


@pytest.mark.parametrize("size", [1, 2, 3])
@pytest.mark.parametrize("leap", [30.0, 1e5, 1e8, -30.0, -1e5, -1e8])
def test_a_clock_that_leaps_and_comes_back_is_wild(logs_of, size, leap):
    times = [*range(20), *(leap + 20 + k for k in range(size)), *range(20 + size, 40)]
    (log,) = logs_of(ride(times))
    assert len(log) == 40 - size
    assert log.time_s[-1] - log.time_s[0] == 39
    assert sum(reasons(log).values()) == size


def test_a_clock_that_jumps_back_starts_a_new_log(logs_of):
    first, second = logs_of(ride([*range(100, 130), *range(50, 90)]))
    assert (first.time_s - START).tolist() == list(range(100, 130))
    assert (second.time_s - START).tolist() == list(range(50, 90))
    assert first.sha256 == second.sha256
    assert first.dropped == second.dropped == ()


def test_a_clock_that_jumps_ahead_by_a_day_starts_a_new_log(logs_of):
    assert [len(log) for log in logs_of(ride([*range(20), *range(90_000, 90_030)]))] == [20, 30]
    # A long break in the same day does not.
    assert [len(log) for log in logs_of(ride([*range(20), *range(20_000, 20_030)]))] == [50]


def test_scraps_between_clock_jumps_are_left_out(logs_of):
    times = [*range(500, 505), *range(100, 130), *range(10, 14), *range(9)]
    (log,) = logs_of(ride(times))
    assert len(log) == 30
    assert reasons(log) == {"in a scrap between clock jumps": 18}


def test_a_clock_that_runs_backward_gives_one_log_not_thousands(logs_of):
    logs = logs_of(ride(range(100_000, 0, -20)))
    assert len(logs) == 1


def test_a_clock_that_jumps_all_the_time_gives_a_limited_number_of_logs(logs_of):
    times = [start + i for start in range(500_000, 0, -1000) for i in range(12)]
    logs = logs_of(ride(times))
    assert len(logs) == 100
    assert reasons(logs[0]) == {"in a scrap between clock jumps": 400 * 12}


def test_the_longest_of_several_logs_is_the_log(logs_of, write):
    lines = [f"{START + t},{52 + i * 2e-4},1" for i, t in enumerate([*range(40, 60), *range(15)])]
    path = write("time (s),lat,lon\n" + "\n".join(lines))
    assert len(read_log(path)) == 20


def test_dates_before_any_receiver_are_left_out(logs_of):
    (log,) = logs_of([(-START, 52, 1), (-START + 1, 52, 1), *ride(range(20))])
    assert len(log) == 20
    assert reasons(log) == {"at an impossible date": 2}


def test_a_clock_that_was_never_set_still_counts_seconds(write, gpx_points):
    rows = [(52 + i / 5000, 1, f"1970-01-01T00:00:{i:02}Z", "") for i in range(30)]
    log = read_log(write(gpx_points(rows)))
    assert not log.has_clock
    assert log.time_s.tolist() == list(range(30))
    assert log.notes == ("the dates in the file are impossible, so times count from the first fix",)


def test_impossible_values_of_a_channel_are_ignored_and_counted(logs_of):
    header = "time (s),lat,lon,speed (m/s),heading,altitude (m),hdop"
    rows = [
        (0, 52, 1, 1e308, 10, 100, 99.99),
        (1, 52, 1.001, 30, -1, -1e9, 0.8),
        (2, 52, 1.002, -1, 370, 100, "x"),
        (3, 52, 1.003, "nan", -90, "", 5),
    ]
    (log,) = logs_of(rows, header)
    nan = pytest.approx(np.nan, nan_ok=True)
    assert log.speed_mps.tolist() == [nan, 30, nan, nan]
    assert log.heading_deg.tolist() == [10, nan, nan, 270]
    assert log.height_m.tolist() == [100, nan, 100, nan]
    assert log.hdop.tolist() == [nan, 0.8, nan, 5]
    assert reasons(log) == {
        "with an impossible speed": 1,
        "with an impossible heading": 1,
        "with an impossible height": 1,
    }


def test_a_channel_without_a_single_value_is_absent(logs_of):
    (log,) = logs_of([(0, 52, 1, -1), (1, 52, 1.1, "nan")], "time (s),lat,lon,accuracy (m)")
    assert log.accuracy_m is None


def test_when_nothing_is_left_every_reason_is_said(logs_of):
    with pytest.raises(LogError) as caught:
        logs_of([(0, 0, 0), (1, 95, 0)])
    assert "none of its 2 fixes can be used" in str(caught.value)
    assert "if a spreadsheet has saved the file since, take it from the logger again" in str(
        caught.value
    )
    assert (
        "1 fix with a latitude or longitude beyond the globe was left out; 1 fix at position 0, 0"
    ) in str(caught.value)


def test_notes_of_what_was_left_out_or_altered_are_sentences(logs_of):
    header = "time (s),lat,lon,speed (m/s),satellites"
    rows = [(t, 52, 1 + t * 1e-3, 1e308 if t < 2 else 30, -1 if t == 2 else 9) for t in range(9)]
    (log,) = logs_of([*rows, (float("nan"), 52, 1, 30, 9), (9, 52, 359, 30, 9)], header)
    assert {d.text for d in log.dropped} == {
        "1 fix without a readable time was left out",
        "1 fix with a longitude beyond 180° was brought into -180° to 180°",
        "2 fixes with an impossible speed were used without it",
        "1 fix with an impossible number of satellites was used without it",
    }


def test_one_fix_is_a_log(logs_of):
    (log,) = logs_of([(0, 52, 1)])
    assert len(log) == 1


@pytest.mark.parametrize("refused", [False, True])
def test_two_places_at_one_time_are_told_past_rows_that_go_back(logs_of, refused):
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


def test_a_few_times_with_two_places_among_many_are_a_receiver_s_fault(logs_of):
    rows = ride(range(1000))
    doubled = [(t, lat + 0.01, lon) for t, lat, lon in rows[:900:30]]
    (log,) = logs_of(sorted([*rows, *doubled]))
    assert len(log) == 1000


def test_without_a_clock_every_log_counts_from_its_own_first_fix(logs_of):
    rows = [*ride(range(50, 90)), *ride(range(20, 45))]
    first, second = logs_of(rows, start=0.0)
    assert not first.has_clock and first.notes == ()
    assert (first.time_s[0], first.time_s[-1]) == (0.0, 39.0)
    assert (second.time_s[0], second.time_s[-1]) == (0.0, 24.0)


def test_old_positions_written_once_more_are_left_out_and_counted(logs_of):
    """At 20 m/s a new position a second and a new speed ten times a second."""
    rows = [(i / 10, 52 + i // 10 * 1.8e-4, -1.0, 20.0 + 0.1 * (i % 7)) for i in range(400)]
    (log,) = logs_of(rows, header="time (s),lat,lon,speed (m/s)")
    assert reasons(log) == {"repeating an old position": 360}
    assert (log.time_s - START).tolist() == list(range(40))
    assert log.has_clock and log.notes == ()


def test_what_was_not_measured_is_left_out_and_counted(logs_of):
    """Thirty metres a second: at 10 s the logger writes on for a second, at 20 s the speed falls to zero for two."""
    rows = []
    for i in range(400):
        at = 100 if 100 < i <= 110 else i
        speed = 0.0 if 200 <= i < 220 else 30.0 + at % 9
        rows.append((i / 10, f"{52 + at * 2.7e-5:.7f}", -1.0, speed, 1.5 + at % 7))
    (log,) = logs_of(rows, header="time (s),lat,lon,speed (m/s),heading (deg)")
    assert reasons(log) == {
        "written on by the logger while the rider rode on": 10,
        "whose velocity stood still while the rider rode on": 20,
    }
    assert len(log) == 390
    assert np.count_nonzero(np.isnan(log.speed_mps)) == 20
    assert np.array_equal(np.isnan(log.speed_mps), np.isnan(log.heading_deg))


def test_a_log_that_was_resampled_is_taken_at_the_rate_of_its_fixes(logs_of):
    fixes = np.arange(0.0, 300.0)
    times = np.arange(0.0, 299.0, 0.1)
    lat = np.interp(times, fixes, 52 + 2e-4 * fixes)
    lon = np.interp(times, fixes, 1e-3 * np.sin(fixes / 3.0))
    (log,) = logs_of([(t, f"{a:.8f}", f"{b:.8f}") for t, a, b in zip(times, lat, lon, strict=True)])
    assert log.rate_hz == pytest.approx(1.0, rel=1e-3)
    assert reasons(log) == {"drawn between two others by an export that resamples": 2690}


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


def test_a_few_times_that_run_backward_are_a_fault_of_the_clock(logs_of):
    (log,) = logs_of([(t / 10, 52 + t * 2e-5, -1.0) for t in range(15)][::-1])
    assert len(log) == 1
    assert reasons(log) == {"going back in time": 14}


def test_fixes_written_twice_are_thinned_alike_at_every_speed(logs_of):
    """What is written twice throughout is no stall, though on fast parts it looks like many short ones."""
    speed = np.where(np.arange(600) < 300, 30.0, 8.0)
    lat = 52 + np.cumsum(speed * 0.2) / 111_195.0
    rows = [(i / 10, f"{lat[i // 2]:.7f}", -1.0) for i in range(1200)]
    (log,) = logs_of(rows)
    assert reasons(log) == {"repeating an old position": 600}
