"""One rider's run, from log file to measures: the unit of work that a worker is given.

A job is plain data, and so is what comes back: results, or a record of why there are none.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from operator import itemgetter
from pathlib import Path

import numpy as np
import pandas as pd

from lapkit.compare.results import RunResult, Unusable
from lapkit.compare.run import measure_run
from lapkit.course import place, read_track
from lapkit.course.course import Course
from lapkit.course.elsewhere import require_along, require_near
from lapkit.course.found import MOST_PATHS, course_from_paths
from lapkit.course.marker_line import ridden_marker_line, with_line
from lapkit.course.plane import Plane
from lapkit.errors import EventError, LapkitError, TrackError
from lapkit.importer import MAX_BYTES, Log, read_log, read_logs
from lapkit.importer.event_folder import Entry
from lapkit.importer.quality import Quality, assess
from lapkit.importer.repeats import offsets_m
from lapkit.path.base import BaseError
from lapkit.path.heights import Heights
from lapkit.path.ridden import RiddenPath, ride_path
from lapkit.splitter import Lap, LapKind, missing_s, split, unlapped

NO_LAPS = "no laps"
"""Verdict on a log, however good, of which no lap could be timed."""


@dataclass(frozen=True)
class Options:
    """What was asked for beyond the logs; all of it is kept in ``results.json``."""

    columns: tuple[tuple[str, str], ...] = ()
    max_bytes: int = MAX_BYTES
    trace: bool = False


def course_of(track: Path, line: Path | None = None) -> Course:
    """The placed course with its marker line: given, ridden by the coach, or solved from the cones.

    Where the cones cannot be met by any line, the course comes without one.

    Args:
        track: the track file.
        line: the coach's own log.

    Raises:
        TrackError: the track file, or the coach's laps on it, cannot be used.
        LogError: the coach's log cannot be read.
    """
    course = place(read_track(track))
    if line is not None:
        return with_coach_line(course, read_log(line))
    try:
        return with_line(course) if course.corners else course
    except TrackError:
        return course


def with_coach_line(course: Course, log: Log) -> Course:
    """The course with the mean of the coach's whole laps as its marker line.

    Raises:
        PathError: his log does not determine a path.
        TrackError: it holds no whole lap.
    """
    path = ride_path(log, course.plane, course=course)
    laps = []
    for lap in split(path, course):
        if lap.kind is not LapKind.TIMED:
            continue
        time = np.arange(lap.start_s, lap.end_s, 0.1)
        tyre_x, tyre_y = path.at(time).tyre_xy_m
        laps.append(course.reference.follow(tyre_x[0], tyre_y[0]))
    if not laps:
        raise TrackError(
            "the coach's log holds no whole lap",
            where=log.source,
            remedy="Give a log of whole laps, or leave --line out.",
        )
    line = ridden_marker_line(course, laps)
    return replace(course, marker_line=line, marker_line_from="ridden")


def measure_entry(
    entry: Entry, course: Course, options: Options, base: BaseError | None = None
) -> tuple[list[RunResult], list[Unusable]]:
    """Measure the runs in one log; what could not be used comes back as records, never as an exception.

    Args:
        entry: whose log it is.
        course: what it is measured against.
        options: reading and tracing options.
        base: how far off receivers were (:func:`~lapkit.path.base.base_error`).
    """
    runs: list[RunResult] = []
    unusable: list[Unusable] = []
    if entry.fault:
        return runs, [Unusable(entry.rider, entry.session, entry.file, entry.fault)]
    try:
        logs = _logs_of(entry, options)
    except Exception as error:
        return runs, [Unusable(entry.rider, entry.session, entry.file, _reason(error))]
    for rider, session, log in by_rider(logs, entry):
        own = replace(entry, rider=rider, session=session)
        try:
            runs.append(measure_log(log, own, course, base=base, trace=options.trace)[2])
        except Exception as error:
            unusable.append(Unusable(rider, session, entry.file, _reason(error)))
    return runs, unusable


def _reason(error: Exception) -> str:
    """Why a log could not be used; a fault of ours costs that log, never the event.

    Raises:
        Exception: the fault itself, when it is looked for with ``LAPKIT_DEBUG=1``.
    """
    if isinstance(error, LapkitError):
        return error.what
    if os.environ.get("LAPKIT_DEBUG") == "1":
        raise error
    return f"a fault in lapkit itself ({type(error).__name__}: {error})"


def by_rider(logs: Sequence[Log], entry: Entry) -> Iterator[tuple[str, str, Log]]:
    """Rider, session and log; where the file itself names several riders, those are believed.

    A line of riders.csv that names one of them is about his fixes alone.
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
        yield rider, entry.session if number == 1 else f"{entry.session} part {number}", log


