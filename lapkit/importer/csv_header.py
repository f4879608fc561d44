"""The header row of a CSV log: which line it is, and which column holds what."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from lapkit.errors import LogError, OptionError
from lapkit.importer.csv_columns import COLUMN_NAMES, recognise, unit_in
from lapkit.importer.source import safe_name

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
"""Delimiters that are tried, and what they are called."""

_HEADER_LINES = 200  # comments above a header are shorter
_HEADER_LENGTH = 100  # characters; a longer field is a sentence
_MOST_HEADERS = 1000  # no log has more columns
_COMMENT = re.compile(r"\s*(?:#|%|//)+\s?")


@dataclass(frozen=True)
class Column:
    """A column's place in a row, counted from 0, its header, and the unit given for it ("" when none)."""

    index: int
    header: str
    unit: str


@dataclass(frozen=True, eq=False)
class HeaderRow:
    """A line that names columns.

    Attributes:
        line: how many lines come before it.
        delimiter: what is between its fields.
        headers: its fields.
        columns: column name → which of them it is.
    """

    line: int
    delimiter: str
    headers: list[str]
    columns: dict[str, Column]


def asked_columns(overrides: Mapping[str, str]) -> dict[str, str]:
    """Column name → header, for what the user says himself; a column may also go by any of its headers.

    Raises:
        OptionError: an override names no column of lapkit's.
    """
    asked = {}
    for name, header in overrides.items():
        column = name
        if name not in COLUMN_NAMES:
            known = recognise(name)
            if known is None:
                raise OptionError(
                    f"there is no column named {safe_name(name)!r}",
                    remedy=f"The columns are {', '.join(COLUMN_NAMES)}",
                )
            column = known.column
        asked[column] = header.strip()
    return asked


def find_header_row(log_name: str, lines: list[str], asked: Mapping[str, str]) -> HeaderRow:
    """The first line that names latitude, longitude and time.

    Args:
        log_name: for messages.
        lines: the beginning of the file.
        asked: column name → header, for what the user says himself.

    Raises:
        LogError: there is no such line, or it lacks a header that was asked for.
    """
    without_time: HeaderRow | None = None  # it may be a comment about the columns
    longest: list[str] = []  # the likeliest header of all, for the message
    for row in _candidates(lines, asked):
        longest = max(longest, row.headers, key=len)
        if not {"lat", "lon"} <= row.columns.keys():
            continue
        if "time" in row.columns:
            _require_asked(log_name, row, asked)
            return row
        without_time = without_time or row
    if without_time is None:
        raise _no_header_row(log_name, longest, asked)
    _require_asked(log_name, without_time, asked)
    raise LogError(
        f"no header names the time (the headers are: {_shown(without_time.headers)})",
        where=f"{log_name} line {without_time.line + 1}",
        remedy="Export the time too, or say which column it is with --columns time=HEADER",
    )


def _candidates(lines: list[str], asked: Mapping[str, str]) -> Iterator[HeaderRow]:
    """Every line that may be the header, read with every delimiter."""
    for line, text in enumerate(lines[:_HEADER_LINES]):
        for delimiter in DELIMITERS:
            yield _header_row(line, text, delimiter, asked)


def split_fields(line: str, delimiter: str) -> list[str]:
    """The fields of a line, quotes taken off."""
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return line.split(delimiter)


def _header_row(line: int, text: str, delimiter: str, asked: Mapping[str, str]) -> HeaderRow:
    comment = _COMMENT.match(text)
    bare = text[comment.end() :] if comment else text
    headers = [field.strip().strip("'\"\ufeff") for field in split_fields(bare, delimiter)]
    return HeaderRow(line, delimiter, headers, _columns(headers, asked))


def _columns(headers: list[str], asked: Mapping[str, str]) -> dict[str, Column]:
    """The most telling header for each column; what the user asks for goes before what is recognised."""
    rank: dict[str, int] = {}
    columns: dict[str, Column] = {}
    for index, header in enumerate(headers[:_MOST_HEADERS]):
        known = recognise(header) if len(header) <= _HEADER_LENGTH else None
        if known is None or known.column in asked:
            continue
        if known.column not in rank or known.rank < rank[known.column]:
            rank[known.column] = known.rank
            columns[known.column] = Column(index, header, known.unit)
    for name, header in asked.items():
        at = _place_of(header, headers)
        if at is not None:
            columns[name] = Column(at, headers[at], unit_in(headers[at], name))
    return columns


def _place_of(header: str, headers: list[str]) -> int | None:
    """The place of the header that is spelt like this one, else of the first that differs by capitals alone."""
    if header in headers:
        return headers.index(header)
    folded = [one.casefold() for one in headers]
    return folded.index(header.casefold()) if header.casefold() in folded else None


def _require_asked(log_name: str, row: HeaderRow, asked: Mapping[str, str]) -> None:
    for column, header in asked.items():
        if column not in row.columns:
            raise LogError(
                f"no column has the header {safe_name(header)!r} (the headers are: {_shown(row.headers)})",
                where=f"{log_name} line {row.line + 1}",
                remedy="Give a header as it stands in the file",
            )


def _no_header_row(log_name: str, longest: list[str], asked: Mapping[str, str]) -> LogError:
    """The error for a file without a line that names a position."""
    absent = [header for header in asked.values() if _place_of(header, longest) is None]
    if absent:
        named = " or ".join(repr(safe_name(header)) for header in absent)
        return LogError(
            f"no column has the header {named} (found: {_shown(longest)})",
            where=log_name,
            remedy="Give headers to --columns as they stand in the file",
        )
    return LogError(
        f"no header row names a latitude and a longitude (found: {_shown(longest)})",
        where=log_name,
        remedy="Export with a header, or say which is which with --columns lat=HEADER,lon=HEADER",
    )


def _shown(headers: list[str]) -> str:
    return safe_name(", ".join(headers))
