from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapkit.errors import LogError, OptionError
from lapkit.importer import read_log, read_logs
from lapkit.units import FOOT_M, KMH_MPS, KNOT_MPS, MPH_MPS

START = datetime(2026, 5, 13, 21, 14, 7, 250_000, tzinfo=UTC)
BEFORE_MIDNIGHT = START.replace(hour=23, minute=59, second=56, microsecond=0)
FIXES = 40


def moments(count=FIXES):
    return [START + timedelta(seconds=i / 10) for i in range(count)]


def places(count=FIXES):
    """A rider at about 26.1 m/s, ten fixes a second."""
    return [(52 + i * 2e-5, -1.2 - i * 2e-5) for i in range(count)]


def table(clock, *, header="time,lat,lon", delimiter=",", count=FIXES):
    """A CSV whose time column is made by ``clock`` from a moment."""
    rows = [
        delimiter.join([clock(t), f"{lat:.7f}", f"{lon:.7f}"])
        for t, (lat, lon) in zip(moments(count), places(count), strict=True)
    ]
    return "\n".join([header.replace(",", delimiter), *rows]) + "\n"


def elapsed(log):
    return np.round(log.time_s - log.time_s[0], 6).tolist()


STEPS = [round(i / 10, 6) for i in range(FIXES)]


@pytest.mark.parametrize(
    ("clock", "first"),
    [
        (lambda t: t.isoformat(), START),
        (lambda t: t.isoformat(timespec="milliseconds").replace("+00:00", "Z"), START),
        (lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f}", START),
        (lambda t: f"{t:%Y-%m-%dT%H:%M:%S.%f}+02:00", START - timedelta(hours=2)),
        (lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f} UTC", START),
        (lambda t: f"{t:%Y/%m/%d %H:%M:%S.%f}", START),
        (lambda t: f"{t:%d.%m.%Y %H:%M:%S.%f}", START),
        (lambda t: f"{t:%d/%m/%Y %H:%M:%S.%f}", START),
        (lambda t: f"{t:%m/%d/%Y %I:%M:%S.%f %p}", START),
        (lambda t: f"{t.timestamp():.3f}", START),
        (lambda t: f"{t.timestamp() * 1e3:.0f}", START),
        (lambda t: f"{t.timestamp() * 1e6:.0f}", START),
        (lambda t: f"{t.timestamp() * 1e6:.0f}000", START),
    ],
    ids=["iso", "Z", "naive", "zone", "UTC", "slashes", "dots", "day first", "month first",
         "s", "ms", "us", "ns"],
)  # fmt: skip
def test_times_tied_to_a_calendar(write, clock, first):
    log = read_log(write(table(clock)))
    assert log.has_clock
    assert log.time_s[0] == pytest.approx(first.timestamp(), abs=1e-6)
    assert elapsed(log) == STEPS


@pytest.mark.parametrize(
    "clock",
    [
        lambda t: f"{t:%H:%M:%S.%f}",
        lambda t: f"{t:%I:%M:%S.%f} {t:%p}".lower(),
        lambda t: f"{t:%H%M%S}.{t.microsecond // 10_000:02}",
        lambda t: f"{(t - START).total_seconds()}",
        lambda t: f"{(t - START) // timedelta(milliseconds=1) + 500_000}",
    ],
    ids=["time of day", "am and pm", "hhmmss", "since the start", "ms since the start"],
)
def test_times_without_a_date_count_from_the_first_fix(write, clock):
    log = read_log(write(table(clock)))
    assert not log.has_clock
    assert elapsed(log) == STEPS
    assert log.time_s[0] == 0


@pytest.mark.parametrize(
    "date", ["%Y-%m-%d", "%d.%m.%Y", "%m/%d/%Y", "%Y%m%d", "%d%m%y", "%d/%m/%y"]
)
@pytest.mark.parametrize("clock", ["%H:%M:%S.%f", "%I:%M:%S.%f %p", "%H%M%S.%f"])
def test_date_and_time_in_two_columns(write, date, clock):
    text = table(lambda t: f"{t:{date}},{t:{clock}}", header="date,time,lat,lon")
    log = read_log(write(text))
    assert log.has_clock
    assert log.time_s[0] == START.timestamp()
    assert elapsed(log) == STEPS


