"""A whole day in one log, and several riders in one file."""

import numpy as np
import pytest

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs

RIDE_S, PAUSE_S = 300, 1800


def ride(start_s, lat=10.0, seconds=RIDE_S):
    """Rows of five minutes on a circle at 20 m/s, one a second."""
    angle = np.arange(seconds) * 20 / 150
    return [
        (start_s + k, lat + 0.00135 * np.sin(a), 20 + 0.00137 * np.cos(a))
        for k, a in enumerate(angle)
    ]


def still(start_s, seconds, lat=10.0):
    """Rows of standing on a spot."""
    return [(start_s + k, lat, 20.001) for k in range(seconds)]


def table(rows, header="epoch,lat,lon"):
    lines = [",".join([f"{r[0] + 1.9e9:.0f}", f"{r[1]:.7f}", f"{r[2]:.7f}", *r[3:]]) for r in rows]
    return "\n".join([header, *lines]) + "\n"


def named(rows, rider):
    return [(*row, rider) for row in rows]


@pytest.mark.parametrize("logging", [True, False])
def test_runs_are_parted_by_standing_still(write, logging):
    between = still(RIDE_S, PAUSE_S) if logging else []
    path = write(table([*ride(0), *between, *ride(RIDE_S + PAUSE_S)]))
    first, second = read_logs(path)
    kept = 120 if logging else 0
    assert abs(len(first) - RIDE_S - kept) <= 30
    assert abs(len(second) - RIDE_S - kept) <= 30
    assert "run 2 of 2" in second.notes[-1]
    left_out = sum(d.count for d in first.dropped)
    assert len(first) + len(second) + left_out == 2 * RIDE_S + len(between)


def test_the_whole_log_can_still_be_had(write):
    path = write(table([*ride(0), *still(RIDE_S, PAUSE_S), *ride(RIDE_S + PAUSE_S)]))
    assert len(read_log(path)) == 2 * RIDE_S + PAUSE_S


def test_a_short_stop_is_part_of_the_run(write):
    (log,) = read_logs(write(table([*ride(0), *still(RIDE_S, 200), *ride(RIDE_S + 200)])))
    assert len(log) == 2 * RIDE_S + 200


@pytest.mark.parametrize(("moved_s", "runs"), [(40, 2), (100, 3)])
def test_a_machine_moved_about_the_paddock_for_less_than_a_minute_and_a_half_is_no_run(
    write, moved_s, runs
):
    moved, then = ride(RIDE_S + 900, seconds=moved_s), RIDE_S + 900 + moved_s
    rows = [*ride(0), *still(RIDE_S, 900), *moved, *still(then, 900), *ride(then + 900)]
    assert len(read_logs(write(table(rows)))) == runs


def test_a_log_that_stands_all_day_is_left_whole(write):
    (log,) = read_logs(write(table(still(0, 4000))))
    assert len(log) == 4000


def test_without_a_clock_each_run_counts_from_its_own_start(write):
    rows = [*ride(0), *ride(RIDE_S + PAUSE_S)]
    path = write(table([(t - 1.9e9, *rest) for t, *rest in rows], "time (s),lat,lon"))
    assert [log.time_s[0] for log in read_logs(path)] == [0.0, 0.0]


def test_a_column_tells_riders_apart(write):
    rows = sorted([*named(ride(0), "Ada"), *named(ride(0, lat=10.001), "Bo")])
    ada, bo = read_logs(write(table(rows, "epoch,lat,lon,rider")))
    assert {ada.rider, bo.rider} == {"Ada", "Bo"}
    assert len(ada) == len(bo) == RIDE_S
    assert abs(ada.lat_deg.mean() - bo.lat_deg.mean()) == pytest.approx(0.001, abs=1e-6)


def test_columns_may_name_the_rider(write):
    rows = [*named(ride(0), "Ada"), *named(ride(5, lat=10.001), "Bo")]
    path = write(table(rows, "epoch,lat,lon,who"))
    assert {log.rider for log in read_logs(path, columns={"rider": "who"})} == {"Ada", "Bo"}


def test_one_rider_without_a_fix_does_not_cost_the_other(write):
    lost = [(t, float("nan"), 0.0, "Bo") for t in range(50)]
    (log,) = read_logs(write(table([*named(ride(0), "Ada"), *lost], "epoch,lat,lon,rider")))
    assert log.rider == "Ada"


def test_a_name_for_every_row_names_no_riders(write):
    rows = [(*row, f"point {k}") for k, row in enumerate(ride(0))]
    (log,) = read_logs(write(table(rows, "epoch,lat,lon,device")))
    assert log.rider == "" and len(log) == RIDE_S


def test_riders_mixed_without_a_name_are_refused(write):
    rows = sorted([*ride(0), *ride(0, lat=10.01)])
    with pytest.raises(LogError, match="fixes of several riders take turns") as refused:
        read_logs(write(table(rows)))
    assert "--columns rider=" in refused.value.remedy
