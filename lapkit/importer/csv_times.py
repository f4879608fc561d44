"""The time of a CSV log, in whatever form it was written → seconds.

Forms: dates with times (ISO 8601 or not), time of day with or without a date column, seconds or
fractions of them since 1970 or since the start, and ``hhmmss.s`` as one number.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Literal

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.errors import LogError
from lapkit.importer.csv_columns import TIME_UNITS
from lapkit.importer.csv_dates import THREE_NUMBERS, DateReader, days_late
from lapkit.importer.csv_layout import Layout
from lapkit.importer.source import safe_name
from lapkit.importer.times import is_iso, midnights_passed, parse_iso, to_seconds

Form = Literal["number", "clock", "date"]
"""How a time column is written: a bare number, ``hh:mm:ss``, or a date with a time."""

Since = Literal["1970", "midnight", "start"]
"""What times count from: 1970-01-01T00:00:00Z, the midnight before, or some start of the logger's own."""

_CLOCK = re.compile(
    r"(\d{1,2}):(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)\s*(?:([AaPp])\.?[Mm]\.?\s*)?"
    r"(Z|UTC|GMT|[+\-−]\d{2}:?(?:\d{2})?)?"
)
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d*)?(?:[eE][+-]?\d+)?")
_DATE_END = re.compile(r"(?<=\d)(?:T|,\s*)(?=\d{1,2}:)")
_DAY_S = 86_400.0
# A number between these is seconds since 1970, of a date from 1973 to 2128.
_FIRST_EPOCH_S, _LAST_EPOCH_S = 1e8, 5e9


class CsvTimes:
    """The time and date columns of a file, taken chunk by chunk; :meth:`seconds` gives the result.

    Attributes:
        form: how the time column is written.
        has_date: whether there is a date column that is not empty.
        guesses: what had to be guessed → the choice.
    """

    def __init__(self, layout: Layout, log_name: str) -> None:
        """Find the form from the first rows of a file.

        Raises:
            LogError: the times are in no form that lapkit knows.
        """
        times = layout.values("time")
        dates = layout.values("date") if "date" in layout.columns else []
        self.form: Form = _form(times, log_name)
        self.has_date = bool(dates)
        self.guesses: dict[str, str] = {}
        self._column = layout.columns["time"]
        self._dates = DateReader(dates or times)
        if self._dates.guess:
            self.guesses["date order"] = self._dates.guess
        self._time_parts: list[FloatArray] = []
        self._day_parts: list[FloatArray] = []

    def add(self, times: FloatArray | Sequence[str], dates: Sequence[str] = ()) -> None:
        """Take the rows of one chunk.

        Args:
            times: numbers, ``(n,)``, where :attr:`form` is "number"; else texts.
            dates: texts of the date column, where :attr:`has_date`.
        """
        part = times if isinstance(times, np.ndarray) else self._text_seconds(times)
        if self.has_date:
            days = [self._dates.day(text) for text in dates]
            self._day_parts.append(np.array(days, dtype=np.float64))
        self._time_parts.append(part)

    def seconds(self) -> tuple[FloatArray, bool]:
        """Seconds of every row, ``(n,)``, NaN where unreadable, and whether they count from 1970.

        The rows are handed over once and then let go.
        """
        values = np.concatenate(self._time_parts) if self._time_parts else np.empty(0)
        self._time_parts.clear()
        days = np.concatenate(self._day_parts) if self._day_parts else None
        since: Since = "1970" if self.form == "date" else "midnight"
        if self.form == "number":
            values, since = self._scaled(values)
        if since != "midnight":
            return values, since == "1970"
        if days is None or not np.isfinite(days).any():
            why = "none in the file" if days is None else "none can be read"
            self.guesses["date"] = f"{why}, so times count from the first fix"
            return values + midnights_passed(values) * _DAY_S, False
        days = days + days_late(days, values)
        # Rounded to the microsecond, which a sum of this size does not keep by itself.
        return np.round((days * _DAY_S + values) * 1e6) / 1e6, True

    def _text_seconds(self, texts: Sequence[str]) -> FloatArray:
        """Texts as seconds: of the day for the form "clock", since 1970 for "date"."""
        if self.form == "clock":
            as_iso = [f"1970-01-01T{plain_clock(text)}" for text in texts]
        elif is_iso(next((text for text in texts if text), "")):
            as_iso = [text.strip() for text in texts]
        else:
            as_iso = [self._as_iso(text) for text in texts]
        microseconds, without_zone = parse_iso(as_iso)
        if without_zone and "utc" not in self._column.header.lower():
            self.guesses["time zone"] = "none given, taken as UTC"
        return to_seconds(microseconds)

    def _as_iso(self, text: str) -> str:
        """A date and a time in another form as ISO 8601; unreadable ones come back as they are."""
        date, _, clock = _DATE_END.sub(" ", text.strip(), count=1).partition(" ")
        day = self._dates.day(date)
        if np.isnan(day):
            return text
        return f"{np.datetime64(int(day), 'D')}T{plain_clock(clock)}"

    def _scaled(self, values: FloatArray) -> tuple[FloatArray, Since]:
        """A column of numbers as seconds, and what they count from."""
        known = np.abs(values[np.isfinite(values)])
        if not len(known):
            return values, "start"
        given = self._column.unit
        middle = float(np.median(known))
        for unit in (given,) if given else ("s", "ms", "µs", "ns"):
            if _FIRST_EPOCH_S <= middle * TIME_UNITS[unit] < _LAST_EPOCH_S:
                self._say_unit(unit, "since 1970")
                return values * TIME_UNITS[unit], "1970"
        if not given and _is_hhmmss(known) and (self.has_date or known.max() >= 100):
            self.guesses["time"] = "hhmmss as one number"
            return _from_hhmmss(values), "midnight"
        self.guesses["clock"] = "none: times count from the start"
        unit = given or _unit_by_step(values)
        self._say_unit(unit, "since the start")
        return values * TIME_UNITS[unit], "start"

    def _say_unit(self, unit: str, since: str) -> None:
        guessed = "" if self._column.unit else ", judging by their size"
        self.guesses["time"] = f"{unit} {since}{guessed}"


