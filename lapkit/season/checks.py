"""What each cell of an event's results must be before a season takes it in.

A season is asked by SQL, where one cell of another type would spoil a median or a sort without a word.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from typing import Any

_CALLS = ("inside", "outside", "unclear")

Checks = dict[str, Callable[[Any], Any]]
"""Column → what each of its cells goes through, which gives it back as the season keeps it."""


def text(cell: Any) -> str:
    """Text that can be written as UTF-8.

    Raises:
        TypeError: it is no text.
        UnicodeEncodeError: it holds half of a character.
    """
    if not isinstance(cell, str):
        raise TypeError(f"{cell!r:.40} stands where text should")
    cell.encode()
    return cell


def moment(cell: Any) -> str | None:
    """A day or a time in ISO 8601; None for an empty text.

    Raises:
        TypeError: it is no text.
        ValueError: it is neither.
    """
    if text(cell):
        datetime.fromisoformat(cell)
    return cell or None


def _count(cell: Any) -> int:
    if type(cell) is not int or not 0 <= cell < 2**31:
        raise TypeError(f"{cell!r:.40} is no whole number from 0")
    return cell


def _call(cell: Any) -> str:
    if text(cell) not in _CALLS:
        raise ValueError(f"{cell!r} is no seam call")
    return str(cell)


def _truth(cell: Any) -> int:
    if type(cell) is not bool:
        raise TypeError(f"{cell!r:.40} stands where true or false should")
    return int(cell)


def _number(cell: Any) -> float | None:
    if cell is None:
        return None
    if type(cell) not in (int, float) or not math.isfinite(cell):
        raise TypeError(f"{cell!r:.40} stands where a number should")
    return float(cell)


CORNER_CHECKS: Checks = {
    "rider": text,
    "corner": text,
    "session": text,
    "lap": _count,
    "turn": text,
    "radius_min_m": _number,
    "radius_min_lo_m": _number,
    "radius_min_hi_m": _number,
    "exit_radius_min_m": _number,
    "exit_radius_ratio": _number,
    "p_tightened": _number,
    "lean_max_deg": _number,
    "lean_max_lo_deg": _number,
    "lean_max_hi_deg": _number,
    "lean_on_line_deg": _number,
    "tightened": _number,
}
"""Columns of the table ``corners`` that the season keeps, under the same names."""

SEAM_CHECKS: Checks = {
    "rider": text,
    "corner": text,
    "seam": text,
    "session": text,
    "lap": _count,
    "inside_share": _number,
    "p_inside": _number,
    "call": _call,
    "counted": _truth,
}
"""The same of the table ``seams``."""

FINDING_CHECKS: Checks = {
    "rider": text,
    "corner": text,
    "in_short": text,
    "kind": text,
    "habit": _truth,
    "laps_seen": _count,
    "laps_counted": _count,
}
"""Columns of the table ``findings`` that habits are taken from."""
