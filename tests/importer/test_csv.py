"""CSV as loggers write it: layouts, units, positions, columns."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.errors import LogError, OptionError
from lapkit.importer import read_log, read_logs
from lapkit.units import FOOT_M, KMH_MPS, KNOT_MPS, MPH_MPS

START = datetime(2026, 5, 13, 21, 14, 7, 250_000, tzinfo=UTC)
FIXES = 40
STEPS = [round(i / 10, 6) for i in range(FIXES)]
ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"]


@pytest.mark.parametrize(
    ("delimiter", "decimal", "encoding", "quote", "newline"),
    [
        *itertools.product(",", ".", ENCODINGS, ["", '"'], ["\n", "\r\n"]),
        *itertools.product(";\t|", ".,", ["utf-8", "utf-16"], ["", '"'], ["\n", "\r\n"]),
        (",", ",", "utf-8", '"', "\n"),
        (";", ",", "latin-1", "", "\r"),
    ],
)  # fmt: skip
def test_delimiter_decimal_sign_encoding_quotes_and_line_ends_are_recognised(
    write, delimiter, decimal, encoding, quote, newline, moments, places, elapsed
):
    def joined(*cells):
        return delimiter.join(f"{quote}{cell}{quote}" for cell in cells)

    rows = [joined("Time", "Latitude (°)", "Longitude (°)", "Speed (km/h)")]
    for t, (lat, lon) in zip(moments(), places(), strict=True):
        numbers = [f"{t.timestamp():.3f}", f"{lat:.7f}", f"{lon:.7f}", "93.6"]
        rows.append(joined(*(n.replace(".", decimal) for n in numbers)))
    log = read_log(write(newline.join(rows).encode(encoding)))
    assert log.lat_deg.tolist() == [float(f"{lat:.7f}") for lat, _ in places()]
    assert log.lon_deg.tolist() == [float(f"{lon:.7f}") for _, lon in places()]
    assert elapsed(log) == STEPS
    assert log.speed_mps == pytest.approx([26.0] * FIXES)
    assert log.guesses["decimal sign"] == {".": "point", ",": "comma"}[decimal]


def test_decimal_commas_between_commas_are_refused(write, table):
    text = table(lambda t: f"{t.timestamp():.2f}").replace(".", ",")
    with pytest.raises(LogError, match="decimal commas between commas"):
        read_logs(write(text))


UNITS = {"m/s": 1.0, "km/h": KMH_MPS, "mph": MPH_MPS, "knots": KNOT_MPS, "ft/s": FOOT_M}
HEADERS = {
    "m/s": ["speed (m/s)", "speed_mps"],
    "km/h": ["Speed [km/h]", "speed kmh", "velocity_kph"],
    "mph": ["GPS Speed (mph)", "speed_mph"],
    "knots": ["sog (kn)", "speed knots"],
    "ft/s": ["speed (ft/s)"],
}


@pytest.mark.parametrize(("unit", "header"), [(u, h) for u, hs in HEADERS.items() for h in hs])
def test_a_unit_of_speed_in_the_header_is_recognised(write, unit, header):
    log = read_log(write(f"time (s),lat,lon,{header}\n0,52,1,{20 / UNITS[unit]}\n"))
    assert log.speed_mps == pytest.approx([20.0])


@pytest.mark.parametrize("unit", UNITS)
def test_units_in_a_second_row_are_recognised(write, unit):
    text = f"Time,Lat,Lon,Speed,Alt\n[s],[deg],[deg],[{unit}],[ft]\n5,52,1,{20 / UNITS[unit]},100\n"
    log = read_log(write(text))
    assert len(log) == 1
    assert log.speed_mps == pytest.approx([20.0])
    assert log.height_m == pytest.approx([30.48])


@pytest.mark.parametrize("unit", UNITS)
def test_a_speed_without_a_unit_is_told_by_the_positions(write, unit, places):
    speed = 26.1 / UNITS[unit]
    rows = [f"{i / 10},{lat:.7f},{lon:.7f},{speed:.2f}" for i, (lat, lon) in enumerate(places(100))]
    log = read_log(write("\n".join(["time (s),lat,lon,speed", *rows])))
    assert log.guesses["speed unit"].startswith(unit)
    assert log.speed_mps == pytest.approx([26.1] * 100, rel=1e-3)


def test_a_speed_that_agrees_in_no_unit_is_left_out_and_said_so(write, places):
    rows = [f"{i / 10},{lat:.7f},{lon:.7f},7000" for i, (lat, lon) in enumerate(places(100))]
    log = read_log(write("\n".join(["time (s),lat,lon,speed", *rows])))
    assert log.speed_mps is None
    assert "agrees with the positions in none" in log.notes[0]


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("lat,N/S,lon,E/W", "48.1173,S,11.5166667,W"),
        ("lat,N/S,lon,E/W", "4807.038,S,1131.000002,W"),
        ("lat,lon", "-48.1173,-11.5166667"),
        ("lat,lon", "48.1173S,11.5166667W"),
        ("lat,lon", "S 48.1173,W 11.5166667"),
        ("lat,lon", "S48°07.038',W11°31.000002'"),
        ("lat,lon", "48 07.038 S,11 31.000002 W"),
        ("lat,lon", '48°07\'02.28""S,11°31\'00.00012""W'),
        ("lat,lon", "4807.038S,01131.000002W"),
        ("lat,lon", "-4807.038,-1131.000002"),
        ("lat (rad),lon (rad)", "-0.83980530,-0.20100375"),
    ],
)
def test_positions_are_read_in_every_usual_form(write, header, cells):
    quoted = '"' + '","'.join(cells.split(",")) + '"'
    log = read_log(write(f"time (s),{header}\n1,{quoted}\n"))
    assert log.lat_deg == pytest.approx([-48.1173], abs=1e-6)
    assert log.lon_deg == pytest.approx([-11.5166667], abs=1e-6)


def test_degrees_and_minutes_as_text_near_the_equator_are_no_degrees(write):
    """12.345 minutes and 1 degree 12.3 minutes: small enough to be taken for degrees."""
    log = read_log(write("time (s),lat,lon\n1,0012.345S,00112.300E\n"))
    assert log.lat_deg == pytest.approx([-12.345 / 60.0])
    assert log.lon_deg == pytest.approx([1.0 + 12.3 / 60.0])


def test_a_longitude_up_to_360_is_not_taken_for_degrees_and_minutes(write):
    log = read_log(write("time (s),lat,lon\n1,52.5,358.75\n"))
    assert log.lat_deg.tolist() == [52.5]
    assert log.lon_deg.tolist() == [-1.25]


def test_comment_lines_before_the_header_are_passed_over(write, table):
    log = read_log(write('# made by "me\n# lat, lon\n\n' + table(lambda t: t.isoformat())))
    assert len(log) == FIXES
    assert log.guesses["header"] == "line 4"
    log = read_log(write("#time,lat,lon\n1,52,1\n"))
    assert len(log) == 1


def test_columns_given_by_the_user_win(write):
    text = "time (s),lat,lon,speed (m/s),Velocity 2 (km/h)\n1,52,1,10,72\n"
    assert read_log(write(text)).speed_mps.tolist() == [10]
    log = read_log(write(text), columns={"speed": "velocity 2 (km/h)"})
    assert log.speed_mps == pytest.approx([20])
    strange = write("q1,q2,q3\n1,52,1\n")
    with pytest.raises(LogError, match="no header row names a latitude"):
        read_log(strange)
    log = read_log(strange, columns={"time": "q1", "latitude": "q2", "lon": "q3"})
    assert log.lat_deg.tolist() == [52]


def test_columns_that_do_not_exist_are_refused(write):
    path = write("time,lat,lon\n1,52,1\n")
    with pytest.raises(OptionError, match=r"no column named 'throttle'.*speed, heading"):
        read_log(path, columns={"throttle": "lat"})
    with pytest.raises(LogError, match=r"line 1: no column has the header 'sog'.*time, lat, lon"):
        read_log(path, columns={"speed": "sog"})


def test_words_for_the_fix_are_read_and_void_rows_left_out(write):
    text = "time (s),lat,lon,fix\n1,52,1,3D\n2,52,1.1,none\n3,52,1.2,RTK\n"
    log = read_log(write(text))
    assert log.time_s.tolist() == [0, 2]
    assert log.fix_quality.tolist() == [1, 4]
    zeros = read_log(write(text.replace("3D", "0").replace("none", "0").replace("RTK", "0")))
    assert len(zeros) == 3
    assert zeros.fix_quality is None
    assert zeros.notes == ("the fix quality is 0 throughout and was ignored",)


def test_headers_cannot_steer_the_terminal(write):
    log = read_log(write("time (s),lat,lon,speed \x1b[31m(m/s)\n1,52,1,5\n"))
    assert all(value.isprintable() for value in log.guesses.values())
    with pytest.raises(LogError) as caught:
        read_log(write("time\x1b[31m,lat\n1,52\n"))
    assert str(caught.value).isprintable()


def test_more_rows_than_a_chunk_are_all_read(write):
    rows = "".join(f"{i / 10:.1f},{52 + i * 1e-6:.6f},1.5\n" for i in range(100_050))
    log = read_log(write("time (s),lat,lon\n" + rows))
    assert len(log) == 100_050
    assert log.time_s[-1] == pytest.approx(10_004.9)


FIX = st.tuples(
    st.floats(-89.9, 89.9).filter(lambda v: abs(v) > 1e-3),
    st.floats(-180, 180, exclude_max=True),
    st.none() | st.floats(0, 100),
    st.integers(1, 90_000_000),
)


@given(st.lists(FIX, min_size=1, max_size=15))
def test_numbers_keep_their_full_precision(once, fixes):
    moment, rows, times = START, [], []
    for lat, lon, speed, step in fixes:
        moment += timedelta(microseconds=step)
        times.append(moment.timestamp())
        rows.append(f"{moment.isoformat()},{lat!r},{lon!r},{'' if speed is None else repr(speed)}")
    once.write_text("\n".join(["time,lat,lon,speed (m/s)", *rows]))
    log = read_log(once)
    assert log.time_s.tolist() == times
    assert log.lat_deg == pytest.approx([f[0] for f in fixes], rel=1e-15)
    assert log.lon_deg == pytest.approx([f[1] for f in fixes], rel=1e-15, abs=1e-300)
    speeds = [np.nan if f[2] is None else f[2] for f in fixes]
    if log.speed_mps is None:
        assert np.isnan(speeds).all()
    else:
        assert log.speed_mps == pytest.approx(speeds, rel=1e-15, abs=1e-300, nan_ok=True)


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    return tmp_path_factory.mktemp("csv") / "log.csv"
