"""What an event's folder holds: its ``results.json``, checked cell by cell before it goes into a season."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter
from pathlib import Path
from typing import Any, NamedTuple

from lapkit.errors import SeasonError
from lapkit.season.checks import CORNER_CHECKS, FINDING_CHECKS, SEAM_CHECKS, Checks, moment, text
from lapkit.whole_file import read_whole

_REMEDY = "Add a folder that lapkit event wrote; write it again if it was edited or an older lapkit wrote it."
_MOST_BYTES = 1024**3  # a thousand riders' event
_NO_FAULT = ("well", "fact")

Row = tuple[Any, ...]

_Lap = tuple[str, str, int]
"""Rider, run and number of a lap."""


@dataclass(frozen=True)
class Rows:
    """Rows for one of the season's tables.

    Attributes:
        columns: names of the table's columns; ``event_id`` is the season's own and not among them.
        cells: the rows, each with a cell for every one of these columns.
    """

    columns: tuple[str, ...]
    cells: tuple[Row, ...]

    def of(self, *columns: str) -> list[Row]:
        """Some columns of every row, in the order asked for."""
        places = [self.columns.index(column) for column in columns]
        return [tuple(row[place] for place in places) for row in self.cells]


@dataclass(frozen=True)
class Results:
    """An event as the season keeps it: timed laps only, and of these no corner at which the road was left.

    Attributes:
        title: of the event.
        version: of the program that measured it.
        start_utc: when its first run began, logs of another day left out, ISO 8601; None when no log had a calendar.
        day: the day of it where it was ridden, ISO 8601; None with ``start_utc``.
        course: names and turns of its corners, by which events of the same course are known.
        riding_order: names of its corners, as they are ridden from the start line.
        logs: SHA-256 of the logs it was measured from.
        corners, seams, habits: rows for the season's tables of that name.
        key: hash of all this and of the inputs' hashes.
    """

    title: str
    version: str
    start_utc: str | None
    day: str | None
    course: str
    riding_order: tuple[str, ...]
    logs: tuple[str, ...]
    corners: Rows
    seams: Rows
    habits: Rows
    key: str

    @property
    def timed_laps(self) -> int:
        """How many timed laps there are, of all riders and runs."""
        return len(set(self.corners.of("rider", "session", "lap")))


def read_results(folder: Path) -> Results:
    """Read and check ``results.json`` of an output folder.

    Raises:
        SeasonError: there is none, or it is not what ``lapkit event`` writes.
    """
    path = folder / "results.json"
    data = read_whole(path, "results.json", _MOST_BYTES, SeasonError, if_missing=_REMEDY)
    try:
        return _results(json.loads(data, parse_constant=_no_constant))
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
    tables, inputs = whole["tables"], whole["provenance"].get("inputs", {})
    timed = _timed_laps(tables)
    if not timed:
        raise ValueError("no timed lap")
    counted = _Counted(timed, _off_road(tables))
    corners, seams, habits = _corners(tables, counted), _seams(tables, counted), _habits(tables)
    turns = _turns(tables, timed)
    riding_order = tuple(turns)
    logs = sorted(
        {text(sha256) for sha256 in _columns(tables, "logs", ["sha256"])["sha256"] if sha256}
    )
    hashes = logs, sorted(map(text, inputs.values()))
    measured = (riding_order, corners.cells, seams.cells, habits.cells, *hashes)
    return Results(
        title=text(whole["title"]) or "event without a title",
        version=text(whole["provenance"]["version"]),
        start_utc=moment(whole["start_utc"]),
        day=moment(whole["day"]),
        course=", ".join(f"{corner} {turn}" for corner, turn in sorted(turns.items())),
        riding_order=riding_order,
        logs=tuple(logs),
        corners=corners,
        seams=seams,
        habits=habits,
        key=hashlib.sha256(repr(measured).encode()).hexdigest(),
    )


_Tables = dict[str, dict[str, Any]]
"""``tables`` of ``results.json``: name → ``columns`` and ``rows``, not checked yet."""


def _columns(tables: _Tables, name: str, wanted: Iterable[str]) -> dict[str, list[Any]]:
    """The wanted columns of a table, by name, each a list of its cells."""
    columns, rows = tables[name]["columns"], tables[name]["rows"]
    places = {column: place for place, column in enumerate(columns)}
    missing = [column for column in wanted if column not in places]
    if missing:
        raise ValueError(f"table {name} lacks {', '.join(missing)}")
    for number, row in enumerate(rows):
        if not isinstance(row, list) or len(row) != len(columns):
            raise ValueError(f"row {number} of table {name} is not {len(columns)} cells long")
    return {column: list(map(itemgetter(places[column]), rows)) for column in wanted}


def _checked(tables: _Tables, name: str, checks: Checks) -> dict[str, list[Any]]:
    """The columns of a table that have a check, each cell as its check returns it."""
    columns = _columns(tables, name, checks)
    return {column: list(map(check, columns[column])) for column, check in checks.items()}


def _laps_of(columns: dict[str, list[Any]]) -> Iterator[_Lap]:
    """Which lap each row of a table belongs to."""
    return zip(columns["rider"], columns["session"], columns["lap"], strict=True)


def _timed_laps(tables: _Tables) -> set[_Lap]:
    columns = _columns(tables, "laps", ("rider", "session", "lap", "kind"))
    laps = zip(_laps_of(columns), columns["kind"], strict=True)
    return {lap for lap, kind in laps if kind == "timed"}


def _off_road(tables: _Tables) -> set[tuple[_Lap, str]]:
    """Laps that left the road, with the corner at which they did."""
    columns = _columns(tables, "corners", ("rider", "session", "lap", "corner", "left_road"))
    rows = zip(_laps_of(columns), columns["corner"], columns["left_road"], strict=True)
    return {(lap, corner) for lap, corner, left in rows if left == 1.0}


class _Counted(NamedTuple):
    """Which laps count at which corner: the timed ones, unless they left the road there."""

    timed: set[_Lap]
    off_road: set[tuple[_Lap, str]]

    def rows(self, columns: dict[str, list[Any]], sort_by: Sequence[str]) -> Rows:
        """The rows that count, sorted: SQLite takes them fastest in the order of its table's key."""
        cells = zip(*columns.values(), strict=True)
        rows = zip(_laps_of(columns), columns["corner"], cells, strict=True)
        kept = [
            row
            for lap, corner, row in rows
            if lap in self.timed and (lap, corner) not in self.off_road
        ]
        names = tuple(columns)
        kept.sort(key=itemgetter(*map(names.index, sort_by)))
        return Rows(names, tuple(kept))


