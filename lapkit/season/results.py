"""What an event's folder holds: its ``results.json``, checked cell by cell before it goes into a season."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from operator import itemgetter
from pathlib import Path
from typing import Any

from lapkit.errors import SeasonError

_REMEDY = "Add a folder that lapkit event wrote; write it again if it was edited."
_CORNER_NUMBERS = (
    "radius_min_m", "radius_min_lo_m", "radius_min_hi_m", "exit_radius_min_m", "exit_radius_ratio",
    "p_tightened", "lean_max_deg", "lean_max_lo_deg", "lean_max_hi_deg", "lean_on_line_deg",
    "tightened",
)  # fmt: skip
_NO_FAULT = ("well", "fact")
_CALLS = ("inside", "outside", "unclear")

Row = tuple[Any, ...]


@dataclass(frozen=True)
class Results:
    """An event as the season keeps it: timed laps only.

    Attributes:
        title, version: of the event, of the program that measured it.
        start_utc: the earliest lap's start, ISO 8601; None when no log had a calendar.
        course: names and turns of its corners, by which events of the same course are known.
        riding_order: names of its corners, as they are ridden from the start line.
        logs: SHA-256 of the logs it was measured from.
        corners, seams, habits: rows in the column order of the season's tables, after ``event_id``.
        key: hash of all this and of the inputs' hashes.
    """

    title: str
    version: str
    start_utc: str | None
    course: str
    riding_order: tuple[str, ...]
    logs: tuple[str, ...]
    corners: tuple[Row, ...]
    seams: tuple[Row, ...]
    habits: tuple[Row, ...]
    key: str


def read_results(folder: Path) -> Results:
    """Read and check ``results.json`` of an output folder.

    Raises:
        SeasonError: there is none, or it is not what ``lapkit event`` writes.
    """
    path = folder / "results.json"
    try:
        whole = json.loads(path.read_bytes(), parse_constant=_no_constant)
        return _results(whole)
    except OSError as error:
        raise SeasonError(
            f"it cannot be read ({error.strerror or error})", where=str(path), remedy=_REMEDY
        ) from None
    except (
        ValueError,
        TypeError,
        KeyError,
        OverflowError,
        RecursionError,
        AttributeError,
    ) as error:
        raise SeasonError(
            f"it does not hold an event's results ({_words(error)})",
            where=str(path),
            remedy=_REMEDY,
        ) from None


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _words(error: Exception) -> str:
    if isinstance(error, KeyError):
        return f"{error.args[0]} is missing"
    if isinstance(error, RecursionError):
        return "it is nested too deeply"
    return str(error)


def _results(whole: dict[str, Any]) -> Results:
    tables, provenance = whole["tables"], whole["provenance"]
    laps = _columns(tables["laps"], "laps", ("rider", "session", "lap", "kind", "start_utc"))
    timed = {lap[:3] for lap in zip(*laps, strict=True) if lap[3] == "timed"}
    if not timed:
        raise ValueError("no timed lap")
    starts = [_text(start) for start in laps[4] if start]
    corners = _corners(tables["corners"], timed)
    order = _riding_order(tables["corners"], timed)
    seams = _seams(tables["seams"], timed)
    habits = _habits(tables["findings"])
    logs = {_text(h) for h in _columns(tables["logs"], "logs", ("sha256",))[0] if h}
    inputs = sorted(_text(h) for h in provenance.get("inputs", {}).values())
    title = _text(whole["title"])
    turns = sorted({(row[1], row[4]) for row in corners})
    digest = hashlib.sha256(repr((order, corners, seams, habits, sorted(logs), inputs)).encode())
    return Results(
        title=title or "event without a title",
        version=_text(provenance["version"]),
        start_utc=min(starts, default=None),
        course=", ".join(f"{corner} {turn}" for corner, turn in turns),
        riding_order=order,
        logs=tuple(sorted(logs)),
        corners=corners,
        seams=seams,
        habits=habits,
        key=digest.hexdigest(),
    )


def _columns(table: dict[str, Any], name: str, wanted: Iterable[str]) -> list[list[Any]]:
    """The wanted columns of a table, each a list of its cells."""
    places = {column: place for place, column in enumerate(table["columns"])}
    missing = [column for column in wanted if column not in places]
    if missing:
        raise ValueError(f"table {name} lacks {', '.join(missing)}")
    width = len(table["columns"])
    for number, row in enumerate(table["rows"]):
        if not isinstance(row, list) or len(row) != width:
            raise ValueError(f"row {number} of table {name} is not {width} cells long")
    return [list(map(itemgetter(places[column]), table["rows"])) for column in wanted]


_Checks = dict[str, Callable[[Any], Any]]
"""Column → what each of its cells goes through."""


def _checked(table: dict[str, Any], name: str, checks: _Checks) -> dict[str, list[Any]]:
    """The columns of a table that are checked, in that order."""
    cells = _columns(table, name, checks)
    checked = (list(map(check, own)) for check, own in zip(checks.values(), cells, strict=True))
    return dict(zip(checks, checked, strict=True))


def _timed_rows(columns: dict[str, list[Any]], timed: set[Row]) -> tuple[Row, ...]:
    """The rows of timed laps, by their first four cells: the season's tables are kept in that order."""
    laps = zip(columns["rider"], columns["session"], columns["lap"], strict=True)
    rows = zip(*columns.values(), strict=True)
    kept = (row for lap, row in zip(laps, rows, strict=True) if lap in timed)
    return tuple(sorted(kept, key=itemgetter(0, 1, 2, 3)))