def test_midnight_with_and_without_dates(write):
    late = [START.replace(hour=23, minute=59, second=58) + timedelta(seconds=i) for i in range(5)]

    def made(form):
        rows = [f"{t:{form}},{52 + i / 1000},1" for i, t in enumerate(late)]
        return write("\n".join(["time,lat,lon" if "," not in form else "date,time,lat,lon", *rows]))

    for form in ("%H:%M:%S", "%Y-%m-%d,%H:%M:%S", "2026-05-13,%H:%M:%S"):
        assert elapsed(read_log(made(form))) == [0, 1, 2, 3, 4], form


@pytest.mark.parametrize("late", [0, 1, 3])
def test_a_date_that_comes_after_midnight_by_some_rows(write, late):
    """Loggers that put time and date together from two sentences are a row or more late."""
    at = [BEFORE_MIDNIGHT + timedelta(seconds=i) for i in range(12)]
    dates = [at[max(i - late, 0)] for i in range(12)]
    rows = [
        f"{d:%Y-%m-%d},{t:%H:%M:%S},{52 + i / 1000},1"
        for i, (d, t) in enumerate(zip(dates, at, strict=True))
    ]
    log = read_log(write("\n".join(["date,time,lat,lon", *rows])))
    assert log.time_s.tolist() == [t.timestamp() for t in at]


def test_a_day_between_two_runs_is_no_date_that_was_late(write):
    """The clock passes midnight with its date; the second run is of the next evening."""
    first = [BEFORE_MIDNIGHT + timedelta(seconds=i) for i in range(12)]
    at = [*first, *(t + timedelta(days=1, minutes=5) for t in first)]
    rows = [f"{t:%Y-%m-%d},{t:%H:%M:%S},{52 + i / 1000},1" for i, t in enumerate(at)]
    logs = read_logs(write("\n".join(["date,time,lat,lon", *rows])))
    times = np.concatenate([log.time_s for log in logs])
    assert times.tolist() == [t.timestamp() for t in at]


def test_an_ambiguous_date_is_said_to_be_guessed(write):
    log = read_log(write("time,lat,lon\n02/05/2026 09:14:07,52,1\n"))
    assert log.guesses["date order"] == "day first (could be either)"
    assert log.time_s[0] == datetime(2026, 5, 2, 9, 14, 7, tzinfo=UTC).timestamp()
    sure = read_log(write("time,lat,lon\n13/05/2026 09:14:07,52,1\n"))
    assert sure.guesses["date order"] == "day first"


def test_a_zone_that_is_not_given_is_said_to_be_guessed(write):
    assert (
        "taken as UTC"
        in read_log(write(table(lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f}"))).guesses["time zone"]
    )
    assert "time zone" not in read_log(write(table(lambda t: t.isoformat()))).guesses
    utc = table(lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f}", header="utc time,lat,lon")
    assert "time zone" not in read_log(write(utc)).guesses


def test_times_in_no_known_form_are_refused_with_an_example(write):
    with pytest.raises(LogError, match="cannot be understood, such as 'noon'"):
        read_logs(write("time,lat,lon\nnoon,52,1\n"))


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
def test_layouts(write, delimiter, decimal, encoding, quote, newline):
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


def test_decimal_commas_between_commas_are_refused(write):
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
def test_units_of_speed_in_the_header(write, unit, header):
    log = read_log(write(f"time (s),lat,lon,{header}\n0,52,1,{20 / UNITS[unit]}\n"))
    assert log.speed_mps == pytest.approx([20.0])


@pytest.mark.parametrize("unit", UNITS)
def test_units_in_a_second_row(write, unit):
    text = f"Time,Lat,Lon,Speed,Alt\n[s],[deg],[deg],[{unit}],[ft]\n5,52,1,{20 / UNITS[unit]},100\n"
    log = read_log(write(text))
    assert len(log) == 1
    assert log.speed_mps == pytest.approx([20.0])
    assert log.height_m == pytest.approx([30.48])


@pytest.mark.parametrize("unit", UNITS)
def test_a_speed_without_a_unit_is_told_by_the_positions(write, unit):
    speed = 26.1 / UNITS[unit]
    rows = [f"{i / 10},{lat:.7f},{lon:.7f},{speed:.2f}" for i, (lat, lon) in enumerate(places(100))]
    log = read_log(write("\n".join(["time (s),lat,lon,speed", *rows])))
    assert log.guesses["speed unit"].startswith(unit)
    assert log.speed_mps == pytest.approx([26.1] * 100, rel=1e-3)


def test_a_speed_that_agrees_in_no_unit_is_left_out_and_said_so(write):
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
def test_forms_of_positions(write, header, cells):
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


def test_comment_lines_before_the_header(write):
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


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("a,b,c\n1,2,3\n", "no header row names a latitude and a longitude .found: a, b, c"),
        ("1,2,3\n4,5,6\n", "no header row"),
        ("lat,lon\n1,2\n", "line 1: no header names the time"),
        ("time,lat,lon\n", "its time column is empty"),
        ("time,lat,lon\n,,\n,,\n", "its time column is empty"),
        (b"\x00\x01\x02\x03" * 200, "binary file"),
        ("{}", "this is JSON, as track files are, and no log"),
        ("just words", "no header row"),
    ],
)
def test_what_is_no_table_of_fixes_is_refused_with_the_reason(write, text, reason):
    with pytest.raises(LogError, match=reason):
        read_logs(write(text))


