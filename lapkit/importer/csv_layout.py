"""How a CSV log is laid out: encoding, delimiter, decimal sign, header row, columns and units.

It is found from the beginning of the file; what had to be guessed is kept for the user to see.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from lapkit.errors import LogError
from lapkit.importer.csv_columns import fitting_unit
from lapkit.importer.csv_header import (
    DELIMITERS,
    Column,
    HeaderRow,
    asked_columns,
    find_header_row,
    split_fields,
)
from lapkit.importer.source import Source, safe_name

_SAMPLE_ROWS = 200  # enough to see decimal commas and units
_WHOLE_NUMBER = re.compile(r"\s*[+-]?\d+\s*")
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d+\s*")


@dataclass(frozen=True, eq=False)
class Layout:
    """The layout of one file.

    Attributes:
        encoding: Python's name of it.
        delimiter, decimal: one character each.
        data_line: how many lines come before the first row of data.
        columns: column name → its place and unit.
        sample: the first rows of data, split into fields.
        guesses: what was guessed → the choice.
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
    asked = asked_columns(overrides)
    encoding = _encoding(source)
    lines = _lines(source.head, encoding)
    _refuse_binary(source, "".join(lines[:50]))
    _refuse_json(source, lines)
    header = find_header_row(source.name, lines, asked)
    columns, data_line = header.columns, header.line + 1
    second = split_fields(lines[data_line], header.delimiter) if data_line < len(lines) else []
    if _is_unit_row(second, columns):
        columns = _with_units(columns, second)
        data_line += 1
    sample = _rows(lines[data_line : data_line + _SAMPLE_ROWS], header.delimiter)
    _refuse_decimal_commas_between_commas(source, sample, header)
    decimal = "," if _has_decimal_comma(sample, columns) else "."
    guesses = {
        "encoding": encoding.removesuffix("-sig"),
        "delimiter": DELIMITERS[header.delimiter],
        "decimal sign": "comma" if decimal == "," else "point",
        "header": f"line {header.line + 1}",
    }
    for name, column in columns.items():
        unit = f" in {column.unit}" if column.unit else ""
        guesses[f"column {name}"] = safe_name(column.header) + unit
    return Layout(encoding, header.delimiter, decimal, data_line, columns, sample, guesses)


def _encoding(source: Source) -> str:
    head = source.head
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    # Digits and commas in UTF-16 leave every other byte zero.
    pairs = len(head) // 2
    for start, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if pairs and head[start::2].count(0) > 0.8 * pairs:
            return name
    return "utf-8" if source.head_is_utf8 else "latin-1"


def _lines(head: bytes, encoding: str) -> list[str]:
    text = codecs.getincrementaldecoder(encoding)("replace").decode(head)
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _refuse_binary(source: Source, text: str) -> None:
    strange = sum(not (c.isprintable() or c in "\t\n\r\ufeff") for c in text)
    if strange > 0.05 * len(text):
        raise LogError(
            "it is a binary file of a kind that lapkit does not read",
            where=source.name,
            remedy="Export the log as GPX, CSV or NMEA 0183",
        )


def _refuse_json(source: Source, lines: list[str]) -> None:
    bare = (line.strip("\ufeff \t") for line in lines)
    if next(filter(None, bare), "").startswith(("{", "[{")):
        raise LogError(
            "this is JSON, as track files are, and no log",
            where=source.name,
            remedy="Give a log as GPX, CSV or NMEA 0183; `lapkit track` checks a track file",
        )


def _is_unit_row(fields: list[str], columns: dict[str, Column]) -> bool:
    """Whether a row holds units: at least one that fits its column, and no number."""
    if any(re.search(r"\d", _field(fields, column.index)) for column in columns.values()):
        return False
    return any(fitting_unit(name, _field(fields, c.index)) for name, c in columns.items())


def _with_units(columns: dict[str, Column], unit_row: list[str]) -> dict[str, Column]:
    """The columns with their units of a second row; a unit in the header goes before it."""
    return {
        name: replace(
            column, unit=column.unit or fitting_unit(name, _field(unit_row, column.index))
        )
        for name, column in columns.items()
    }


def _rows(lines: list[str], delimiter: str) -> list[list[str]]:
    """Lines split into fields, without those in which all fields are empty."""
    rows = [split_fields(line, delimiter) for line in lines]
    return [row for row in rows if any(field.strip() for field in row)]


def _refuse_decimal_commas_between_commas(
    source: Source, rows: list[list[str]], header: HeaderRow
) -> None:
    """Refuse rows most of which have too many fields between commas, and whole numbers only for latitudes."""
    if header.delimiter != ",":
        return
    width, lat_at = len(header.headers), header.columns["lat"].index
    wide = [row for row in rows if any(field.strip() for field in row[width:])]
    if 2 * len(wide) > len(rows) and all(_WHOLE_NUMBER.fullmatch(row[lat_at]) for row in wide):
        raise LogError(
            f"its rows have more fields than its {width} headers: decimal commas between "
            "commas cannot be told apart",
            where=source.name,
            remedy="Export with semicolons, or with decimal points",
        )


def _has_decimal_comma(rows: list[list[str]], columns: dict[str, Column]) -> bool:
    places = [columns["lat"].index, columns["lon"].index]
    return any(_DECIMAL_COMMA.fullmatch(_field(row, at)) for row in rows for at in places)


def _field(fields: list[str], index: int) -> str:
    return fields[index] if index < len(fields) else ""
