"""How a CSV log is laid out: encoding, delimiter, decimal sign, header row, columns and units.

Found from the beginning of the file; whatever had to be guessed is said.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass

from lapkit.errors import LogError, OptionError
from lapkit.importer.csv_columns import (
    COLUMN_NAMES,
    Header,
    fitting_unit,
    recognise,
    unit_in,
)
from lapkit.importer.source import Source, safe_name

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_HEADER_LINES = 200  # comments above a header are shorter
_HEADER_LENGTH = 100  # a longer field is a sentence
_MOST_HEADERS = 1000  # no log has more columns
_SAMPLE_ROWS = 200  # enough to see decimal commas and units
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+\s*")
_COMMENT = re.compile(r"\s*(?:#|%|//)+\s?")


@dataclass(frozen=True)
class Column:
    """Where a column stands, what its header is, and the unit given for it ("" when none)."""

    index: int
    header: str
    unit: str


@dataclass(frozen=True, eq=False)
class Layout:
    """The layout of one file.

    Attributes:
        encoding: Python's name of it.
        delimiter, decimal: one character each.
        data_line: how many lines stand before the first row of data.
        columns: column name → where it stands.
        sample: the first rows of data, split into fields.
        guesses: what was guessed, word → choice.
    """

    encoding: str
    delimiter: str
    decimal: str
    data_line: int
    columns: dict[str, Column]
    sample: list[list[str]]
    guesses: dict[str, str]

    def values(self, column: str) -> list[str]:
        """The sample's fields in a column that are not empty."""
        at = self.columns[column].index
        return [row[at].strip() for row in self.sample if len(row) > at and row[at].strip()]


def find_layout(source: Source, overrides: Mapping[str, str]) -> Layout:
    """Find the layout of a CSV log.

    Args:
        source: the file; only its beginning is looked at.
        overrides: column name → header, for what the user says himself.

    Raises:
        LogError: no header row with latitude, longitude and time; or decimal commas between commas.
        OptionError: an override names no column of lapkit's.
    """
    wanted = _wanted(overrides)
    encoding = _encoding(source.head)
    lines = _lines(source.head, encoding)
    _refuse_binary(source, "".join(lines[:50]))
    _refuse_json(source, lines)
    at, delimiter, headers, columns = _header_row(source, lines, wanted)
    data_line = at + 1
    units = _split(lines[data_line], delimiter) if data_line < len(lines) else []
    if _is_unit_row(units, columns):
        columns = {
            name: Column(c.index, c.header, c.unit or fitting_unit(name, _field(units, c.index)))
            for name, c in columns.items()
        }
        data_line += 1
    rows = [_split(line, delimiter) for line in lines[data_line : data_line + _SAMPLE_ROWS]]
    rows = [row for row in rows if any(field.strip() for field in row)]
    if delimiter == "," and _split_by_decimal_commas(rows, len(headers), columns):
        raise LogError(
            f"its rows have more fields than its {len(headers)} headers: decimal commas between "
            "commas cannot be told apart",
            where=source.name,
            remedy="Export with semicolons, or with decimal points",
        )
    decimal = "," if _has_decimal_comma(rows, columns) else "."
    guesses = {
        "encoding": encoding.removesuffix("-sig"),
        "delimiter": _DELIMITERS[delimiter],
        "decimal sign": "comma" if decimal == "," else "point",
        "header": f"line {at + 1}",
        **{
            f"column {name}": safe_name(c.header) + (f" in {c.unit}" if c.unit else "")
            for name, c in columns.items()
        },
    }
    return Layout(encoding, delimiter, decimal, data_line, columns, rows, guesses)


def _wanted(overrides: Mapping[str, str]) -> dict[str, str]:
    """Overrides by column name; a column may also be named by any of its headers."""
    wanted = {}
    for name, header in overrides.items():
        known = recognise(name)
        column = name if name in COLUMN_NAMES else known.column if known else ""
        if not column:
            raise OptionError(
                f"there is no column named {safe_name(name)!r}",
                remedy=f"The columns are {', '.join(COLUMN_NAMES)}",
            )
        wanted[column] = header.strip()
    return wanted


def _encoding(head: bytes) -> str:
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    # Digits and commas in UTF-16 leave every other byte zero.
    pairs = len(head) // 2
    for start, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if pairs and head[start::2].count(0) > 0.8 * pairs:
            return name
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _lines(head: bytes, encoding: str) -> list[str]:
    decoder = codecs.getincrementaldecoder(encoding)("replace")
    text = decoder.decode(head).replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def _refuse_binary(source: Source, text: str) -> None:
    strange = sum(not (c.isprintable() or c in "\t\n\r\ufeff") for c in text)
    if strange > 0.05 * len(text):
        raise LogError(
            "it is a binary file of a kind that lapkit does not read",
            where=source.name,
            remedy="Export the log as GPX, CSV or NMEA 0183",
        )


