"""The whole chain for a notebook, from names of files: a rider's debrief, an event, and writing their results."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from concurrent.futures import Executor
from pathlib import Path

from lapkit import pipeline
from lapkit.errors import OptionError
from lapkit.library.run import FilePath
from lapkit.measuring.inputs import Given, event_inputs
from lapkit.measuring.options import Options
from lapkit.measuring.reviews import EventReview
from lapkit.pipeline import Progress
from lapkit.reporter import write
from lapkit.reporter.formats import Formats
from lapkit.units import Units


def review(
    logs: FilePath | Iterable[FilePath],
    *,
    track: FilePath | None = None,
    rider: str = "",
    line: FilePath | None = None,
    base: FilePath | None = None,
    riders: FilePath | None = None,
    columns: Mapping[str, str] | None = None,
    trace: bool = False,
    units: str = "metric",
) -> EventReview:
    """One rider's debrief from his logs, each a run; what ``lapkit review`` writes.

    Args:
        logs: a log or several; put in order by their dates, or as given if one has no date.
        track: track file; without it loop and corners are found from the logs.
        rider: his name; by default from ``riders``, else what his logs' names begin with.
        line: the coach's own log, whose mean lap is the marker line.
        base: log of a receiver left standing on a known spot.
        riders: a ``riders.csv`` to take name, group and heights (metres) from.
        columns: for CSV files, which header holds what; see :func:`read_log`.
        trace: whether to add the table ``trace``, a row for every sample.
        units: ``metric`` or ``us``, for the sentences of findings; tables are always SI.

    Raises:
        OptionError: no log was given, there are no such units, or ``riders`` names nobody called ``rider``; the
            message has the nearest name.
        LapkitError: nothing usable in what was given.
    """
    paths = [logs] if isinstance(logs, str | os.PathLike) else list(logs)
    if not paths:
        raise OptionError("no log to review", remedy="Give the names of the rider's logs.")
    return pipeline.review(
        [Path(log) for log in paths],
        Given(_path(track), _path(line), _path(base), _path(riders)),
        rider=rider,
        options=Options.reading(columns, trace=trace),
        units=Units.named(units),
    )


def event(
    folder: FilePath,
    *,
    track: FilePath | None = None,
    line: FilePath | None = None,
    base: FilePath | None = None,
    columns: Mapping[str, str] | None = None,
    trace: bool = False,
    units: str = "metric",
    workers: int | None = 1,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> EventReview:
    """Every rider of an event folder; what ``lapkit event`` writes.

    Args:
        folder: holds ``riders.csv``, the logs it names and ``track.geojson``.
        track: another track file than the folder's own.
        line, base, columns, trace, units: as in :func:`review`.
        workers: processes to use; None for all cores, which a script may ask for only from under
            ``if __name__ == "__main__":`` because each process imports it again.
        executor: anything with the ``concurrent.futures`` interface, instead of own processes.
        progress: called with runs done and runs in all.

    Raises:
        OptionError: there are no such units.
        LapkitError: the folder cannot be used, or none of its logs can.
    """
    inputs = event_inputs(Path(folder), Given(_path(track), _path(line), _path(base)))
    return pipeline.event(
        inputs,
        options=Options.reading(columns, trace=trace),
        units=Units.named(units),
        workers=workers,
        executor=executor,
        progress=progress,
    )


def write_results(
    event: EventReview,
    folder: FilePath,
    *,
    pages: bool = True,
    parquet: bool = False,
    pdf: bool = False,
    units: str = "metric",
) -> list[Path]:
    """Write an event's or a rider's tables and pages into a folder, whole or not at all.

    Args:
        event: from :func:`review` or :func:`event`.
        folder: new, empty or written by lapkit before.
        pages, parquet, pdf: what to write besides the CSV tables and ``results.json``.
        units: ``metric`` or ``us``, for the pages; tables are always SI.

    Returns:
        The pages written; the one to open comes first.

    Raises:
        OptionError: there are no such units.
        OutputError: the folder cannot be written, or a file that ``event`` was measured from is in it.
    """
    formats = Formats(Units.named(units), pages=pages, parquet=parquet, pdf=pdf)
    return write(event, Path(folder), formats)


def _path(given: FilePath | None) -> Path | None:
    return None if given is None else Path(given)