def test_ragged_and_odd_rows_cost_only_themselves(write):
    rows = table(lambda t: f"{t.timestamp():.2f}").splitlines()
    odd = ["", "x", "1,2", "time,lat,lon", ",,,,,,,,", "#,#,#", "nan,nan,nan", '"', "\x00,1,2"]
    for number, line in enumerate(odd):
        rows.insert(3 + 3 * number, line)
    log = read_log(write("\n".join(rows)))
    assert len(log) == FIXES
    assert elapsed(log) == STEPS
    assert (
        sum(d.count for d in log.dropped) == len(odd) - 2
    )  # an empty line and a lone quote are no row


def test_longer_rows_and_unknown_columns_do_no_harm(write):
    text = "note,time (s),lat,lon,other\n" + "".join(
        f'"a, b",{i},52.{i},1,x,y,z\n' for i in range(5)
    )
    assert read_log(write(text)).lat_deg.tolist() == [52.0, 52.1, 52.2, 52.3, 52.4]


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("unit", ["s", "min", "ns", ""])
@pytest.mark.parametrize("wild", ["inf", "-inf", "1e308", "-1e308", "1e-320", "9" * 400, "nan"])
def test_numbers_at_the_end_of_the_range_cost_only_themselves(write, unit, wild):
    rows = [f"{i},52.{i:02},1,5,8" for i in range(12)]
    rows += [f"{wild},52,1,5,8", f"12,{wild},1,5,8", f"13,52,{wild},5,8", f"14,52,1,{wild},{wild}"]
    header = f"time ({unit}),lat,lon,speed (km/h),height (km)"
    (log,) = read_logs(write("\n".join([header, *rows])))
    assert 12 <= len(log) <= 15  # the tiny number is a place and a time
    assert log.speed_mps[:12] == pytest.approx([5 * KMH_MPS] * 12)


@pytest.mark.parametrize("cell", ["9" * 5000, "9" * 5000 + "/1/2 00:00:00", " " * 5000 + "x"])
@pytest.mark.parametrize("place", range(4))
def test_endless_cells_cost_only_themselves(write, cell, place):
    rows = [f"{t.isoformat()},52.5,1,1" for t in moments()]
    cells = ["2026-05-13T21:14:06Z", "52.5", "1", "1"]
    cells[place] = cell
    log = read_log(write("\n".join(["time,lat,lon,fix", ",".join(cells), *rows])))
    assert FIXES <= len(log) <= FIXES + 1


def test_an_open_quote_does_not_swallow_the_rest(write):
    rows = [f'{i},52.{i:02},"1"' for i in range(50)]
    rows[10] = '10,"52.10,1'
    log = read_log(write("\n".join(["time (s),lat,lon", *rows])))
    assert len(log) == 50


def test_an_endless_line_is_refused(write):
    text = "time (s),lat,lon\n" + "1,52,1\n" * 50_000 + "9" * 3_000_000
    with pytest.raises(LogError, match="a line is longer than"):
        read_logs(write(text))


def test_words_of_fix_and_void_rows(write):
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


def test_more_rows_than_a_chunk(write):
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


@settings(deadline=None)
@given(st.lists(FIX, min_size=1, max_size=15))
def test_full_precision_comes_back(once, fixes):
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
