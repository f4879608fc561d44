"""The season file: opened, made and kept whole, and events put into it.

Everything that an event changes happens in one transaction, so that a run that is stopped leaves the
season as it was.
"""

from __future__ import annotations

import sqlite3
import statistics
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from lapkit.errors import SeasonError
from lapkit.season.results import Results, Rows
from lapkit.season.schema import APPLICATION_ID, SCHEMA_VERSION, SUMMARIES, TABLES, VIEWS

_WAIT_S = 10.0  # for another run that writes: an event is added in two
_DAMAGED = "Bring back a copy of it, or name a new file with --season and add the events again."
_OF_AN_EVENT = (
    "logs",
    "event_corners",
    "corners",
    "seams",
    "habits",
    "corner_summary",
    "seam_summary",
)


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


def add_event(season: Path, results: Results) -> bool:
    """Put an event into the season file, which is made when there is none.

    The same event again, or the same day measured again (from all the logs of before, or more),
    takes its own place.

    Args:
        season: the file.
        results: the event.

    Returns:
        Whether an event that was already there was replaced.

    Raises:
        SeasonError: the file is damaged, not a season, of a newer schema or cannot be written; or only
            some of the event's logs are in the season already, so that laps would count twice. Then no
            file is left where there was none.
    """
    is_new = not season.exists()
    with _faults(season), closing(sqlite3.connect(season, timeout=_WAIT_S)) as file:
        file.isolation_level = None
        try:
            file.execute("BEGIN IMMEDIATE")
            _check(file, season, may_be_new=True)
            old = _same_event(file, season, results)
            for event in old:
                _remove(file, event)
            _insert(file, results)
            file.execute("COMMIT")
        except BaseException:
            if file.in_transaction:
                file.execute("ROLLBACK")
            if is_new:
                _take_away(file, season)
            raise
    return bool(old)


def _take_away(file: sqlite3.Connection, season: Path) -> None:
    """Remove the empty file that opening a new season made, unless another run is filling it."""
    try:
        # The lock cannot be had while another run writes its first event. A run that waits for the file is told by
        # SQLite that it is gone.
        file.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        # Where there is no room even for the lock's journal, no other run is writing either.
        if error.sqlite_errorcode == sqlite3.SQLITE_BUSY:
            return
    with suppress(OSError):
        if season.stat().st_size == 0:
            season.unlink()


@contextmanager
def opened(season: Path) -> Iterator[sqlite3.Connection]:
    """The season file for questions, read only.

    Raises:
        SeasonError: there is none, or it is damaged, not a season or of a newer schema.
    """
    if not season.is_file():
        raise SeasonError(
            "there is no such season file",
            where=str(season),
            remedy="Make one with lapkit season add DIR, or name it with --season.",
        )
    address = f"{season.absolute().as_uri()}?mode=ro"
    with _faults(season), closing(sqlite3.connect(address, uri=True, timeout=_WAIT_S)) as file:
        file.row_factory = sqlite3.Row
        _check(file, season, may_be_new=False)
        yield file


def move_newer_aside(season: Path) -> Path | None:
    """Move a season file of a newer schema out of the way, its content untouched.

    Args:
        season: the file, which may be missing.

    Returns:
        Where it is now; None when it stands where it was because its schema is not newer.

    Raises:
        SeasonError: the file cannot be read or moved.
    """
    if not season.is_file():
        return None
    with _faults(season), closing(sqlite3.connect(season, timeout=_WAIT_S)) as file:
        version = _pragma(file, "user_version")
        if _pragma(file, "application_id") != APPLICATION_ID or version <= SCHEMA_VERSION:
            return None
    number, aside = 1, season.with_name(f"{season.stem}-schema-{version}{season.suffix}")
    while aside.exists():
        number += 1
        aside = season.with_name(f"{season.stem}-schema-{version}-{number}{season.suffix}")
    _move(season, aside)
    return aside


