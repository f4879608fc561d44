"""Dates of a CSV log, written in any order of day, month and year → days since 1970-01-01."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import accumulate

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.importer.times import HALF_DAY_S, day_number, full_year

THREE_NUMBERS = re.compile(r"(\d{1,8})[-/. ](\d{1,8})[-/. ](\d{1,8})")
"""A date as three numbers, in any order."""

_MOST_KEPT = 10_000  # of different dates; a file that invents ever more must not fill memory


class DateReader:
    """Reads the dates of one file, all of which have one order of day and month.

    Attributes:
        day_first: whether dates such as 03/04/2026 begin with the day.
        guess: the order in words, and whether it could be the other; "" where there are no dates, or dates begin
            with the year.
    """

    def __init__(self, sample: Sequence[str]) -> None:
        """Find the order from the first dates of a file; a time may follow each of them."""
        self.day_first = True
        self.guess = ""
        self._days: dict[str, float] = {}
        dates = [match.groups() for text in sample if (match := THREE_NUMBERS.match(text))]
        pairs = [(int(first), int(second)) for first, second, _ in dates if len(first) <= 2]
        if not pairs:
            return
        self.day_first = not any(second > 12 for _, second in pairs)
        # Beyond twelve it is a day; and dates with dots begin with the day wherever they are used.
        is_sure = any(max(pair) > 12 for pair in pairs) or "." in sample[0].split(":")[0]
        order = "day first" if self.day_first else "month first"
        self.guess = order if is_sure else f"{order} (could be either)"

    def day(self, text: str) -> float:
        """Days since 1970-01-01 of a date, NaN when it is none. Each different text is read once."""
        if text not in self._days:
            if len(self._days) > _MOST_KEPT:
                self._days.clear()
            self._days[text] = read_date(text.strip(), day_first=self.day_first)
        return self._days[text]


def read_date(text: str, *, day_first: bool) -> float:
    """Days since 1970-01-01 of ``2026-05-02``, ``2.5.2026``, ``05/02/26``, ``20260502`` or ``020526``; else NaN."""
    parts = _year_month_day(text, day_first=day_first)
    if parts is None or max(map(len, parts)) > 4:
        return float("nan")
    year, month, day = map(int, parts)
    if len(parts[0]) <= 2:
        year = full_year(year)
    number = day_number(year, month, day)
    return float("nan") if number is None else float(number)


def _year_month_day(text: str, *, day_first: bool) -> tuple[str, str, str] | None:
    """The digits of a date, in that order."""
    match = THREE_NUMBERS.fullmatch(text)
    if match:
        first, second, third = match.groups()
        if len(first) == 4:
            return first, second, third
        return (third, second, first) if day_first else (third, first, second)
    if not (text.isdigit() and text.isascii()):
        return None
    if len(text) == 8 and text[:2] in ("19", "20"):
        return text[:4], text[4:6], text[6:]
    if len(text) in (5, 6):  # ddmmyy as a number, which has lost a zero in front
        padded = text.zfill(6)
        return padded[4:], padded[2:4], padded[:2]
    return None


def days_late(day: FloatArray, second_of_day: FloatArray) -> FloatArray:
    """By how many days each date is late, ``(n,)``: some loggers change it some rows after midnight, or never.

    Args:
        day: days since 1970-01-01 of each row, ``(n,)``, NaN where it has none.
        second_of_day: its time of day, ``(n,)``.
    """
    with np.errstate(invalid="ignore"):
        midnight = np.diff(second_of_day) < -HALF_DAY_S
        forgotten = midnight & (np.diff(day) == 0)
        # A date that changes without a midnight was corrected by the logger, or belongs to another day.
        made_up = ~midnight & (np.diff(day) == 1)
    change = forgotten.astype(int) - made_up
    rows = np.flatnonzero(change)
    late = accumulate(change[rows].tolist(), lambda days, by: max(days + by, 0), initial=0)
    # Between two changes the lateness stays: from the first row, and from the row behind each change.
    return np.repeat(np.array(list(late), dtype=float), np.diff([0, *(rows + 1), len(day)]))