def _corners(tables: _Tables, counted: _Counted) -> Rows:
    columns = _checked(tables, "corners", CORNER_CHECKS)
    return counted.rows(columns, ("rider", "corner", "session", "lap"))


def _turns(tables: _Tables, timed: set[_Lap]) -> dict[str, str]:
    """Corner → which way it turns, in riding order: a timed lap has a row for every one, even where it left the road."""
    columns = _columns(tables, "corners", ("rider", "session", "lap", "corner", "turn"))
    rows = zip(_laps_of(columns), columns["corner"], columns["turn"], strict=True)
    return {corner: turn for lap, corner, turn in rows if lap in timed}


def _seams(tables: _Tables, counted: _Counted) -> Rows:
    """Seam rows, each with the place of its seam in its corner: the table names the innermost first."""
    columns = _checked(tables, "seams", SEAM_CHECKS)
    order: dict[str, dict[str, int]] = {}
    places = []
    for corner, seam in zip(columns["corner"], columns["seam"], strict=True):
        of_corner = order.setdefault(corner, {})
        places.append(of_corner.setdefault(seam, len(of_corner)))
    return counted.rows(
        columns | {"seam_order": places}, ("rider", "corner", "seam", "session", "lap")
    )


def _habits(tables: _Tables) -> Rows:
    """What riders have the habit of at each corner, in the order told: 0 leads."""
    columns = _checked(tables, "findings", FINDING_CHECKS)
    told: dict[tuple[str, str], dict[str, tuple[int, int]]] = {}
    for rider, corner, what, kind, habit, seen, counted in zip(*columns.values(), strict=True):
        if habit and corner and what and kind not in _NO_FAULT:
            told.setdefault((rider, corner), {}).setdefault(what, (seen, counted))
    return Rows(
        ("rider", "corner", "story_order", "what", "laps_seen", "laps_counted"),
        tuple(
            (*whose, order, what, *laps)
            for whose, here in sorted(told.items())
            for order, (what, laps) in enumerate(here.items())
        ),
    )
