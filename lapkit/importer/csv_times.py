"""The time of a CSV log, in whatever form it was written → seconds.

Forms: dates with times (ISO 8601 or not), time of day with or without a date column, seconds or
fractions of them since 1970 or since the start, and ``hhmmss.s`` as one number.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Literal

import numpy as np

from lapkit.errors import LogError
from lapkit.importer.csv_columns import TIME_UNITS
from lapkit.importer.csv_layout import Layout
from lapkit.importer.source import safe_name
from lapkit.importer.times import (
    HALF_DAY_S,
    day_number,
    full_year,
    is_iso,
    midnights_passed,
    parse_iso,
    to_seconds,
)
from lapkit.units import FloatArray

Form = Literal["number", "clock", "date"]
"""How a time column is written: a bare number, ``hh:mm:ss``, or a date with a time."""

_CLOCK = re.compile(r"(\d{1,2}):(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)\s*(?:([AaPp])\.?[Mm]\.?)?(Z|UTC)?")
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d*)?(?:[eE][+-]?\d+)?")
_SPLIT_DATE = re.compile(r"(\d{1,8})[-/. ](\d{1,8})[-/. ](\d{1,8})")
_DATE_END = re.compile(r"(?<=\d)(?:T|,\s*)(?=\d{1,2}:)")
_DAY_S = 86_400.0
# Bounds on numbers since 1970 in a unit, for dates from 1973 to 2128.
_EPOCH_S = (1e8, 5e9)


@dataclass(eq=False)
class CsvTimes:
    """Collects the time columns chunk by chunk; :meth:`seconds` tells the result.

    Attributes:
        form: how the time column is written.
        day_first: whether dates such as 03/04/2026 begin with the day.
        guesses: what had to be guessed.
    """

    layout: Layout
    name: str
    form: Form = field(init=False)
    day_first: bool = field(init=False, default=True)
    guesses: dict[str, str] = field(init=False, default_factory=dict)
    _times: list[FloatArray] = field(init=False, default_factory=list)
    _days: list[FloatArray] = field(init=False, default_factory=list)
    _dates: dict[str, float] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        values = self.layout.values("time")
        dates = self.layout.values("date") if self.has_date else []
        self.form = _form(values, self.name)
        self._find_order(dates if dates else values)

    @property
    def has_date(self) -> bool:
        """Whether a date column is used."""
        return "date" in self.layout.columns and bool(self.layout.values("date"))

    def add(self, times: FloatArray | Sequence[str], dates: Sequence[str] = ()) -> None:
        """Take the columns of one chunk, ``(n,)``: numbers for the form "number", else texts."""
        self._times.append(self._seconds(times))
        if self.has_date:
            self._days.append(np.array([self._day(text) for text in dates], dtype=np.float64))

    def _seconds(self, times: FloatArray | Sequence[str]) -> FloatArray:
        if self.form == "number" or isinstance(times, np.ndarray):
            return np.asarray(times, dtype=np.float64)
        return self._clock_seconds(times) if self.form == "clock" else self._date_seconds(times)

    def seconds(self) -> tuple[FloatArray, bool]:
        """Seconds of every row, ``(n,)``, NaN where unreadable, handed over once; and whether since 1970."""
        values = np.concatenate(self._times) if self._times else np.empty(0)
        self._times.clear()
        days = np.concatenate(self._days) if self._days else None
        if self.form == "date":
            return values, True
        if self.form == "number":
            values, tied = self._scaled(values, with_date=days is not None)
            if tied != "day":
                return values, tied == "epoch"
        if days is None or not np.isfinite(days).any():
            why = "none in the file" if days is None else "none can be read"
            self.guesses["date"] = f"{why}, so times count from the first fix"
            return values + midnights_passed(values) * _DAY_S, False
        late = _days_late(days, values)
        # Rounded to the microsecond, which a sum of this size does not keep by itself.
        return np.round(((days + late) * _DAY_S + values) * 1e6) / 1e6, True

    def _find_order(self, texts: list[str]) -> None:
        """Day or month first, from what is above twelve; dates with dots begin with the day."""
        parts = [m.groups() for text in texts if (m := _SPLIT_DATE.match(text))]
        slashed = [(int(a), int(b)) for a, b, _ in parts if len(a) <= 2]
        if not slashed:
            return
        if any(b > 12 for _, b in slashed):
            self.day_first = False
        sure = any(a > 12 or b > 12 for a, b in slashed) or "." in texts[0].split(":")[0]
        order = "day first" if self.day_first else "month first"
        self.guesses["date order"] = order if sure else f"{order} (could be either)"

    def _clock_seconds(self, texts: Sequence[str]) -> FloatArray:
        return self._zoned([f"1970-01-01T{_plain_clock(text)}" for text in texts])

    def _date_seconds(self, texts: Sequence[str]) -> FloatArray:
        if is_iso(next((text for text in texts if text), "")):
            return self._zoned([text.strip() for text in texts])
        return self._zoned([self._as_iso(text) for text in texts])

    def _zoned(self, texts: list[str]) -> FloatArray:
        microseconds, naive = parse_iso(texts)
        if naive and "utc" not in self.layout.columns["time"].header.lower():
            self.guesses["time zone"] = "none given, taken as UTC"
        return to_seconds(microseconds)

    def _as_iso(self, text: str) -> str:
        """A date and a time in another form as ISO 8601; unreadable ones come back as they are."""
        date, _, clock = _DATE_END.sub(" ", text.strip(), count=1).partition(" ")
        day = self._day(date)
        if np.isnan(day):
            return text
        return f"{np.datetime64(int(day), 'D')}T{_plain_clock(clock)}"

    def _day(self, text: str) -> float:
        """Days since 1970 of a date, NaN when it is none. Each different text is read once."""
        if text not in self._dates:
            if len(self._dates) > 10_000:
                self._dates.clear()
            self._dates[text] = _read_date(text.strip(), day_first=self.day_first)
        return self._dates[text]

    def _scaled(self, values: FloatArray, *, with_date: bool) -> tuple[FloatArray, str]:
        """Numbers → seconds, and what they count from: "epoch", "day" or "start"."""
        known = np.abs(values[np.isfinite(values)])
        if not len(known):
            return values, "start"
        unit = self.layout.columns["time"].unit
        middle = float(np.median(known))
        for name in (unit,) if unit else ("s", "ms", "µs", "ns"):
            scaled = middle * TIME_UNITS[name]
            if _EPOCH_S[0] <= scaled < _EPOCH_S[1]:
                self._guess_unit(name, unit, "since 1970")
                return values * TIME_UNITS[name], "epoch"
        if not unit and _is_hhmmss(known) and (with_date or known.max() >= 100):
            self.guesses["time"] = "hhmmss as one number"
            return _from_hhmmss(values), "day"
        self.guesses["clock"] = "none: times count from the start"
        name = unit or _unit_by_step(values)
        self._guess_unit(name, unit, "since the start")
        return values * TIME_UNITS[name], "start"

    def _guess_unit(self, name: str, given: str, since: str) -> None:
        self.guesses["time"] = f"{name} {since}" + ("" if given else ", judging by their size")


def _form(values: list[str], name: str) -> Form:
    """How most of the sample's times are written.

    Raises:
        LogError: in no way that lapkit knows.
    """
    if not values:
        raise LogError(
            "its time column is empty",
            where=name,
            remedy="Export the time too, or say which column it is with --columns time=HEADER",
        )
    forms = Counter(form for text in values if (form := _form_of(text)))
    if not forms:
        raise LogError(
            f"its times cannot be understood, such as {safe_name(values[0][:60])!r}",
            where=name,
            remedy="Export the time as ISO 8601, as hh:mm:ss, or in seconds",
        )
    return forms.most_common(1)[0][0]


def _form_of(text: str) -> Form | None:
    if _CLOCK.fullmatch(text):
        return "clock"
    if _SPLIT_DATE.match(text) and ":" in text:
        return "date"
    return "number" if _NUMBER.fullmatch(text) else None


def _plain_clock(text: str) -> str:
    """``9:14:07,2 PM`` → ``21:14:07.2``; other texts come back as they are."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return text.strip()
    hour, minute, second, half, zone = match.groups()
    if half:
        hour = int(hour) % 12 + (12 if half in "Pp" else 0)
    second = second.replace(",", ".")
    return f"{int(hour):02}:{int(minute):02}:{second}{'Z' if zone else ''}"


