"""Events put into a season: an event again in its own place, and what it is asked for summed up at once."""

from __future__ import annotations

import sqlite3
import statistics
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import NamedTuple

from lapkit.errors import SeasonError
from lapkit.importer.rider_names import perhaps_one_rider, spelt_almost_alike
from lapkit.season.file import newer_moved_aside, transaction
from lapkit.season.results import Results, Rows
from lapkit.season.schema import SUMMARIES

_OF_AN_EVENT = (
    "logs",
    "event_corners",
    "corners",
    "seams",
    "habits",
    "corner_summary",
    "seam_summary",
)


class Added(NamedTuple):
    """What happened when an event was added.

    Attributes:
        replaced: whether it took the place of an event that was already there.
        moved_to: where the season file of a newer lapkit is now, which was in the way; None where none was.
        remarks: sentences about riders of this event who may be riders of other events, spelt in another way.
    """

    replaced: bool
    moved_to: Path | None
    remarks: tuple[str, ...]


def add_event(season: Path, results: Results, *, replace: bool = False) -> Added:
    """Put an event into the season file, which is made when there is none.

    The same event again, or the same day measured again (from all the logs of before, or more), takes its own place.
    A season file of a newer lapkit is moved aside, unchanged, and a new one begun; if that fails, it is moved back.

    Args:
        season: the file.
        results: the event.
        replace: whether it takes the place of events that have only some of their logs in common with it, too: a log
            was exchanged or left out.

    Raises:
        SeasonError: the file is damaged, not a season, of an older schema or cannot be written; or only some logs of
            an event in it are among these, so that laps would count twice, and it is not to be replaced. Then no file
            is left where there was none.
    """
    with newer_moved_aside(season) as moved_to, transaction(season) as file:
        old = _same_event(file, season, results, replace)
        for event in old:
            _remove(file, event)
        _insert(file, results)
        remarks = tuple(_look_alike_riders(file, results.key))
    return Added(bool(old), moved_to, remarks)


def _look_alike_riders(file: sqlite3.Connection, key: str) -> Iterator[str]:
    """A sentence about each rider of the event with this key who may be a rider of other events, spelt in another way."""
    events_of: dict[str, set[str]] = {}
    there = "SELECT DISTINCT rider, events.key FROM corners JOIN events USING (event_id)"
    for rider, event in file.execute(there):
        events_of.setdefault(rider, set()).add(event)
    here = [rider for rider, events in events_of.items() if key in events]
    for rider, other in perhaps_one_rider(product(here, events_of), events_of):
        yield f"{spelt_almost_alike(rider, other, 'event')}, then write and add that event again."


def _same_event(
    file: sqlite3.Connection, season: Path, results: Results, replace: bool
) -> list[int]:
    """Events that this one replaces: those with the same results, or whose logs all are among these results' logs.

    If they are to be replaced, those with any of these logs, too.

    Raises:
        SeasonError: an event shares only some of its logs with these results and is not to be replaced.
    """
    same = {
        row[0] for row in file.execute("SELECT event_id FROM events WHERE key = ?", [results.key])
    }
    shared: dict[int, int] = {}
    for sha256 in results.logs:
        for (event,) in file.execute("SELECT event_id FROM logs WHERE sha256 = ?", [sha256]):
            shared[event] = shared.get(event, 0) + 1
    for event, count in shared.items():
        question = (
            "SELECT title, COUNT(*) FROM events JOIN logs USING (event_id) WHERE event_id = ?"
        )
        title, whole = file.execute(question, [event]).fetchone()
        if count < whole and not replace:
            raise SeasonError(
                f"{count} of the {whole} logs of {title!r} are in these results too, so laps would "
                "count twice; nothing was added",
                where=str(season),
                remedy="Add the results of the whole event. If they are, and a log was exchanged or left out, add them "
                "with --replace.",
            )
    return sorted(same | set(shared))


def _remove(file: sqlite3.Connection, event: int) -> None:
    for table in (*_OF_AN_EVENT, "events"):
        file.execute(f"DELETE FROM {table} WHERE event_id = ?", [event])


def _insert(file: sqlite3.Connection, results: Results) -> None:
    when = results.start_utc, results.day
    head = (results.key, results.title, *when, results.course, results.version)
    event = file.execute(
        "INSERT INTO events (key, title, start_utc, day, course, version) VALUES (?, ?, ?, ?, ?, ?)",
        head,
    ).lastrowid
    riding_order = tuple((corner, order) for order, corner in enumerate(results.riding_order))
    filled = {
        "logs": Rows(("sha256",), tuple((sha256,) for sha256 in results.logs)),
        "event_corners": Rows(("corner", "corner_order"), riding_order),
        "corners": results.corners,
        "seams": results.seams,
        "habits": results.habits,
    }
    for table, rows in filled.items():
        names = ", ".join(("event_id", *rows.columns))
        # The event's number stands in the statement, so that rows need not be copied to hold it.
        values = ", ".join((str(event), *["?"] * len(rows.columns)))
        file.executemany(f"INSERT INTO {table} ({names}) VALUES ({values})", rows.cells)
    # Typeshed knows aggregates of whole numbers only.
    file.create_aggregate("median", 1, _Median)  # type: ignore[arg-type]
    file.create_aggregate("spread", 1, _Spread)  # type: ignore[arg-type]
    for statement in filter(str.strip, SUMMARIES.split(";\n")):
        file.execute(statement, {"event": event})


class _Median:
    """SQL aggregate: the median of what is not NULL."""

    def __init__(self) -> None:
        self.values: list[float] = []

    def step(self, value: float | None) -> None:
        if value is not None:
            self.values.append(value)

    def finalize(self) -> float | None:
        return statistics.median(self.values) if self.values else None


class _Spread(_Median):
    """SQL aggregate: the sample standard deviation of what is not NULL."""

    def finalize(self) -> float | None:
        if len(self.values) < 2:
            return None
        mean = sum(self.values) / len(self.values)
        squares = sum((value - mean) ** 2 for value in self.values)
        return (squares / (len(self.values) - 1)) ** 0.5
