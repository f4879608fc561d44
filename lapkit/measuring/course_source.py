"""The course that logs are measured on: from a track file, with the line the coach wants, or found from the logs."""

from __future__ import annotations

from collections.abc import Sequence
from operator import itemgetter
from pathlib import Path

import numpy as np

from lapkit.coordinates import offsets_m
from lapkit.course import place, read_track
from lapkit.course.course import Course
from lapkit.course.found import MOST_PATHS, course_from_paths
from lapkit.course.marker_line import with_line
from lapkit.course.plane import Plane, middle_deg
from lapkit.course.rides import Ride
from lapkit.errors import LapkitError, OptionError, TrackError
from lapkit.importer import Log
from lapkit.importer.quality import assess
from lapkit.importer.riders_file import Entry
from lapkit.measuring.coach_line import with_coach_line
from lapkit.measuring.options import Options
from lapkit.measuring.runs import log_beside, logs_of
from lapkit.path.ridden import ride_path


def course_for(
    entries: Sequence[Entry], track: Path | None, line: Path | None, options: Options
) -> Course:
    """The course of a track file, or, without one, the course that the riders' own logs show.

    Raises:
        OptionError: the coach's log was given without a track file.
        LapkitError: the track file or the coach's log cannot be used, or no course is found.
    """
    if track is not None:
        return course_of(track, line, options)
    if line is not None:
        # An error is better than ignoring what was given.
        raise OptionError(
            "the coach's line needs a track file: without one there is no marker line",
            remedy="Give the course with --track, or leave --line out.",
        )
    return find_course(entries, options)


def course_of(track: Path, line: Path | None = None, options: Options | None = None) -> Course:
    """The placed course with its marker line: given, ridden by the coach, or solved from the cones.

    Where no line can pass the cones as asked, the course has none.

    Args:
        track: the track file.
        line: the coach's own log.
        options: how it is read.

    Raises:
        TrackError: the track file, or the coach's laps on it, cannot be used.
        LogError: the coach's log cannot be read, or is of no use.
        PathError: the coach's log does not determine a path.
    """
    course = place(read_track(track))
    if line is not None:
        return with_coach_line(course, log_beside(line, options or Options()))
    try:
        return with_line(course) if course.corners else course
    except TrackError:
        return course


def find_course(entries: Sequence[Entry], options: Options) -> Course:
    """The course that the riders' own logs show, when there is no track file.

    Raises:
        LapkitError: no log can be read, or nothing is ridden in them.
    """
    logs, last_error = _longest(entries, options)
    if last_error and not logs:
        raise last_error
    return course_of_logs(logs)


def course_of_logs(logs: Sequence[Log]) -> Course:
    """The course that logs show.

    Raises:
        PathError: none of them determines a path.
        TrackError: there are no logs, or nothing is ridden in them.
    """
    if not logs:
        raise TrackError("no log to find a course from", remedy="Give a log, or a track file.")
    lon, lat = middle_deg(np.stack([logs[0].lon_deg, logs[0].lat_deg], axis=-1))
    plane = Plane(lat, lon)
    paths, last_error = [], None
    for log in logs:
        try:
            path = ride_path(log, plane, draws=4)
        except LapkitError as error:
            last_error = error
            continue
        time = np.arange(path.start_s, path.end_s, min(0.5, 1.0 / max(log.rate_hz, 1e-3)))
        x, y = path.mean_xy(time)
        paths.append(Ride(time, x, y, path.mean_speed(time)))
    if last_error and not paths:
        raise last_error
    try:
        return course_from_paths(paths, plane)
    except TrackError as error:
        raise TrackError(
            f"no course can be found from what was ridden ({error.what})",
            where=", ".join(dict.fromkeys(log.source for log in logs)),
            remedy="Run `lapkit check` on it, or give a track file with --track.",
        ) from None


def _longest(entries: Sequence[Entry], options: Options) -> tuple[list[Log], LapkitError | None]:
    """The logs with the most riding in them, in order, and the last error of those that cannot be used.

    They are no more than a course is found from: recovering a path takes far longer than estimating its length, and
    hundreds of logs would not fit into memory.
    """
    logs: list[tuple[float, Log]] = []
    last_error: LapkitError | None = None
    for entry in entries:
        try:
            read = logs_of(entry, options)
        except LapkitError as error:
            last_error = error
            continue
        for log in read:
            try:
                assess(log).require_usable(log.source)
            except LapkitError as error:
                last_error = error
            else:
                logs.append((_about_ridden_m(log), log))
        while len(logs) > MOST_PATHS:
            logs.remove(min(logs, key=itemgetter(0)))
    return [log for _, log in logs], last_error


def _about_ridden_m(log: Log) -> float:
    """About how far was ridden, metres, from fixes a second apart: fixes closer in time differ by their noise."""
    if len(log) < 2:
        return 0.0
    stride = int(np.clip(np.round(log.rate_hz), 1, len(log) - 1))
    return float(np.sum(np.hypot(*offsets_m(log.lat_deg, log.lon_deg, stride)))) / stride