def _read_date(text: str, *, day_first: bool) -> float:
    """Days since 1970 of ``2026-05-02``, ``2.5.2026``, ``05/02/26``, ``20260502`` or ``020526``."""
    match = _SPLIT_DATE.fullmatch(text)
    if match:
        first, second, third = match.groups()
        if len(first) == 4:
            year, month, day = first, second, third
        else:
            day, month = (first, second) if day_first else (second, first)
            year = third
    elif text.isdigit() and text.isascii() and len(text) == 8 and text[:2] in ("19", "20"):
        year, month, day = text[:4], text[4:6], text[6:]
    elif text.isdigit() and text.isascii() and len(text) in (5, 6):
        padded = text.zfill(6)
        day, month, year = padded[:2], padded[2:4], padded[4:]
    else:
        return float("nan")
    if max(len(year), len(month), len(day)) > 4:
        return float("nan")
    whole_year = full_year(int(year)) if len(year) <= 2 else int(year)
    number = day_number(whole_year, int(month), int(day))
    return float("nan") if number is None else float(number)


def _days_late(day: FloatArray, second_of_day: FloatArray) -> FloatArray:
    """By how many days each date is late, ``(n,)``: some loggers change it some rows after midnight, or never."""
    with np.errstate(invalid="ignore"):
        midnight = np.diff(second_of_day) < -HALF_DAY_S
        step = (midnight & (np.diff(day) == 0)).astype(int) - (~midnight & (np.diff(day) == 1))
    rows = np.flatnonzero(step)
    # A date that goes on by itself is that of another day, unless it has something to make up for.
    behind = accumulate(step[rows].tolist(), lambda late, by: max(late + by, 0), initial=0)
    return np.repeat(np.array(list(behind), dtype=float), np.diff([0, *(rows + 1), len(day)]))


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