def plain_clock(text: str) -> str:
    """A time of day as ISO 8601 has it: ``9:14:07,2 PM`` → ``21:14:07.2``; other texts come back as they are."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return text.strip()
    hours, minute, second, half, zone = match.groups()
    hour = int(hours)
    if half:
        hour = hour % 12 + (12 if half in "Pp" else 0)
    second = second.replace(",", ".")
    zone = "Z" if zone in ("UTC", "GMT") else zone or ""
    return f"{hour:02}:{minute:02}:{second}{zone}"


def _form(values: list[str], log_name: str) -> Form:
    """How most of the sample's times are written.

    Raises:
        LogError: in no way that lapkit knows.
    """
    if not values:
        raise LogError(
            "its time column is empty",
            where=log_name,
            remedy="Export the time too, or say which column it is with --columns time=HEADER",
        )
    forms = Counter(form for text in values if (form := _form_of(text)))
    if not forms:
        raise LogError(
            f"its times cannot be understood, such as {safe_name(values[0][:60])!r}",
            where=log_name,
            remedy="Export the time as ISO 8601, as hh:mm:ss, or in seconds; if a spreadsheet has saved the file "
            "since, take it from the logger again",
        )
    return forms.most_common(1)[0][0]


def _form_of(text: str) -> Form | None:
    if _CLOCK.fullmatch(text):
        return "clock"
    if THREE_NUMBERS.match(text) and ":" in text:
        return "date"
    return "number" if _NUMBER.fullmatch(text) else None


def _is_hhmmss(values: FloatArray) -> bool:
    """Whether every number is a time of day written as one, such as 91407.2."""
    return bool(np.all((values < 240_000) & (values % 100 < 60) & (values // 100 % 100 < 60)))


def _from_hhmmss(values: FloatArray) -> FloatArray:
    return values // 10_000 * 3600 + values // 100 % 100 * 60 + values % 100


def _unit_by_step(values: FloatArray) -> str:
    """Seconds, or milli- or microseconds when most steps would be 10 s or more."""
    steps = np.diff(values[np.isfinite(values)])
    steps = steps[steps > 0]
    middle = float(np.median(steps)) if len(steps) else 1.0
    return "s" if middle < 10 else "ms" if middle < 10_000 else "µs"
