"""One rider's run, from log file to measures: the unit of work that a worker is given.

A job is plain data, and so is its outcome: results, or a record of why there are none.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from lapkit.compare.results import NO_MEMORY, LogResults, RunOf, RunResult, Unusable
from lapkit.compare.run import measure_run
from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.course.elsewhere import require_along, require_near
from lapkit.errors import EventError, LapkitError, LogError
from lapkit.importer import Log, read_log, read_logs
from lapkit.importer.quality import Quality, assess
from lapkit.importer.quality_words import sentence
from lapkit.importer.riders_file import Entry
from lapkit.importer.run_names import RunNames
from lapkit.measuring.options import Options
from lapkit.path.base import BaseError
from lapkit.path.ridden import RiddenPath, ride_path
from lapkit.splitter import Lap, LapKind, missing_s, split, why_no_lap

NO_LAPS = "no laps"
"""Verdict on a log, however good, in which no lap could be timed."""


def measure_entry(
    entry: Entry, course: Course, options: Options, base: BaseError | None = None
) -> LogResults:
    """Measure the runs in one log; runs that cannot be used come back as records, never as an exception.

    Args:
        entry: whose log it is.
        course: what it is measured against.
        options: reading and tracing options.
        base: the error that receivers shared (:func:`~lapkit.path.base.base_error`).
    """
    try:
        logs = logs_of(entry, options)
    except Exception as error:  # noqa: BLE001 - a fault of ours costs this log, never the event
        return LogResults([], [Unusable(entry.rider, entry.session, entry.file, _reason(error))])
    results = LogResults([], [])
    for rider, session, log in by_rider(logs, entry):
        own = replace(entry, rider=rider, session=session)
        try:
            run = measure_log(log, own, course, base=base, trace=options.trace)
            results.runs.append(run.result)
        except Exception as error:  # noqa: BLE001 - as above
            results.unusable.append(Unusable(rider, session, entry.file, _reason(error)))
    return results


def _reason(error: Exception) -> str:
    """Why a log could not be used: in the error's words, or that lapkit itself has a fault.

    Raises:
        Exception: the fault itself, under ``LAPKIT_DEBUG=1``.
    """
    if isinstance(error, LapkitError):
        return error.what
    if isinstance(error, MemoryError):
        return NO_MEMORY
    if os.environ.get("LAPKIT_DEBUG") == "1":
        raise error
    return f"a fault in lapkit itself ({type(error).__name__}: {error})"


class LoggedRun(NamedTuple):
    """A run in a file: who rode, what the run is called, and its log."""

    rider: str
    session: str
    log: Log


def by_rider(logs: Sequence[Log], entry: Entry) -> Iterator[LoggedRun]:
    """Every run in an entry's file.

    If the file itself names several riders, its names count. If the entry names one of them, it is about his
    fixes alone.
    """
    names = {log.rider for log in logs}
    if entry.rider in names:
        logs = [log for log in logs if log.rider == entry.rider]
    several = len({log.rider for log in logs}) > 1
    parts: Counter[str] = Counter()
    for log in logs:
        rider = log.rider or entry.rider if several else entry.rider
        parts[rider] += 1
        number = parts[rider]
        session = entry.session if number == 1 else f"{entry.session} part {number}"
        yield LoggedRun(rider, session, log)


def of_own_name(run: RunResult, names: RunNames) -> RunResult:
    """The run, under another name where its own is taken already: several files may each hold a rider's run of one name.

    Its name is taken in ``names``.
    """
    name = names.take(run.rider, run.session)
    return run if name == run.session else run.renamed(name)


class MeasuredRun(NamedTuple):
    """A run's ridden path, its laps in time order, and what was measured of them."""

    path: RiddenPath
    laps: tuple[Lap, ...]
    result: RunResult


def measure_log(
    log: Log,
    entry: Entry,
    course: Course,
    *,
    base: BaseError | None = None,
    trace: bool = False,
) -> MeasuredRun:
    """The ridden path of one log, its laps, and what is measured of them.

    Args:
        log: the fixes.
        entry: rider, session, file and the machine's heights.
        course: what it is measured against.
        base: the error that receivers shared (:func:`~lapkit.path.base.base_error`).
        trace: whether the result holds a row for each fix too.

    Raises:
        LogError: the log was ridden elsewhere, or is of no use (:func:`~lapkit.importer.quality.assess`).
        PathError: it does not determine a path.
    """
    if not course.found:
        require_near(course, log.lat_deg, log.lon_deg, log.source)
    quality = assess(log)
    quality.require_usable(log.source)
    path = ride_path(log, course.plane, course=course, heights=entry.heights, base=base)
    laps = split(path, course)
    no_lap = why_no_lap(laps, path, course)
    if no_lap and not course.found:
        require_along(course, log.lat_deg, log.lon_deg, log.source)
    result = measure_run(
        path,
        laps,
        course,
        RunOf(
            entry.rider,
            entry.session,
            tyre_radius_m=path.heights.tyre_radius_m,
            has_clock=log.has_clock,
            tells_radius=quality.tells_radius,
        ),
        trace=trace,
    )
    tables = {**result.tables, "logs": log_table(path, laps, quality, entry, no_lap)}
    return MeasuredRun(path, laps, replace(result, tables=tables))


