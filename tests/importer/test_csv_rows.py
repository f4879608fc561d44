"""CSV rows that are odd, endless or no fixes at all."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs
from lapkit.units import KMH_MPS

START = datetime(2026, 5, 13, 21, 14, 7, 250_000, tzinfo=UTC)
FIXES = 40
STEPS = [round(i / 10, 6) for i in range(FIXES)]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("a,b,c\n1,2,3\n", "no header row names a latitude and a longitude .found: a, b, c"),
        ("1,2,3\n4,5,6\n", "no header row"),
        ("lat,lon\n1,2\n", "line 1: no header names the time"),
        ("time,lat,lon\n", "it has a header, but no fix below it"),
        ("time,lat,lon\n,,\n,,\n", "it has a header, but no fix below it"),
        ("time,lat,lon\n,52,1\n,52,1\n", "its time column is empty"),
        (b"\x00\x01\x02\x03" * 200, "binary file"),
        ("{}", "this is JSON, as track files are, and no log"),
        ("just words", "no header row"),
    ],
)
def test_what_is_no_table_of_fixes_is_refused_with_the_reason(write, text, reason):
    with pytest.raises(LogError, match=reason):
        read_logs(write(text))


def test_ragged_and_odd_rows_cost_only_themselves(write, table, elapsed):
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
def test_endless_cells_cost_only_themselves(write, cell, place, moments):
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
