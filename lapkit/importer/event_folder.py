"""An event folder and what is in it: the lines of its ``riders.csv``, and whose logs those near a table are."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from lapkit.errors import EventError
from lapkit.importer.riders_file import (
    Entry,
    Riders,
    file_meant,
    read_riders,
    with_runs_of_own_names,
)
from lapkit.importer.source import safe_name


def read_event_folder(folder: Path) -> Riders:
    """Read an event folder's ``riders.csv``.

    Raises:
        EventError: no folder, no ``riders.csv``, missing columns, or a line that names nobody.
    """
    table = folder / "riders.csv"
    if not folder.is_dir():
        raise EventError(
            "no such event folder",
            where=str(folder),
            remedy="Give the folder that holds riders.csv.",
        )
    return read_riders(table)


def unlisted_logs(folder: Path, entries: Sequence[Entry]) -> list[Path]:
    """Files beside an event folder's logs, written as they are, that no line of its ``riders.csv`` names.

    Only subfolders with logs are looked into: in the event folder itself lie a walk and tables, too.
    """
    logs = [entry.path for entry in entries if not entry.fault]
    named = _named(folder, entries)
    kinds = {(log.parent, _kind(log)) for log in logs if log.parent.resolve() != folder.resolve()}
    beside = [path for where in {log.parent for log in logs} for path in where.iterdir()]
    return sorted(
        path
        for path in beside
        if (path.parent, _kind(path)) in kinds
        and path.resolve() not in named
        and path.is_file()
        and not path.name.startswith(".")
    )


def _named(folder: Path, entries: Sequence[Entry]) -> set[Path]:
    """The files that lines of ``riders.csv`` name, or are told to mean instead, whether the line can be used or not."""
    named = set()
    for entry in entries:
        with suppress(OSError, ValueError):
            there = entry.path if entry.path.exists() else file_meant(folder, entry.file)
            named |= {there.resolve()} if there else set()
    return named


def _kind(path: Path) -> str:
    """The ending that tells how a log is written, whether it is gzipped or not."""
    return Path(path.name.lower().removesuffix(".gz")).suffix


def entries_of_logs(logs: Sequence[Path]) -> tuple[Entry, ...]:
    """Whose log each is and of which run: as the ``riders.csv`` near it says, else by the log's own name.

    The table is looked for beside the log and one folder further up. Logs of the same name from several
    folders count as the runs of one rider. No two runs share a name, even where tables of two days list them.
    """
    found: list[Entry] = []
    for path in dict.fromkeys(logs):
        name = safe_name(path.name)
        same_name = sum(entry.rider == name for entry in found)
        found.append(_line_of(path) or Entry(name, str(same_name + 1), name, path))
    return tuple(with_runs_of_own_names(found))


def _line_of(log: Path) -> Entry | None:
    """The line that names a log in the ``riders.csv`` near it; None where there is none, or more than one.

    A table with a fault names no log.
    """
    here = log.resolve()
    for folder in here.parents[:2]:
        try:
            lines = read_riders(folder / "riders.csv").entries
        except EventError:
            continue
        own = [line for line in lines if not line.fault and line.path.resolve() == here]
        if own:
            return own[0] if len(own) == 1 else None
    return None
