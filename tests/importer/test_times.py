from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.importer.times import (
    NO_TIME,
    days_from_civil,
    midnights_passed,
    parse_iso,
    to_seconds,
    valid_date,
)

MOMENTS = st.datetimes(datetime(1970, 1, 2), datetime(2199, 12, 31))  # noqa: DTZ001 - zone added


def microseconds(moment: datetime) -> int:
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


@given(st.lists(st.tuples(MOMENTS, st.integers(-14 * 60, 14 * 60)), min_size=1, max_size=30))
def test_times_with_zones_are_exact_to_the_microsecond(moments):
    zoned = [m.replace(tzinfo=timezone(timedelta(minutes=z))) for m, z in moments]
    values, without_zone = parse_iso([m.isoformat() for m in zoned])
    assert values.tolist() == [microseconds(m) for m in zoned]
    assert without_zone == 0


@given(st.lists(MOMENTS, min_size=1, max_size=30))
def test_seconds_are_the_nearest_double(moments):
    zoned = [m.replace(tzinfo=UTC) for m in moments]
    values, _ = parse_iso([m.isoformat().replace("+00:00", "Z") for m in zoned])
    assert to_seconds(values).tolist() == [m.timestamp() for m in zoned]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1970-01-01T00:00:00Z", 0),
        ("1970-01-01 00:00:01Z", 1_000_000),
        ("1970-01-01T00:00:00.1Z", 100_000),
        ("1970-01-01T00:00:00.1234567Z", 123_456),  # cut off, not rounded
        ("1970-01-01T00:00:00.999999999999999Z", 999_999),
        ("1970-01-01T01:00:00+01:00", 0),
        ("1970-01-01T01:00:00+0100", 0),
        ("1970-01-01T01:00:00+01", 0),
        ("1969-12-31T22:30:00-01:30", 0),
        ("1970-1-2T3:4:5Z", ((24 + 3) * 3600 + 4 * 60 + 5) * 1_000_000),
        ("2000-02-29T00:00:00Z", microseconds(datetime(2000, 2, 29, tzinfo=UTC))),
    ],
)
def test_usual_forms_of_iso_8601_are_read(text, expected):
    assert parse_iso([text])[0].tolist() == [expected]
    # The same among others of the same length, which are read together.
    assert parse_iso([text] * 3)[0].tolist() == [expected] * 3


@pytest.mark.parametrize(
    "text",
    [
        "",
        "now",
        "2026-02-30T00:00:00Z",
        "2100-02-29T00:00:00Z",
        "2026-13-01T00:00:00Z",
        "2026-00-01T00:00:00Z",
        "0000-01-01T00:00:00Z",
        "2026-01-01T24:00:00Z",
        "2026-01-01T00:60:00Z",
        "2026-01-01T00:00:60Z",
        "2026-01-01T00:00:00.Z",
        "2026-01-01T00:00:00,5Z",
        "2026-01-01T00:00:0xZ",
        "2026-01-01T00:00:00Zulu",
        "2026/01/01T00:00:00Z",
        "٢٠٢٦-01-01T00:00:00Z",
        "2026-01-01",
    ],
)
def test_what_is_no_time_does_not_spoil_its_neighbours(text):
    good = "2026-01-01T00:00:00Z"
    values, _ = parse_iso([good, text, good])
    assert values[1] == NO_TIME
    assert values[0] == values[2] == microseconds(datetime(2026, 1, 1, tzinfo=UTC))
    assert parse_iso([text])[0].tolist() == [NO_TIME]
    assert np.isnan(to_seconds(parse_iso([text])[0])).all()


def test_times_without_a_zone_are_utc_and_counted():
    values, without_zone = parse_iso(["2026-01-01T00:00:00", "2026-01-01T00:00:00Z"])
    assert values[0] == values[1]
    assert without_zone == 1


def test_mixed_shapes_of_one_length_are_all_read():
    texts = ["2026-01-01T00:00:00+01:00", "2026-01-01 00:00:00+01:00", "2026-01-01T00:00:00-01:00"]
    hour = 3_600_000_000
    first, second, third = parse_iso(texts)[0].tolist()
    assert first == second == third - 2 * hour


def test_no_texts_give_no_times():
    values, without_zone = parse_iso([])
    assert values.shape == (0,)
    assert without_zone == 0


@given(st.dates(date(1, 1, 1), date(9999, 12, 31)))
def test_days_agree_with_the_calendar(day):
    numbers = (np.array([day.year]), np.array([day.month]), np.array([day.day]))
    assert days_from_civil(*numbers)[0] == day.toordinal() - date(1970, 1, 1).toordinal()
    assert valid_date(*numbers)[0]


@pytest.mark.parametrize("year", [1999, 2000, 2024, 2100])
@pytest.mark.parametrize("month", range(1, 13))
def test_the_day_before_the_first_and_after_the_last_of_a_month_are_none(year, month):
    following = date(year + month // 12, month % 12 + 1, 1)
    last = (following - timedelta(days=1)).day
    days = np.array([0, 1, last, last + 1])
    valid = valid_date(np.full(4, year), np.full(4, month), days)
    assert valid.tolist() == [False, True, True, False]


def test_midnights_are_counted_forward_and_back():
    times = np.array([86_390.0, 86_399.0, np.nan, 3.0, 86_398.0, 5.0])
    assert midnights_passed(times).tolist() == [0, 0, 0, 1, 0, 1]
    assert midnights_passed(np.empty(0)).tolist() == []
