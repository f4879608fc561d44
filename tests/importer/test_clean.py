"""What is left out of a file's fixes and counted, and where its clock starts a new log."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.errors import LogError
from lapkit.importer import read_log

START = 1_777_713_240.0


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
def test_impossible_positions_are_left_out_and_counted(logs_of, lat, lon, reason, ride, reasons):
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


def test_impossible_values_of_a_channel_are_ignored_and_counted(logs_of, reasons):
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


def test_old_positions_written_once_more_are_left_out_and_counted(logs_of, reasons):
    """At 20 m/s a new position a second and a new speed ten times a second."""
    rows = [(i / 10, 52 + i // 10 * 1.8e-4, -1.0, 20.0 + 0.1 * (i % 7)) for i in range(400)]
    (log,) = logs_of(rows, header="time (s),lat,lon,speed (m/s)")
    assert reasons(log) == {"repeating an old position": 360}
    assert (log.time_s - START).tolist() == list(range(40))
    assert log.has_clock and log.notes == ()


def test_what_was_not_measured_is_left_out_and_counted(logs_of, reasons):
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


def test_a_log_that_was_resampled_is_taken_at_the_rate_of_its_fixes(logs_of, reasons):
    fixes = np.arange(0.0, 300.0)
    times = np.arange(0.0, 299.0, 0.1)
    lat = np.interp(times, fixes, 52 + 2e-4 * fixes)
    lon = np.interp(times, fixes, 1e-3 * np.sin(fixes / 3.0))
    (log,) = logs_of([(t, f"{a:.8f}", f"{b:.8f}") for t, a, b in zip(times, lat, lon, strict=True)])
    assert log.rate_hz == pytest.approx(1.0, rel=1e-3)
    assert reasons(log) == {"drawn between two others by an export that resamples": 2690}


def test_fixes_written_twice_are_thinned_alike_at_every_speed(logs_of, reasons):
    """What is written twice throughout is no stall, though on fast parts it looks like many short ones."""
    speed = np.where(np.arange(600) < 300, 30.0, 8.0)
    lat = 52 + np.cumsum(speed * 0.2) / 111_195.0
    rows = [(i / 10, f"{lat[i // 2]:.7f}", -1.0) for i in range(1200)]
    (log,) = logs_of(rows)
    assert reasons(log) == {"repeating an old position": 600}
