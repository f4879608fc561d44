"""Times in CSV: forms, dates, midnight, zones."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs
from lapkit.importer.csv_times import _is_hhmmss, _unit_by_step, plain_clock

START = datetime(2026, 5, 13, 21, 14, 7, 250_000, tzinfo=UTC)
BEFORE_MIDNIGHT = START.replace(hour=23, minute=59, second=56, microsecond=0)
FIXES = 40
STEPS = [round(i / 10, 6) for i in range(FIXES)]


@pytest.mark.parametrize(
    ("clock", "first"),
    [
        (lambda t: t.isoformat(), START),
        (lambda t: t.isoformat(timespec="milliseconds").replace("+00:00", "Z"), START),
        (lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f}", START),
        (lambda t: f"{t:%Y-%m-%dT%H:%M:%S.%f}+02:00", START - timedelta(hours=2)),
        (lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f} UTC", START),
        (lambda t: f"{t:%Y-%m-%d %H:%M:%S.%f} +0200", START - timedelta(hours=2)),
        (lambda t: f'"{t:%Y-%m-%d %H:%M:%S,%f}+02:00"', START - timedelta(hours=2)),
        (lambda t: f"{t:%m/%d/%Y %I:%M:%S.%f %p} -03", START + timedelta(hours=3)),
        (lambda t: f"{t:%Y/%m/%d %H:%M:%S.%f}", START),
        (lambda t: f"{t:%d.%m.%Y %H:%M:%S.%f}", START),
        (lambda t: f"{t:%d/%m/%Y %H:%M:%S.%f}", START),
        (lambda t: f"{t:%m/%d/%Y %I:%M:%S.%f %p}", START),
        (lambda t: f"{t.timestamp():.3f}", START),
        (lambda t: f"{t.timestamp() * 1e3:.0f}", START),
        (lambda t: f"{t.timestamp() * 1e6:.0f}", START),
        (lambda t: f"{t.timestamp() * 1e6:.0f}000", START),
    ],
    ids=["iso", "Z", "naive", "zone", "UTC", "zone apart", "comma and zone", "pm and zone",
         "slashes", "dots", "day first", "month first", "s", "ms", "us", "ns"],
)  # fmt: skip
def test_times_with_a_date_are_read_in_every_usual_form(write, clock, first, table, elapsed):
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
def test_times_without_a_date_count_from_the_first_fix(write, clock, table, elapsed):
    log = read_log(write(table(clock)))
    assert not log.has_clock
    assert elapsed(log) == STEPS
    assert log.time_s[0] == 0


@pytest.mark.parametrize(
    "date", ["%Y-%m-%d", "%d.%m.%Y", "%m/%d/%Y", "%Y%m%d", "%d%m%y", "%d/%m/%y"]
)
@pytest.mark.parametrize("clock", ["%H:%M:%S.%f", "%I:%M:%S.%f %p", "%H%M%S.%f"])
def test_date_and_time_in_two_columns_are_joined(write, date, clock, table, elapsed):
    text = table(lambda t: f"{t:{date}},{t:{clock}}", header="date,time,lat,lon")
    log = read_log(write(text))
    assert log.has_clock
    assert log.time_s[0] == START.timestamp()
    assert elapsed(log) == STEPS


def test_a_time_of_day_beside_a_date_may_have_a_zone(write, table, elapsed):
    late = START.replace(hour=23, minute=59, second=58) - START

    def local(t):
        t += late
        return f"{t:%Y-%m-%d},{t:%H:%M:%S.%f}+02:00"

    log = read_log(write(table(local, header="date,time,lat,lon")))
    assert log.time_s[0] == (START + late - timedelta(hours=2)).timestamp()
    assert elapsed(log) == STEPS


def test_times_go_on_over_midnight_with_and_without_dates(write, elapsed):
    late = [START.replace(hour=23, minute=59, second=58) + timedelta(seconds=i) for i in range(5)]

    def made(form):
        rows = [f"{t:{form}},{52 + i / 1000},1" for i, t in enumerate(late)]
        return write("\n".join(["time,lat,lon" if "," not in form else "date,time,lat,lon", *rows]))

    for form in ("%H:%M:%S", "%Y-%m-%d,%H:%M:%S", "2026-05-13,%H:%M:%S"):
        assert elapsed(read_log(made(form))) == [0, 1, 2, 3, 4], form


@pytest.mark.parametrize("late", [0, 1, 3])
def test_a_date_that_changes_some_rows_after_midnight_is_put_right(write, late):
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
    american = read_log(write("time,lat,lon\n05/13/2026 09:14:07,52,1\n"))
    assert american.guesses["date order"] == "month first"
    assert american.time_s[0] == sure.time_s[0]


def test_a_zone_that_is_not_given_is_said_to_be_guessed(write, table):
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


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("9:14:07", "09:14:07"),
        ("9:14:07,25 PM", "21:14:07.25"),
        ("12:00:00 a.m.", "00:00:00"),
        ("12:00:00 pm", "12:00:00"),
        ("09:14:07 UTC", "09:14:07Z"),
        ("09:14:07 GMT", "09:14:07Z"),
        ("09:14:07 +0200", "09:14:07+0200"),
        ("9:14:07,2 PM −03:30", "21:14:07.2−03:30"),
        (" noon ", "noon"),
    ],
)
def test_times_of_day_are_written_as_iso_8601_has_them(text, iso):
    assert plain_clock(text) == iso


@pytest.mark.parametrize(
    ("number", "is_clock"),
    [(235_959.9, True), (91_407.2, True), (240_000.0, False), (91_460.0, False), (96_007.0, False)],
)
def test_a_number_is_a_clock_where_its_digits_are_hours_minutes_and_seconds(number, is_clock):
    assert _is_hhmmss(np.array([91_407.0, number])) is is_clock


@pytest.mark.parametrize(
    ("step", "unit"), [(0.1, "s"), (9.9, "s"), (10.0, "ms"), (9_999.0, "ms"), (10_000.0, "µs")]
)
def test_the_unit_of_a_bare_number_is_told_by_its_steps(step, unit):
    assert _unit_by_step(np.array([0.0, step, np.nan, 2 * step, 2 * step, 3 * step])) == unit


@pytest.mark.parametrize(
    ("first", "has_clock"), [(0.99e8, False), (1.01e8, True), (4.99e9, True), (5.01e9, False)]
)
def test_numbers_of_a_possible_date_count_from_1970(write, first, has_clock):
    rows = "".join(f"{first + i:.0f},{52 + i * 1e-3},1\n" for i in range(12))
    log = read_log(write(f"time (s),lat,lon\n{rows}"))
    assert ("since 1970" in log.guesses["time"]) is has_clock


@pytest.mark.parametrize(
    ("first", "how"), [(10, "s since the start"), (100, "hhmmss as one number")]
)
def test_small_numbers_without_a_unit_are_seconds_and_large_ones_may_be_a_clock(write, first, how):
    rows = "".join(f"{first + i},{52 + i * 1e-3},1\n" for i in range(12))
    assert read_log(write(f"time,lat,lon\n{rows}")).guesses["time"].startswith(how)


def test_a_date_alone_is_no_time(write):
    with pytest.raises(LogError, match="cannot be understood, such as '2026-05-02'"):
        read_logs(write("time,lat,lon\n2026-05-02,52,1\n"))


def test_dates_that_cannot_be_read_leave_times_without_a_calendar(write):
    log = read_log(write("date,time,lat,lon\nsoon,09:14:07,52,1\nsoon,09:14:08,52.1,1\n"))
    assert not log.has_clock
    assert log.guesses["date"].startswith("none can be read")
    assert (
        read_log(write("time,lat,lon\n09:14:07,52,1\n"))
        .guesses["date"]
        .startswith("none in the file")
    )
