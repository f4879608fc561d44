"""``riders.csv``: who rode, in which run, and which file is the log. No path in it may leave its folder."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, count
from pathlib import Path, PureWindowsPath

from lapkit.errors import EventError
from lapkit.importer.heights import Heights
from lapkit.importer.source import safe_name
from lapkit.whole_file import read_whole

REQUIRED = ("rider", "session", "file")
"""Columns that ``riders.csv`` must have."""

# Columns with a height above the road → the least and the largest that a machine has, metres. The centre of mass stays
# above the tyre, or lean has no solution.
_POSSIBLE_M = {
    "antenna_height_m": (0.0, 3.0),
    "com_height_m": (0.3, 1.5),
    "tyre_radius_m": (0.0, 0.25),
}
_MAY_BE = (*_POSSIBLE_M, "group", "bike", "note")
_ALIKE = 0.7  # names less alike are columns of the coach's own, as "date" is and no misspelt "note"
_SMALLEST_CM = 5.0  # a number from here on is not in metres, but may be in centimetres
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


def read_riders(table: Path) -> tuple[Entry, ...]:
    """The lines of a ``riders.csv`` of whatever name, in order; paths in it start at its folder.

    Raises:
        EventError: no such file, missing columns, or a line that names nobody.
    """
    entries = [_entry(table, line, cells) for line, cells in _lines(table)]
    if not entries:
        raise EventError(
            "riders.csv names no log", where=str(table), remedy="Add a line for each rider and run."
        )
    return tuple(with_runs_of_own_names(entries))


def with_runs_of_own_names(entries: Sequence[Entry]) -> Iterator[Entry]:
    """The entries, with a new name and a remark for a run that a rider has once more: no two runs share a name."""
    seen: set[tuple[str, str]] = set()
    taken: dict[str, set[str]] = {}
    for entry in entries:
        taken.setdefault(entry.rider, set()).add(entry.session)
    for entry in entries:
        if (entry.rider, entry.session) not in seen:
            seen.add((entry.rider, entry.session))
            yield entry
            continue
        new_name = free_name(entry.session, taken[entry.rider])
        taken[entry.rider].add(new_name)
        remark = f"{entry.rider} has run {entry.session} more than once; {entry.file} is run {new_name} here."
        yield replace(entry, session=new_name, remark=remark)


def free_name(session: str, taken: Collection[str]) -> str:
    """The name of a run; where it is taken, with the lowest number behind it, from 2 on, that is not."""
    numbered = (f"{session} ({number})" for number in count(2))
    return next(name for name in chain([session], numbered) if name not in taken)


def _lines(table: Path) -> Iterator[tuple[int, dict[str, str]]]:
    """Number of each line that is not empty, and its cells by their column's name in lower case.

    Raises:
        EventError: the table cannot be read, or lacks a column.
    """
    lines = _decoded(table).splitlines()
    head = lines[0] if lines else ""
    rows = csv.DictReader(lines, delimiter=_delimiter(head))
    try:
        rows.fieldnames = _columns(table, rows.fieldnames or [])
        for row in rows:
            # Cells beyond the header have no name, and come as a list.
            cells = {
                name: (cell or "").strip()
                for name, cell in row.items()
                if name and not isinstance(cell, list)
            }
            if any(cells.values()):
                yield rows.line_num, cells
    except csv.Error as error:
        raise EventError(
            f"riders.csv cannot be read ({error})",
            where=f"{table}, line {rows.line_num}",
            remedy="Save it again as plain CSV.",
        ) from None


def _columns(table: Path, head: Sequence[str]) -> list[str]:
    """The names of the columns, in lower case.

    Raises:
        EventError: one that is needed is missing, or one that is known stands there twice.
    """
    names = [(name or "").strip().lower() for name in head]
    missing = [name for name in REQUIRED if name not in names]
    twice = [name for name in (*REQUIRED, *_POSSIBLE_M) if names.count(name) > 1]
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


def misspelt_columns(table: Path) -> list[tuple[str, str]]:
    """Columns of a ``riders.csv`` that are not read, each as it is written, with the one that it may have meant.

    A column of the coach's own, unlike any that is known, is none of them.
    """
    from difflib import get_close_matches

    head = (_decoded(table).splitlines() or [""])[0]
    written = next(csv.reader([head], delimiter=_delimiter(head)), [])
    names = [name.strip().lower() for name in written]
    absent = [name for name in _MAY_BE if name not in names]
    found = []
    for name in names:
        begun = [known for known in absent if len(name) > 3 and known.startswith(name)]
        meant = begun or get_close_matches(name, absent, n=1, cutoff=_ALIKE)
        if meant and name not in (*REQUIRED, *_MAY_BE):
            found.append((safe_name(name), meant[0]))
    return found


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
    heights, fault = _heights(cells)
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


def _heights(cells: dict[str, str]) -> tuple[Heights, str]:
    """The heights that a line gives, and what is wrong with its first cell that holds no height; "" if none is wrong."""
    given, faults = {}, []
    for name in _POSSIBLE_M:
        text = cells.get(name, "").replace(",", ".")
        if text:
            value = _number(text)
            fault = _fault_of_height(name, text, value)
            if fault:
                faults.append(fault)
            else:
                given[name] = value
    return _machine(given), next(iter(faults), "")


def _machine(given: Mapping[str, float]) -> Heights:
    """A machine's heights from the cells that hold one, metres, by their column; the usual ones for the rest."""
    heights = Heights() if "antenna_height_m" in given else Heights.usual()
    return replace(
        heights,
        antenna_m=given.get("antenna_height_m", heights.antenna_m),
        com_m=given.get("com_height_m", heights.com_m),
        tyre_radius_m=given.get("tyre_radius_m", heights.tyre_radius_m),
    )


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _fault_of_height(name: str, text: str, value: float) -> str:
    """Why a cell holds no height of a machine, and what may have been meant; empty when it holds one.

    Args:
        name: the cell's column.
        text: what the cell says.
        value: the same as a number, metres; NaN if it is none.
    """
    least, most = _POSSIBLE_M[name]
    if least < value < most:
        return ""
    in_cm = value >= _SMALLEST_CM and least < value / 100.0 < most
    meant = f"; {value / 100.0:.2f} if centimetres were meant" if in_cm else ""
    return f"{name} is {text!r}, not a height in metres between {least:g} and {most:g}{meant}"


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
