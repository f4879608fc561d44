"""``riders.csv``: who rode, in which run, and which file is the log. No path in it may leave its folder."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PureWindowsPath

from lapkit.errors import EventError
from lapkit.importer.heights import HEIGHT_COLUMNS, Heights, heights_from
from lapkit.importer.run_names import RunNames
from lapkit.importer.source import safe_name
from lapkit.whole_file import read_whole

REQUIRED = ("rider", "session", "file")
"""Columns that ``riders.csv`` must have."""

_MAY_BE = (*HEIGHT_COLUMNS, "group", "bike", "note")
_ALIKE = 0.7  # names less alike are columns of the coach's own, as "date" is and no misspelt "note"
_MOST_BYTES = 4_000_000  # 40 000 lines of a hundred characters


@dataclass(frozen=True)
class Entry:
    """One line of ``riders.csv``: whose log, of which run, and what he rode.

    Attributes:
        rider, session: who rode, and the name of the run.
        file: the log as the table names it.
        path: where the log is.
        group, bike, note: as the table has them, "" where it does not.
        heights: of the machine; the usual ones where the table has none.
        fault: why this line cannot be used; empty when it can.
        remark: what else is to be said of it, a sentence or "".
        sha256: the log's hash, "" where it was not worked out yet.
    """

    rider: str
    session: str
    file: str
    path: Path
    group: str = ""
    bike: str = ""
    note: str = ""
    heights: Heights = field(default_factory=Heights.usual)
    fault: str = ""
    remark: str = ""
    sha256: str = ""


@dataclass(frozen=True)
class Riders:
    """A ``riders.csv`` as it was read.

    Attributes:
        entries: its lines in order.
        misspelt: columns that were not read, each as it is written, with the one that it may have meant. A column of the
            coach's own, unlike any that is known, is none of them.
    """

    entries: tuple[Entry, ...]
    misspelt: tuple[tuple[str, str], ...]


def read_riders(table: Path) -> Riders:
    """Read a ``riders.csv`` of whatever name; paths in it start at its folder.

    Raises:
        EventError: no such file, missing columns, or a line that names nobody.
    """
    columns, lines = _columns_and_lines(table)
    entries = [_entry(table, line, cells) for line, cells in lines]
    if not entries:
        raise EventError(
            "riders.csv names no log", where=str(table), remedy="Add a line for each rider and run."
        )
    return Riders(tuple(with_runs_of_own_names(entries)), tuple(_misspelt(columns)))


def with_runs_of_own_names(entries: Sequence[Entry]) -> Iterator[Entry]:
    """The entries, with a new name and a remark for a run that a rider has once more: no two runs share a name."""
    listed = dict.fromkeys((entry.rider, entry.session) for entry in entries)
    names, seen = RunNames(listed), set()
    for entry in entries:
        if (entry.rider, entry.session) not in seen:
            seen.add((entry.rider, entry.session))
            yield entry
            continue
        new_name = names.take(entry.rider, entry.session)
        remark = f"{entry.rider} has run {entry.session} more than once; {entry.file} is run {new_name} here."
        yield replace(entry, session=new_name, remark=remark)


def _columns_and_lines(table: Path) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    """The names of a table's columns in lower case; the number of each line that is not empty, and its cells by column.

    Raises:
        EventError: the table cannot be read, or lacks a column.
    """
    text = _decoded(table).splitlines()
    rows = csv.DictReader(text, delimiter=_delimiter(text[0] if text else ""))
    lines = []
    try:
        columns = _columns(table, rows.fieldnames or [])
        rows.fieldnames = columns
        for row in rows:
            # Cells beyond the header have no name, and come as a list.
            cells = {
                name: (cell or "").strip()
                for name, cell in row.items()
                if name and not isinstance(cell, list)
            }
            if any(cells.values()):
                lines.append((rows.line_num, cells))
    except csv.Error as error:
        raise EventError(
            f"riders.csv cannot be read ({error})",
            where=f"{table}, line {rows.line_num}",
            remedy="Save it again as plain CSV.",
        ) from None
    return columns, lines


def _columns(table: Path, head: Sequence[str]) -> list[str]:
    """The names of the columns, in lower case.

    Raises:
        EventError: one that is needed is missing, or one that is known stands there twice.
    """
    names = [name.strip().lower() for name in head]
    missing = [name for name in REQUIRED if name not in names]
    twice = [name for name in (*REQUIRED, *HEIGHT_COLUMNS) if names.count(name) > 1]
    if missing or twice:
        found = safe_name(", ".join(filter(None, names))) or "none"
        has = f"no column {', '.join(missing)} (found: {found})"
        has = has if missing else f"two columns {twice[0]}"
        raise EventError(
            f"riders.csv has {has}",
            where=f"{table}, line 1",
            remedy="Its first line must name the columns rider, session, file, each once.",
        )
    return names


def _misspelt(columns: Sequence[str]) -> Iterator[tuple[str, str]]:
    """As :attr:`Riders.misspelt`, for columns in lower case."""
    from difflib import get_close_matches

    absent = [name for name in _MAY_BE if name not in columns]
    for name in columns:
        begun = [known for known in absent if len(name) > 3 and known.startswith(name)]
        meant = begun or get_close_matches(name, absent, n=1, cutoff=_ALIKE)
        if meant and name not in (*REQUIRED, *_MAY_BE):
            yield safe_name(name), meant[0]


def _delimiter(head: str) -> str:
    """What is between the fields of a table that begins with this line."""
    return max(",;\t", key=head.count)


def _decoded(table: Path) -> str:
    missing = "Check its name, or write one with the columns rider, session, file."
    raw = read_whole(table, "riders.csv", _MOST_BYTES, EventError, if_missing=missing)
    # A spreadsheet's "Unicode text" is UTF-16 behind a mark that begins no other text.
    utf_16 = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) * utf_16 + ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding).replace("\0", "")
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1").replace("\0", "")


def _entry(table: Path, line: int, cells: dict[str, str]) -> Entry:
    """The entry of a line of the table; its ``fault`` says what makes it useless."""
    for name in ("rider", "file"):
        if not cells.get(name):
            raise EventError(
                f"no {name} on this line",
                where=f"{table}, line {line}",
                remedy="Fill it in or take the line out.",
            )
    heights, fault = heights_from(cells)
    shown = {name: safe_name(text) for name, text in cells.items()}
    return Entry(
        rider=shown["rider"],
        session=shown.get("session") or "1",
        file=shown["file"],
        path=table.parent / cells["file"],
        group=shown.get("group", ""),
        bike=shown.get("bike", ""),
        note=shown.get("note", ""),
        fault=_fault_of_path(table.parent, cells["file"]) or fault,
        heights=heights,
    )


def _fault_of_path(folder: Path, file: str) -> str:
    """Why a path in the table cannot be used; empty when it can."""
    try:
        resolved = (folder / file).resolve()
        if not resolved.is_relative_to(folder.resolve()):
            return "it lies outside the event folder; copy it into that folder"
        if resolved.is_dir():
            return "it is a folder, not a log; a line names one log"
        if not resolved.is_file():
            return f"no such file in the event folder{_perhaps(folder, file)}"
    except (OSError, ValueError):
        return "not a usable file name"
    return ""


def _perhaps(folder: Path, file: str) -> str:
    meant = file_meant(folder, file)
    if meant is None:
        return ""
    return f"; perhaps {safe_name(meant.relative_to(folder).as_posix())} is meant"


def file_meant(folder: Path, file: str) -> Path | None:
    """The one file of an event folder that a path to no file may have meant.

    Its folder, ``.gz`` or capitals were left out, or another sign stands between its letters and digits. None if there is no
    such file, or more than one.
    """
    wanted = _bare(PureWindowsPath(file).name)
    near = [path for path in (*folder.glob("*"), *folder.glob("*/*")) if _bare(path.name) == wanted]
    return near[0] if len(near) == 1 else None


def _bare(name: str) -> str:
    return "".join(filter(str.isalnum, name.lower().removesuffix(".gz")))