def put_back(aside: Path, season: Path) -> None:
    """Undo :func:`move_newer_aside` where no new season could be begun.

    Raises:
        SeasonError: the file cannot be moved.
    """
    if not season.exists():
        _move(aside, season)


def _move(season: Path, to: Path) -> None:
    with _faults(season):
        # A write-ahead log belongs to its file by name and may hold what the file does not yet.
        for tail in ("-wal", "-shm", ""):
            beside = season.with_name(season.name + tail)
            if beside.exists():
                beside.rename(to.with_name(to.name + tail))


def _check(file: sqlite3.Connection, season: Path, *, may_be_new: bool) -> None:
    """Make the tables in an empty file that may be new; refuse any other that is not a season of this schema."""
    mark, version = _pragma(file, "application_id"), _pragma(file, "user_version")
    empty = file.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0] == 0
    if empty and may_be_new and mark == version == 0:
        for statement in (TABLES + VIEWS).split(";\n"):
            file.execute(statement)
        file.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        file.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    elif mark != APPLICATION_ID:
        raise SeasonError(
            "this is not a season file of lapkit; it was left as it is",
            where=str(season),
            remedy="Name another file with --season.",
        )
    elif version > SCHEMA_VERSION:
        raise SeasonError(
            f"a newer lapkit wrote this season (schema {version}, this one knows "
            f"{SCHEMA_VERSION}); it was left as it is",
            where=str(season),
            remedy="Use the newer lapkit, or name another file with --season.",
        )
    elif version < 1:
        raise SeasonError("the season file is damaged", where=str(season), remedy=_DAMAGED)
    elif version < SCHEMA_VERSION:
        raise SeasonError(
            f"an older lapkit wrote this season (schema {version}, this one needs "
            f"{SCHEMA_VERSION}); it was left as it is",
            where=str(season),
            remedy="Measure its events again and add them to a new file named with --season.",
        )


def _pragma(file: sqlite3.Connection, name: str) -> int:
    return int(file.execute(f"PRAGMA {name}").fetchone()[0])


def _same_event(file: sqlite3.Connection, season: Path, results: Results) -> list[int]:
    """Events that this one replaces: those with the same results, or whose logs all are among these results' logs.

    Raises:
        SeasonError: an event shares only some of its logs with these results.
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
        if count < whole and event not in same:
            raise SeasonError(
                f"{count} of the {whole} logs of {title!r} are in these results too, so laps would "
                "count twice; nothing was added",
                where=str(season),
                remedy="Add the results of the whole event.",
            )
    return sorted(same | set(shared))


def _remove(file: sqlite3.Connection, event: int) -> None:
    for table in (*_OF_AN_EVENT, "events"):
        file.execute(f"DELETE FROM {table} WHERE event_id = ?", [event])


def _insert(file: sqlite3.Connection, results: Results) -> None:
    head = (results.key, results.title, results.start_utc, results.course, results.version)
    event = file.execute(
        "INSERT INTO events (key, title, start_utc, course, version) VALUES (?, ?, ?, ?, ?)", head
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


@contextmanager
def _faults(season: Path) -> Iterator[None]:
    """Turn what SQLite or the disk refuses into errors of lapkit's family."""
    try:
        yield
    except sqlite3.IntegrityError:
        raise SeasonError(
            "the results hold the same lap and corner twice; nothing was added",
            where=str(season),
            remedy="Write the event's results again.",
        ) from None
    except sqlite3.OperationalError as error:
        raise SeasonError(
            f"the season file cannot be used ({error})",
            where=str(season),
            remedy="Wait for another run to end, make room or get leave to write there, or name "
            "another file with --season.",
        ) from None
    except sqlite3.DatabaseError:
        raise SeasonError(
            "the season file is damaged, or no season file; it was left as it is",
            where=str(season),
            remedy=_DAMAGED,
        ) from None
    except OSError as error:
        raise SeasonError(
            f"the season file cannot be moved ({error.strerror or error})",
            where=str(season),
            remedy="Name another file with --season.",
        ) from None
