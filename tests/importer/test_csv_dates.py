"""Dates in any order, and dates that are late."""

from datetime import date

import numpy as np
import pytest

from lapkit.importer.csv_dates import DateReader, days_late, read_date


def days(*parts):
    return float((date(*parts) - date(1970, 1, 1)).days)


@pytest.mark.parametrize(
    "text",
    ["2026-05-02", "2.5.2026", "02/05/26", "2026/5/2", "2 5 2026", "20260502", "020526", "20526"],
)
def test_usual_forms_of_a_date_are_read(text):
    assert read_date(text, day_first=True) == days(2026, 5, 2)


def test_the_month_comes_first_where_it_is_said_to():
    assert read_date("02/05/2026", day_first=False) == days(2026, 2, 5)
    assert read_date("2026-05-02", day_first=False) == days(2026, 5, 2)


def test_a_year_of_two_digits_is_completed_but_not_one_of_four():
    assert read_date("2.5.94", day_first=True) == days(1994, 5, 2)
    assert read_date("2.5.0094", day_first=True) == days(94, 5, 2)


@pytest.mark.parametrize(
    "text",
    ["", "today", "31.2.2026", "2026-13-01", "12345678", "1.1.20260", "1.1", "٢٠٢٦٠٥٠٢", "1234567"],
)
def test_what_is_no_date_is_nan(text):
    assert np.isnan(read_date(text, day_first=True))


@pytest.mark.parametrize(
    ("sample", "day_first", "guess"),
    [
        (["03/04/2026", "13/04/2026"], True, "day first"),
        (["03/04/2026", "03/13/2026 10:00"], False, "month first"),
        (["03/04/2026"], True, "day first (could be either)"),
        (["3.4.2026"], True, "day first"),
        (["2026-04-03"], True, ""),
        ([], True, ""),
    ],
)
def test_the_order_is_told_by_what_is_above_twelve(sample, day_first, guess):
    reader = DateReader(sample)
    assert (reader.day_first, reader.guess) == (day_first, guess)


def test_a_reader_reads_in_the_order_of_its_file():
    assert DateReader(["03/13/2026"]).day(" 02/05/2026 ") == days(2026, 2, 5)
    assert np.isnan(DateReader(["03/13/2026"]).day("x"))


EVENING, NIGHT = 86_390.0, 10.0


@pytest.mark.parametrize(
    ("day", "second", "late"),
    [
        ([0, 1, 1], [EVENING, NIGHT, NIGHT], [0, 0, 0]),  # at midnight, as it should
        ([0, 0, 1], [EVENING, NIGHT, NIGHT + 1], [0, 1, 0]),  # a row late
        ([0, 0, 0], [EVENING, NIGHT, NIGHT + 1], [0, 1, 1]),  # never
        ([0, 1, 1], [NIGHT, NIGHT + 1, NIGHT + 2], [0, 0, 0]),  # another day's
        ([0, 0, 0, 0, 1], [EVENING, NIGHT, EVENING, NIGHT, NIGHT + 1], [0, 1, 1, 2, 1]),
        ([], [], []),
    ],
)
def test_a_date_is_late_from_midnight_until_it_changes(day, second, late):
    assert days_late(np.array(day, float), np.array(second, float)).tolist() == late