def _refuse_json(source: Source, lines: list[str]) -> None:
    first = next((line.strip("\ufeff \t") for line in lines if line.strip("\ufeff \t")), "")
    if first.startswith(("{", "[{")):
        raise LogError(
            "this is JSON, as track files are, and no log",
            where=source.name,
            remedy="Give a log as GPX, CSV or NMEA 0183; `lapkit track` checks a track file",
        )


def _header_row(
    source: Source, lines: list[str], wanted: dict[str, str]
) -> tuple[int, str, list[str], dict[str, Column]]:
    """Line number, delimiter, headers and columns of the first line that names position and time.

    A line that names a position only is second best: it may be a comment about the columns.
    """
    second_best = None
    nearest: list[str] = []
    for at, line in enumerate(lines[:_HEADER_LINES]):
        for delimiter in _DELIMITERS:
            headers = [h.strip().strip("'\"\ufeff") for h in _split(_uncomment(line), delimiter)]
            columns = _columns(headers, wanted)
            if {"lat", "lon", "time"} <= columns.keys():
                _require(source, at, headers, columns, wanted)
                return at, delimiter, headers, columns
            if {"lat", "lon"} <= columns.keys():
                second_best = second_best or (at, headers, columns)
            nearest = max(nearest, headers, key=len)
    if second_best is not None:
        _require(source, *second_best, wanted)
    found = safe_name(", ".join(nearest))
    absent = [header for header in wanted.values() if header.casefold() not in _fold(nearest)]
    if absent:
        asked = " or ".join(repr(safe_name(header)) for header in absent)
        raise LogError(
            f"no column has the header {asked} (found: {found})",
            where=source.name,
            remedy="Give headers to --columns as they stand in the file",
        )
    raise LogError(
        f"no header row names a latitude and a longitude (found: {found})",
        where=source.name,
        remedy="Export with a header, or say which is which with --columns lat=HEADER,lon=HEADER",
    )


def _fold(headers: list[str]) -> set[str]:
    return {header.casefold() for header in headers}


def _require(
    source: Source, at: int, headers: list[str], columns: dict[str, Column], wanted: dict[str, str]
) -> None:
    where = f"{source.name} line {at + 1}"
    listed = safe_name(", ".join(headers))
    for column, header in wanted.items():
        if column not in columns:
            raise LogError(
                f"no column has the header {safe_name(header)!r} (the headers are: {listed})",
                where=where,
                remedy="Give a header as it stands in the file",
            )
    if "time" not in columns:
        raise LogError(
            f"no header names the time (the headers are: {listed})",
            where=where,
            remedy="Export the time too, or say which column it is with --columns time=HEADER",
        )


def _columns(headers: list[str], wanted: dict[str, str]) -> dict[str, Column]:
    """The best header for each column; what the user wants goes before what is recognised."""
    found: dict[str, tuple[float, Column]] = {}
    for index, header in enumerate(headers[:_MOST_HEADERS]):
        known: Header | None = recognise(header) if len(header) <= _HEADER_LENGTH else None
        if known and known.column not in wanted:
            rank, column = float(known.rank), known.column
            if column not in found or rank < found[column][0]:
                found[column] = (rank, Column(index, header, known.unit))
    for column, header in wanted.items():
        for same in (str, str.casefold):
            matches = [i for i, h in enumerate(headers) if same(h) == same(header)]
            if matches:
                at = matches[0]
                found[column] = (0.0, Column(at, headers[at], unit_in(headers[at], column)))
                break
    return {name: column for name, (_, column) in found.items()}


def _is_unit_row(fields: list[str], columns: dict[str, Column]) -> bool:
    """Whether a row holds units: at least one that fits its column, and no number."""
    if any(re.search(r"\d", _field(fields, c.index)) for c in columns.values()):
        return False
    return any(fitting_unit(name, _field(fields, c.index)) for name, c in columns.items())


def _field(fields: list[str], index: int) -> str:
    return fields[index] if index < len(fields) else ""


def _split_by_decimal_commas(rows: list[list[str]], width: int, columns: dict[str, Column]) -> bool:
    """Whether most rows have too many fields, and whole numbers only for latitudes."""
    wide = [row for row in rows if any(field.strip() for field in row[width:])]
    whole = [re.fullmatch(r"\s*[+-]?\d+\s*", _field(row, columns["lat"].index)) for row in wide]
    return 2 * len(wide) > len(rows) and all(whole)


def _has_decimal_comma(rows: list[list[str]], columns: dict[str, Column]) -> bool:
    places = [columns["lat"].index, columns["lon"].index]
    return any(_DECIMAL_COMMA.fullmatch(_field(row, at)) for row in rows for at in places)


def _uncomment(line: str) -> str:
    match = _COMMENT.match(line)
    return line[match.end() :] if match else line


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return line.split(delimiter)
