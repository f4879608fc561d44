"""The chain, written out: logs in, measures, findings, a review out.

importer → ridden path → splitter → course → measures → findings; :mod:`lapkit.reporter` writes what comes
out. One rider's run is the unit of work, so the same function serves one log and an event on many cores.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from lapkit import __version__
from lapkit.compare.results import RunResult, Unusable
from lapkit.course.course import Course
from lapkit.errors import EventError, no_such
from lapkit.findings import find, findings_table
from lapkit.importer.event_folder import Entry, read_event_folder
from lapkit.reporter.review_types import TABLES, EventReview, RiderReview
from lapkit.runs import (
    CourseSource,
    Options,
    find_course,
    measure_entry,
    overlaps,
    placed_course,
)
from lapkit.workers import own_processes

SCHEMA_VERSION = 1
"""Version of the tables and of ``results.json``."""

Measured = tuple[list[RunResult], list[Unusable]]
"""What came of one log: its runs, and records of what could not be used."""

Progress = Callable[[int, int], None]
"""Called with runs done and runs in all."""


def review(
    logs: Sequence[Path],
    *,
    track: Path | None = None,
    rider: str = "",
    line: Path | None = None,
    base: Path | None = None,
    riders: Path | None = None,
    options: Options | None = None,
    units: str = "metric",
) -> EventReview:
    """One rider's debrief from his logs, each a run.

    Args:
        logs: his logs, in time order.
        track: track file; without it loop and corners are found from the logs.
        rider: his name; else from ``riders``, else the first log's name.
        line: the coach's own log, whose mean lap is the marker line.
        base: log of a receiver left standing on a known spot.
        riders: a ``riders.csv`` to take name, group and heights from.
        options: reading options.
        units: ``metric`` or ``us``, for the sentences of findings.

    Raises:
        OptionError: ``riders`` names nobody called ``rider``; the nearest is named.
        LapkitError: nothing usable in what was given.
    """
    options = options or Options()
    listed = {e.path.name: e for e in read_event_folder(riders.parent)} if riders else {}
    names = [entry.rider for entry in listed.values()]
    if rider and names and rider not in names:
        raise no_such("rider", rider, names)
    entries = tuple(_entry(path, i, rider, listed) for i, path in enumerate(logs, 1))
    course, measure = _course_and_job(entries, track, line, base, options)
    measured = map(measure, entries)
    inputs = [*logs, *(p for p in (track, line, base, riders) if p)]
    return _gather(entries, measured, course, inputs, options, units, title=entries[0].rider)


def event(
    folder: Path,
    *,
    track: Path | None = None,
    line: Path | None = None,
    base: Path | None = None,
    options: Options | None = None,
    units: str = "metric",
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> EventReview:
    """Every rider of an event folder.

    Args:
        folder: holds ``riders.csv``, the logs it names and ``track.geojson``.
        track: another track file than the folder's own.
        line, base, options, units: as in :func:`review`.
        workers: processes to use; the machine's cores when None.
        executor: anything with the ``concurrent.futures`` interface, instead of own processes.
        progress: told after each log.

    Raises:
        LapkitError: the folder cannot be used, or none of its logs can.
    """
    options = options or Options()
    entries = read_event_folder(folder)
    own = folder / "track.geojson"
    track = track or (own if own.is_file() else None)
    course, measure = _course_and_job(entries, track, line, base, options)
    with _executor(executor, workers, len(entries)) as pool:
        if pool is None:
            measured = map(measure, entries)
        else:
            futures = [pool.submit(measure, e) for e in entries]
            measured = (f.result() for f in futures)
        measured = _counted(measured, len(entries), progress)
        usable = [e.path for e in entries if not e.fault]
        inputs = [folder / "riders.csv", *(p for p in (track, line, base) if p), *usable]
        return _gather(
            entries, measured, course, inputs, options, units, title=folder.resolve().name
        )


def _course_and_job(
    entries: tuple[Entry, ...],
    track: Path | None,
    line: Path | None,
    base: Path | None,
    options: Options,
) -> tuple[Course, Callable[[Entry], Measured]]:
    """The course, placed from its track file or found from the logs, and how to measure an entry on it.

    The job carries a track file's name, not the placed course: a worker places it once and keeps it.
    """
    if track is None:
        course = find_course(entries, options)
        return course, partial(measure_entry, source=None, options=options, found=course)
    source = CourseSource(str(track), str(line or ""), str(base or ""))
    return placed_course(source), partial(measure_entry, source=source, options=options)


def _entry(path: Path, number: int, rider: str, listed: dict[str, Entry]) -> Entry:
    known = listed.get(path.name)
    if known is not None:
        return Entry(**{**asdict(known), "rider": rider or known.rider, "path": path, "fault": ""})
    name = rider or path.name.split(".")[0] or "rider"
    return Entry(rider=name, session=str(number), file=path.name, path=path)


@contextmanager
def _executor(given: Executor | None, workers: int | None, jobs: int) -> Iterable[Executor | None]:
    """The executor to use, or None to work in this process."""
    count = min(workers or len(os.sched_getaffinity(0)), jobs)
    if given is not None:
        yield given
    elif count <= 1:
        yield None
    else:
        with own_processes(count) as pool:
            yield pool


def _counted(results: Iterable[Any], total: int, progress: Progress | None) -> Iterable[Any]:
    for done, result in enumerate(results, 1):
        if progress:
            progress(done, total)
        yield result


def _gather(
    entries: Sequence[Entry],
    measured: Iterable[Measured],
    course: Course,
    inputs: Sequence[Path],
    options: Options,
    units: str,
    title: str,
) -> EventReview:
    """Put runs together by rider, find what to say, and join the tables."""
    runs: dict[str, list[RunResult]] = {}
    first: dict[str, Entry] = {}
    unusable: list[Unusable] = []
    for entry, (of_entry, not_of_entry) in zip(entries, measured, strict=True):
        for run in of_entry:
            first.setdefault(run.rider, entry)
            runs.setdefault(run.rider, []).append(run)
        unusable += not_of_entry
    if not any(runs.values()):
        reasons = "; ".join(f"{u.file}: {u.reason}" for u in unusable)
        raise EventError(
            f"no log could be used ({reasons})", remedy="Run `lapkit check` on a log to see more."
        )
    riders = []
    for name, of_rider in runs.items():
        if of_rider:
            entry = first[name]
            findings = find(tuple(of_rider), course, entry.group, units=units)
            riders.append(
                RiderReview(name, entry.group, tuple(of_rider), findings, entry.bike, entry.note)
            )
    return EventReview(
        course=course,
        riders=tuple(riders),
        unusable=tuple(unusable),
        tables=_joined(riders),
        provenance=_provenance(inputs, options, units),
        title=title,
        notes=tuple(note for r in riders for note in overlaps(r.rider, r.runs)),
    )


def _joined(riders: Sequence[RiderReview]) -> dict[str, pd.DataFrame]:
    tables: dict[str, pd.DataFrame] = {}
    everything = [run for rider in riders for run in rider.runs]
    for name in dict.fromkeys([*TABLES, *everything[0].tables]):
        if name == "findings":
            tables[name] = findings_table([f for rider in riders for f in rider.findings])
        else:
            frames = [run.tables[name] for run in everything if name in run.tables]
            full = [f for f in frames if len(f)] or frames[:1]
            tables[name] = pd.concat(full, ignore_index=True)
    return tables


def _provenance(inputs: Sequence[Path], options: Options, units: str) -> dict[str, Any]:
    return {
        "program": "lapkit",
        "version": __version__,
        "schema": SCHEMA_VERSION,
        "options": {**asdict(options), "units": units},
        "inputs": {path.name: _sha256(path) for path in inputs},
    }


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def lap_tables(
    logs: Sequence[Path], *, track: Path | None = None, options: Options | None = None
) -> tuple[Course, dict[str, pd.DataFrame], tuple[Unusable, ...]]:
    """Course, tables and unusable logs for a quick look at laps; one rider a log.

    Raises:
        LapkitError: nothing usable in what was given.
    """
    options = options or Options()
    entries = tuple(Entry(rider=path.name, session="1", file=path.name, path=path) for path in logs)
    course, measure = _course_and_job(entries, track, None, None, options)
    runs: list[RunResult] = []
    unusable: list[Unusable] = []
    for of_entry, not_of_entry in map(measure, entries):
        runs += of_entry
        unusable += not_of_entry
    if not runs:
        raise EventError("; ".join(f"{u.file}: {u.reason}" for u in unusable))
    names = [n for n in TABLES if n != "findings"]
    tables = {n: pd.concat([r.tables[n] for r in runs], ignore_index=True) for n in names}
    return course, tables, tuple(unusable)
