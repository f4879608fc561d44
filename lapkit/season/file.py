"""The season file: opened for questions or to be written, kept whole, and moved aside where a newer lapkit wrote it.

Everything that an event changes happens in one transaction, so that a run that is stopped leaves the season as it
was.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from lapkit.errors import SeasonError
from lapkit.season.schema import APPLICATION_ID, SCHEMA_VERSION, TABLES, VIEWS

_WAIT_S = 10.0  # for another run that writes: an event is added in two
_DAMAGED = "Bring back a copy of it, or name a new file with --season and add the events again."


@contextmanager
def opened(season: Path) -> Iterator[sqlite3.Connection]:
    """The season file for questions, read only.

    Raises:
        SeasonError: there is none, or it is damaged, not a season or of another schema.
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
        _require_season(file, season)
        yield file


@contextmanager
def transaction(season: Path) -> Iterator[sqlite3.Connection]:
    """The season file for one transaction, which is undone if the block raises; the file is made if there is none.

    Raises:
        SeasonError: the file is damaged, not a season, of another schema or cannot be written. Then no file is left
            where there was none.
    """
    is_new = not season.exists()
    with _faults(season), closing(sqlite3.connect(season, timeout=_WAIT_S)) as file:
        file.isolation_level = None
        try:
            file.execute("BEGIN IMMEDIATE")
            if _is_empty(file):
                _make_tables(file)
            else:
                _require_season(file, season)
            yield file
            file.execute("COMMIT")
        except BaseException:
            if file.in_transaction:
                file.execute("ROLLBACK")
            if is_new:
                _take_away(file, season)
            raise


@contextmanager
def newer_moved_aside(season: Path) -> Iterator[Path | None]:
    """Move a season file of a newer schema out of the way, its content untouched, and back if the block raises.

    Args:
        season: the file, which may be missing.

    Yields:
        Where it is now; None if its schema is not newer, and it stands where it was.

    Raises:
        SeasonError: the file cannot be read or moved.
    """
    aside = _name_aside(season)
    if aside is None:
        yield None
        return
    _move(season, aside)
    try:
        yield aside
    except BaseException:
        if not season.exists():
            _move(aside, season)
        raise


def _name_aside(season: Path) -> Path | None:
    """A free name beside a season file of a newer schema; None if there is no such file."""
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
    return aside


def _move(season: Path, to: Path) -> None:
    with _faults(season):
        # A write-ahead log belongs to its file by name and may hold what the file does not yet.
        for tail in ("-wal", "-shm", ""):
            beside = season.with_name(season.name + tail)
            if beside.exists():
                beside.rename(to.with_name(to.name + tail))


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


def _is_empty(file: sqlite3.Connection) -> bool:
    """Whether nothing has been put into the file yet, by whatever program."""
    (tables,) = file.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
    return not tables and _pragma(file, "application_id") == _pragma(file, "user_version") == 0


def _make_tables(file: sqlite3.Connection) -> None:
    for statement in (TABLES + VIEWS).split(";\n"):
        file.execute(statement)
    file.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    file.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _require_season(file: sqlite3.Connection, season: Path) -> None:
    """Refuse what is no season file of this schema.

    Raises:
        SeasonError: as :func:`opened`.
    """
    mark, version = _pragma(file, "application_id"), _pragma(file, "user_version")
    if mark != APPLICATION_ID:
        raise SeasonError(
            "this is not a season file of lapkit; it was left as it is",
            where=str(season),
            remedy="Name another file with --season.",
        )
    if version > SCHEMA_VERSION:
        raise SeasonError(
            f"a newer lapkit wrote this season (schema {version}, this one knows "
            f"{SCHEMA_VERSION}); it was left as it is",
            where=str(season),
            remedy="Use the newer lapkit, or name another file with --season.",
        )
    if version < 1:
        raise SeasonError("the season file is damaged", where=str(season), remedy=_DAMAGED)
    if version < SCHEMA_VERSION:
        raise SeasonError(
            f"an older lapkit wrote this season (schema {version}, this one needs "
            f"{SCHEMA_VERSION}); it was left as it is",
            where=str(season),
            remedy="Measure its events again and add them to a new file named with --season.",
        )


def _pragma(file: sqlite3.Connection, name: str) -> int:
    return int(file.execute(f"PRAGMA {name}").fetchone()[0])


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
