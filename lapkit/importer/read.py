"""Any log file → logs. The format is recognised by its content, never by its name."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from lapkit.errors import LogError
from lapkit.importer.clean import clean
from lapkit.importer.fixes import RawFixes
from lapkit.importer.gpx import read_gpx
from lapkit.importer.log import Log
from lapkit.importer.nmea import read_nmea
from lapkit.importer.ridden_parts import part_runs
from lapkit.importer.source import MAX_BYTES, Source, open_source
from lapkit.whole_file import GZIP

_BYTE_ORDER_MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")
_NMEA_SENTENCE = re.compile(rb"\$[A-Z]{2}(?:RMC|GGA|VTG|GNS|GLL|GSA|GSV),")
_ARCHIVES = {b"PK\x03\x04": "a zip archive", GZIP: "gzipped twice", b"%PDF": "a PDF"}


def read_logs(
    path: str | os.PathLike[str],
    *,
    columns: Mapping[str, str] | None = None,
    max_bytes: int = MAX_BYTES,
    sha256: str = "",
) -> tuple[Log, ...]:
    """Read a rider's log: GPX, CSV or NMEA 0183, plain or gzipped.

    Args:
        path: a regular file.
        columns: for CSV, which header holds what, such as ``{"speed": "Velocity 2"}``; the names
            are in :data:`~lapkit.importer.csv_columns.COLUMN_NAMES`. The rest is recognised.
        max_bytes: most bytes allowed after unpacking.
        sha256: the file's hash where it is known: hashing takes a seventh of the time.

    Returns:
        The logs in the order of the file: one, or several when its clock jumps, when the rider stood for
        minutes between runs, or when a column tells riders apart.

    Raises:
        LogError: the file cannot be read, is no log, or holds no usable fix.
        OptionError: ``columns`` names something that lapkit does not read.
    """
    logs = _whole_logs(path, columns or {}, max_bytes, sha256)
    return tuple(run for log in logs for run in part_runs(log))


def read_log(
    path: str | os.PathLike[str],
    *,
    columns: Mapping[str, str] | None = None,
    max_bytes: int = MAX_BYTES,
) -> Log:
    """The log with the most fixes in a file, not parted into runs.

    Arguments and errors are those of :func:`read_logs`.
    """
    return max(_whole_logs(path, columns or {}, max_bytes), key=len)


def _whole_logs(
    path: str | os.PathLike[str], columns: Mapping[str, str], max_bytes: int, sha256: str = ""
) -> list[Log]:
    logs: list[Log] = []
    unusable: LogError | None = None
    # A file may hold any number, infinite or near the end of the range: no cause for a warning.
    with (
        open_source(path, max_bytes, sha256) as source,
        np.errstate(over="ignore", invalid="ignore"),
    ):
        for rider, raw in _read_raw(source, columns).by_rider():
            try:
                cleaned = clean(raw, source.name, source.sha256)
                logs += (replace(log, rider=rider) for log in cleaned)
            except LogError as error:
                # One rider's fixes may be useless while the others' are not.
                unusable = error
    if unusable and not logs:
        raise unusable
    return logs


def _read_raw(source: Source, columns: Mapping[str, str]) -> RawFixes:
    """The rows of a log, by the reader of its format; what is no other format is read as CSV."""
    _refuse_what_is_no_log(source)
    if _is_xml(source.head):
        return read_gpx(source)
    if _NMEA_SENTENCE.search(source.head):
        return read_nmea(source)
    # Imported when a CSV turns up, because pandas is slow to import.
    from lapkit.importer.csv import read_csv

    return read_csv(source, columns)


def _refuse_what_is_no_log(source: Source) -> None:
    if not source.head:
        raise LogError(
            source.stream.fault or "the file is empty",
            where=source.name,
            remedy="Copy it from the logger again",
        )
    for magic, kind in _ARCHIVES.items():
        if source.head.startswith(magic):
            raise LogError(
                f"it is {kind}, not a log",
                where=source.name,
                remedy="Give the log itself, unpacked if it was packed",
            )


def _is_xml(head: bytes) -> bool:
    """Whether the first character is ``<``, in UTF-8 or, behind a byte-order mark, in UTF-16."""
    if head.startswith(_BYTE_ORDER_MARKS):
        head = head.replace(b"\0", b"")
        for mark in _BYTE_ORDER_MARKS:
            head = head.removeprefix(mark)
    return head.lstrip()[:1] == b"<"