def _corners(table: dict[str, Any], timed: set[Row]) -> tuple[Row, ...]:
    checks: _Checks = {
        "rider": _text,
        "corner": _text,
        "session": _text,
        "lap": _lap,
        "turn": _text,
    }
    numbers = dict.fromkeys(_CORNER_NUMBERS, _number)
    return _timed_rows(_checked(table, "corners", {**checks, **numbers}), timed)


def _riding_order(table: dict[str, Any], timed: set[Row]) -> tuple[str, ...]:
    """Names of the corners in the order in which the table has them: a timed lap has a row for every one."""
    rows = zip(*_columns(table, "corners", ("rider", "session", "lap", "corner")), strict=True)
    return tuple(dict.fromkeys(row[3] for row in rows if row[:3] in timed))


def _seams(table: dict[str, Any], timed: set[Row]) -> tuple[Row, ...]:
    """Seam rows, each with the place of its seam in its corner: the table names the innermost first."""
    keys: _Checks = {"rider": _text, "corner": _text, "seam": _text, "session": _text, "lap": _lap}
    measures: _Checks = {
        "inside_share": _number,
        "p_inside": _number,
        "call": _call,
        "counted": _truth,
    }
    columns = _checked(table, "seams", {**keys, **measures})
    order: dict[str, dict[str, int]] = {}
    places = []
    for corner, seam in zip(columns["corner"], columns["seam"], strict=True):
        of_corner = order.setdefault(corner, {})
        places.append(of_corner.setdefault(seam, len(of_corner)))
    in_order = {name: columns[name] for name in keys} | {"seam_order": places}
    return _timed_rows(in_order | {name: columns[name] for name in measures}, timed)


def _habits(table: dict[str, Any]) -> tuple[Row, ...]:
    """What riders have the habit of at each corner, in the order told: 0 leads."""
    texts: _Checks = dict.fromkeys(("rider", "corner", "in_short", "kind"), _text)
    checks = texts | {"habit": _truth, "laps_seen": _lap, "laps_counted": _lap}
    columns = _checked(table, "findings", checks)
    told: dict[tuple[str, str], dict[str, tuple[int, int]]] = {}
    for rider, corner, what, kind, habit, seen, counted in zip(*columns.values(), strict=True):
        if habit and corner and what and kind not in _NO_FAULT:
            told.setdefault((rider, corner), {}).setdefault(what, (seen, counted))
    return tuple(
        (*whose, number, what, *laps)
        for whose, here in sorted(told.items())
        for number, (what, laps) in enumerate(here.items())
    )


def _text(cell: Any) -> str:
    if not isinstance(cell, str):
        raise TypeError(f"{cell!r:.40} stands where text should")
    cell.encode()
    return cell


def _lap(cell: Any) -> int:
    if type(cell) is not int or not 0 <= cell < 2**31:
        raise TypeError(f"{cell!r:.40} is no lap number")
    return cell


def _call(cell: Any) -> str:
    if _text(cell) not in _CALLS:
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
