"""Dates and times of day as text → seconds, thousands at a time and exact to the microsecond."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

import numpy as np
import numpy.typing as npt

from lapkit.arrays import BoolArray, FloatArray, IntArray

NO_TIME = np.iinfo(np.int64).min
"""Stands for a text that is not a time, in arrays of whole microseconds."""

DAY_US = 86_400_000_000
"""Microseconds in a day."""

HALF_DAY_S = 43_200.0
"""Seconds in half a day: where a time of day goes back by more, midnight has passed."""

_EPOCH_DAY = date(1970, 1, 1).toordinal()

_ISO = re.compile(
    r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})[T ]([0-9]{1,2}):([0-9]{1,2}):(?P<second>[0-9]{1,2})"
    r"(?:\.(?P<fraction>[0-9]{1,15}))?(?P<zone>Z|[+\-−][0-9]{2}:?(?:[0-9]{2})?)?",
)
# Places of characters in YYYY-MM-DDTHH:MM:SS.ffffff with two digits everywhere.
_SEPARATORS = {4: "-", 7: "-", 13: ":", 16: ":"}
_T_AT, _POINT_AT = 10, 19
_WHOLE_LENGTH = 19  # without fractions


def parse_iso(texts: Sequence[str]) -> tuple[IntArray, int]:
    """ISO 8601 dates with times → whole microseconds since 1970-01-01T00:00:00Z.

    Digits beyond the microsecond are cut off, not rounded. A time without a zone is taken as UTC.

    Args:
        texts: one text per fix, ``2026-05-02T09:14:07.2Z`` or ``2026-05-02 09:14:07+02:00``.

    Returns:
        Array of shape ``(n,)``, :data:`NO_TIME` where a text is no time; and how many had no zone.
    """
    result = np.full(len(texts), NO_TIME, dtype=np.int64)
    lengths = np.fromiter(map(len, texts), dtype=np.int64, count=len(texts))
    without_zone = 0
    for length in np.unique(lengths).tolist():
        rows = np.flatnonzero(lengths == length)
        chosen = texts if len(rows) == len(texts) else [texts[i] for i in rows.tolist()]
        result[rows], naive = _parse_one_length(chosen, length)
        without_zone += naive
    return result, without_zone


def is_iso(text: str) -> bool:
    """Whether :func:`parse_iso` takes a text for a date with a time."""
    return _ISO.fullmatch(text.strip()) is not None


def to_seconds(microseconds: IntArray) -> FloatArray:
    """Whole microseconds → seconds, any shape; NaN for :data:`NO_TIME`."""
    return np.where(microseconds == NO_TIME, np.nan, microseconds / 1e6)


def midnights_passed(second_of_day: FloatArray) -> FloatArray:
    """How many midnights lie between the first time of day and each; shape ``(n,)``, NaN ignored."""
    known = np.isfinite(second_of_day)
    passed = np.zeros(len(second_of_day))
    steps = np.diff(second_of_day[known], prepend=second_of_day[known][:1])
    # Back by more than half a day is a midnight; ahead by as much is a late line from before one.
    passed[known] = np.cumsum((steps < -HALF_DAY_S).astype(float) - (steps > HALF_DAY_S))
    return passed


def days_from_civil(year: IntArray, month: IntArray, day: IntArray) -> IntArray:
    """Days since 1970-01-01 in the proleptic Gregorian calendar; arrays of any one shape.

    Source: derived; the year is taken to begin in March, so that the leap day comes last.
    """
    shifted = year - (month <= 2)
    era_days = 365 * shifted + shifted // 4 - shifted // 100 + shifted // 400
    return era_days + (153 * ((month + 9) % 12) + 2) // 5 + day - 719_469


def valid_date(year: IntArray, month: IntArray, day: IntArray) -> BoolArray:
    """Which dates exist in the calendar, years 1 to 9999; arrays of any one shape."""
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    lengths = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    known_month = (month >= 1) & (month <= 12)
    last = lengths[np.where(known_month, month, 0)] + (leap & (month == 2))
    return known_month & (day >= 1) & (day <= last) & (year >= 1) & (year <= 9999)


def day_number(year: int, month: int, day: int) -> int | None:
    """Days since 1970-01-01 of one date, as :func:`days_from_civil`; None where the calendar has no such date."""
    try:
        return date(year, month, day).toordinal() - _EPOCH_DAY
    except ValueError:
        return None


def full_year(two_digits: int) -> int:
    """The year that two digits stand for: from 80 on one of 19xx, since GPS time begins in 1980."""
    return two_digits + (1900 if two_digits >= 80 else 2000)


def _parse_one_length(texts: Sequence[str], length: int) -> tuple[IntArray, int]:
    """Times of texts of equal length, microseconds, ``(n,)``, and how many had no zone.

    Those built like the first are read together, as a table of characters; the rest one by one.
    """
    first = _ISO.fullmatch(texts[0])
    joined = "".join(texts)
    if first is None or first.end("second") != _WHOLE_LENGTH or not joined.isascii():
        return _parse_singly(texts)
    codes = np.frombuffer(joined.encode("ascii"), dtype=np.uint8).reshape(len(texts), length)
    zone = first["zone"]
    zone_at = first.start("zone") if zone else length
    alike = (codes[:, zone_at:] == codes[0, zone_at:]).all(axis=1)
    alike &= codes[:, _T_AT] == codes[0, _T_AT]
    for at, separator in _SEPARATORS.items():
        alike &= codes[:, at] == ord(separator)
    if first["fraction"]:
        alike &= codes[:, _POINT_AT] == ord(".")
    values, valid = _from_digits(codes[:, :zone_at])
    values -= _zone_us(zone)
    others = np.flatnonzero(~(alike & valid))
    without_zone = 0 if zone else len(texts) - len(others)
    if len(others):
        values[others], more = _parse_singly([texts[i] for i in others.tolist()])
        without_zone += more
    return values, without_zone


def _from_digits(codes: npt.NDArray[np.uint8]) -> tuple[IntArray, BoolArray]:
    """Rows of ``YYYY-MM-DDTHH:MM:SS[.f…]`` as character codes → microseconds; which are valid."""
    # One contiguous row per place; whatever is no digit wraps round to more than 9.
    digits = np.ascontiguousarray(codes.T) - np.uint8(ord("0"))
    valid = np.ones(codes.shape[0], dtype=bool)
    for place in range(len(digits)):
        if place not in (*_SEPARATORS, _T_AT, _POINT_AT):
            valid &= digits[place] <= 9

    def number(start: int, stop: int) -> IntArray:
        value = digits[start].astype(np.int64)
        for place in range(start + 1, stop):
            value = value * 10 + digits[place]
        return value

    year, month, day = number(0, 4), number(5, 7), number(8, 10)
    hour, minute, second = number(11, 13), number(14, 16), number(17, 19)
    microsecond = second * 1_000_000
    if len(digits) > _POINT_AT + 1:
        stop = min(len(digits), _POINT_AT + 7)
        microsecond += number(_POINT_AT + 1, stop) * 10 ** (_POINT_AT + 7 - stop)
    valid &= valid_date(year, month, day) & (hour < 24) & (minute < 60) & (second < 60)
    days = days_from_civil(year, month, day)
    return ((days * 24 + hour) * 60 + minute) * 60_000_000 + microsecond, valid


def _parse_singly(texts: Sequence[str]) -> tuple[IntArray, int]:
    values = np.full(len(texts), NO_TIME, dtype=np.int64)
    without_zone = 0
    for i, text in enumerate(texts):
        match = _ISO.fullmatch(text)
        if match is None:
            continue
        year, month, day, hour, minute, second = map(int, match.groups()[:6])
        days = day_number(year, month, day)
        if days is None or hour > 23 or minute > 59 or second > 59:
            continue
        microsecond = int(((match["fraction"] or "") + "000000")[:6])
        whole_s = (days * 24 + hour) * 3600 + minute * 60 + second
        values[i] = whole_s * 1_000_000 + microsecond - _zone_us(match["zone"])
        without_zone += match["zone"] is None
    return values, without_zone


def _zone_us(zone: str | None) -> int:
    """Offset from UTC in microseconds of ``Z``, ``+01:00``, ``+0100``, ``+01`` or nothing."""
    if zone is None or zone == "Z":
        return 0
    minutes = int(zone[1:3]) * 60 + int(zone[-2:] if len(zone) > 4 else 0)
    return (minutes if zone[0] == "+" else -minutes) * 60_000_000