def measure_log(
    log: Log, entry: Entry, course: Course, *, base: BaseError | None = None, trace: bool = False
) -> tuple[RiddenPath, tuple[Lap, ...], RunResult]:
    """The ridden path of one log, its laps, and what is measured of them.

    Args:
        log: the fixes.
        entry: rider, session, file and heights above the road, metres.
        course: what it is measured against.
        base: how far off receivers were (:func:`~lapkit.path.base.base_error`).
        trace: whether the result holds a row for each fix too.

    Raises:
        LogError: the log was ridden elsewhere.
        PathError: it does not determine a path.
    """
    if not course.found:
        require_near(course, log.lat_deg, log.lon_deg, log.source)
    heights = Heights(entry.antenna_height_m, entry.com_height_m, entry.tyre_radius_m)
    path = ride_path(log, course.plane, course=course, heights=heights, base=base)
    laps = split(path, course)
    no_lap = unlapped(laps, path)
    if no_lap and not course.found:
        require_along(course, log.lat_deg, log.lon_deg, log.source)
    result = measure_run(
        path,
        laps,
        course,
        rider=entry.rider,
        session=entry.session,
        trace=trace,
        tyre_radius_m=entry.tyre_radius_m,
        has_clock=log.has_clock,
    )
    tables = {**result.tables, "logs": log_table(path, assess(log), entry, no_lap)}
    return path, laps, replace(result, tables=tables)


def log_table(path: RiddenPath, quality: Quality, entry: Entry, no_lap: str = "") -> pd.DataFrame:
    """The line of the table ``logs`` for one log; ``no_lap`` says why none of its laps was timed."""
    noise = path.estimate.noise
    notes = [*([no_lap] if no_lap else []), *quality.sentences, *path.offset.notes]
    notes += [d.text for d in path.log.dropped if d.count]
    if path.adrift_s:
        notes.append(
            f"for {path.adrift_s:.0f} s positions strayed from where their velocities led, as under a "
            "bridge or beside trees, and were left out"
        )
    if path.lag_s:
        notes.append(f"the logged velocity came {path.lag_s:.2f} s late and was dated back")
    row = {
        "rider": entry.rider,
        "session": entry.session,
        "file": entry.file,
        "sha256": path.log.sha256,
        "rate_hz": path.log.rate_hz,
        "has_velocity": path.log.has_velocity,
        "noise_m": noise.white_m,
        "position_sd_m": path.offset.typical_sd_m,
        "offset_from": path.offset.source,
        "missing_s": missing_s(path, path.start_s, path.end_s),
        "wild_fixes": int(np.count_nonzero(path.estimate.wild)),
        "verdict": NO_LAPS if no_lap else str(quality.verdict),
        "note": "; ".join(notes),
        "no_lap": no_lap,
        "guessed": "; ".join(f"{what}: {how}" for what, how in path.log.guesses.items()),
        "wander_m": noise.wander_m,
        "velocity_noise_mps": noise.velocity_mps if path.log.has_velocity else np.nan,
        "velocity_lag_s": path.lag_s,
    }
    return pd.DataFrame([row])


def find_course(entries: tuple[Entry, ...], options: Options) -> Course:
    """The course as the riders' own logs show it, when there is no track file.

    Raises:
        LapkitError: no log can be read, or nothing is ridden in them.
    """
    logs, trouble = _longest(entries, options)
    if not logs:
        raise trouble or TrackError("no log to find a course from")
    plane = Plane(float(np.median(logs[0].lat_deg)), float(np.median(logs[0].lon_deg)))
    paths = []
    for log in logs:
        try:
            path = ride_path(log, plane, draws=4)
        except LapkitError as error:
            trouble = error
            continue
        time = np.arange(path.start_s, path.end_s, min(0.5, 1.0 / max(log.rate_hz, 1e-3)))
        x, y = path.mean_xy(time)
        paths.append((time, x, y, path.mean_speed(time)))
    if not paths:
        raise trouble or TrackError("no log to find a course from")
    try:
        return course_from_paths(paths, plane)
    except TrackError as error:
        raise TrackError(
            f"no course can be found from what was ridden ({error.what})",
            where=", ".join(dict.fromkeys(log.source for log in logs)),
            remedy="Run `lapkit check` on it, or give a track file with --track.",
        ) from None


def _longest(entries: Sequence[Entry], options: Options) -> tuple[list[Log], LapkitError | None]:
    """The logs with most riding in them, in order, and the last reason why another cannot be read.

    No more than a course is found from: to recover a path takes far longer than to see how long it is,
    and hundreds of logs would not fit into memory.
    """
    logs: list[tuple[float, Log]] = []
    trouble: LapkitError | None = None
    for entry in entries:
        try:
            if entry.fault:
                # Whatever is wrong with the line, a path out of the folder included, its log stays shut.
                raise EventError(
                    entry.fault, where=entry.file, remedy="Mend its line in riders.csv."
                )
            logs += [(_about_ridden_m(log), log) for log in _logs_of(entry, options)]
        except LapkitError as error:
            trouble = error
        while len(logs) > MOST_PATHS:
            logs.remove(min(logs, key=itemgetter(0)))
    return [log for _, log in logs], trouble


def _about_ridden_m(log: Log) -> float:
    """About how far was ridden, metres, from fixes a second apart: nearer ones differ by their noise."""
    if len(log) < 2:
        return 0.0
    stride = int(np.clip(np.round(log.rate_hz), 1, len(log) - 1))
    return float(np.sum(np.hypot(*offsets_m(log.lat_deg, log.lon_deg, stride)))) / stride


def _logs_of(entry: Entry, options: Options) -> tuple[Log, ...]:
    columns = dict(options.columns) or None
    return read_logs(entry.path, columns=columns, max_bytes=options.max_bytes)