def log_table(
    path: RiddenPath, laps: Sequence[Lap], quality: Quality, entry: Entry, no_lap: str = ""
) -> pd.DataFrame:
    """The line of the table ``logs`` for one log, whose laps are in time order; ``no_lap`` says why none was timed."""
    noise = path.estimate.noise
    notes = [*([no_lap] if no_lap else []), *quality.sentences, *_of_path(path)]
    if quality.tells_radius and not path.heights.antenna_measured:
        notes.append(
            f"no antenna height was given, so {path.heights.antenna_m:g} m above the road was taken; "
            "0.4 m more, as in a backpack, shifts the largest lean by about a degree"
        )
    row = {
        "rider": entry.rider,
        "session": entry.session,
        "file": entry.file,
        "sha256": path.log.sha256,
        "rate_hz": path.log.rate_hz,
        "has_velocity": path.log.has_velocity,
        "noise_m": noise.white_m,
        "position_sd_m": _position_sd_m(path, laps),
        "offset_from": path.offset.source,
        "missing_s": missing_s(path, path.start_s, path.end_s),
        "wild_fixes": int(np.count_nonzero(path.estimate.wild)),
        "verdict": NO_LAPS if no_lap else str(quality.verdict),
        "note": " ".join(map(sentence, notes)),
        "no_lap": no_lap,
        "guessed": "; ".join(f"{what}: {how}" for what, how in path.log.guesses.items()),
        "wander_m": noise.wander_m,
        "velocity_noise_mps": noise.velocity_mps if path.estimate.has_velocity else np.nan,
        "velocity_lag_s": path.lag_s,
        "antenna_height_m": path.heights.antenna_m,
    }
    return pd.DataFrame([row])


def _position_sd_m(path: RiddenPath, laps: Sequence[Lap]) -> float:
    """How far positions may still be off from the first timed lap to the last: hours logged before the ride say nothing of it.

    Without a timed lap it is that of the whole log.
    """
    timed = [lap for lap in laps if lap.kind is LapKind.TIMED]
    if not timed:
        return path.offset.typical_sd_m()
    return path.offset.typical_sd_m(timed[0].start_s, timed[-1].end_s)


def _of_path(path: RiddenPath) -> Iterator[str]:
    """What was found of a log while its path was recovered."""
    yield from path.offset.notes
    yield from (dropped.text for dropped in path.log.dropped if dropped.count)
    if path.jumps.count:
        times = "once" if path.jumps.count == 1 else f"{path.jumps.count} times"
        yield (
            f"positions jumped {times}, by up to {path.jumps.largest_m:.1f} m, and went on from there, as when a "
            "receiver changes satellites; that was taken out"
        )
    if path.adrift_s:
        yield (
            f"for {path.adrift_s:.0f} s positions strayed from where their velocities led, as under a "
            "bridge or beside trees, and were left out"
        )
    if count := path.estimate.wild_velocities:
        velocities = counted(count, "velocity was", "velocities were")
        yield f"{velocities} too far from the path, as under a bridge or beside a wall, and left out"
    if path.lag_s:
        came, dated = ("late", "back") if path.lag_s > 0.0 else ("early", "forward")
        yield f"the logged velocity came {abs(path.lag_s):.2f} s {came} and was dated {dated}"
    if path.estimate.blur_s:
        over_s = np.sqrt(12.0) * path.estimate.blur_s
        yield f"the receiver averages its velocity over about {over_s:.1f} s; that was made good"


def logs_of(entry: Entry, options: Options) -> tuple[Log, ...]:
    """The logs in an entry's file.

    Raises:
        EventError: the entry's line in ``riders.csv`` has a fault (a path that leads out of the folder is one); its
            file is then not opened.
        LogError: the file cannot be read.
    """
    if entry.fault:
        raise EventError(entry.fault, where=entry.file, remedy="Mend its line in riders.csv.")
    columns = dict(options.columns) or None
    limit = options.max_bytes
    return read_logs(entry.path, columns=columns, max_bytes=limit, sha256=entry.sha256)


def log_beside(path: Path, options: Options) -> Log:
    """A log given beside those of riders: the coach's own, or a base log.

    Columns are those asked for where it has such headers, since it may come from a receiver like theirs; else those that
    its own headers name.

    Raises:
        LogError: the file cannot be read.
    """
    if options.columns:
        with suppress(LogError):
            return read_log(path, columns=dict(options.columns), max_bytes=options.max_bytes)
    return read_log(path, max_bytes=options.max_bytes)
