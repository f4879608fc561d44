"""The line that the coach rode, as the marker line: from his own log, or from his laps recorded on a walk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from lapkit.arrays import FloatArray, read_only
from lapkit.counting import counted
from lapkit.course import place
from lapkit.course.course import Course
from lapkit.course.in_degrees import RIDDEN_VERTEX_M, line_in_degrees
from lapkit.course.marker_line import ridden_marker_line
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine, LineSource, Track
from lapkit.course.walk_words import Thing, read_name
from lapkit.errors import LapkitError, LogError, TrackError
from lapkit.importer import Log
from lapkit.importer.clean import clean
from lapkit.importer.fixes import RawFixes
from lapkit.importer.quality import assess
from lapkit.path.ridden import ride_path
from lapkit.splitter import LapKind, split

if TYPE_CHECKING:
    # This imports gpxpy and with it half of the web's protocols: too much in every worker for the sake of a type.
    from lapkit.course.walk_file import Recorded, WalkFile

_STEP_S = 0.1  # between places of a lap: 6 m at 200 km/h, where the line is smoothed over 16 m


class _CoachLine(NamedTuple):
    """The mean of the coach's whole laps, the standard deviation of its place, metres, and the number of laps."""

    line: StationLine
    sd_m: float
    laps: int


def with_coach_line(course: Course, log: Log) -> Course:
    """The course with the mean of the coach's whole laps as its marker line, with the uncertainty of his receiver.

    Raises:
        LogError: his log is of no use, or good for lap times only (:func:`~lapkit.importer.quality.assess`).
        PathError: it does not determine a path.
        TrackError: it holds no whole lap.
    """
    own = _coach_line(course, log)
    return replace(
        course,
        marker_line=own.line,
        marker_line_from=LineSource.RIDDEN,
        marker_line_sd_m=own.sd_m,
    )


def _coach_line(course: Course, log: Log) -> _CoachLine:
    quality = assess(log)
    quality.require_usable(log.source)
    if not quality.tells_radius:
        raise LogError(
            "the coach's log tells lap times only, and no radius of the line he rode",
            where=log.source,
            remedy="Log his laps at 5 Hz or more, or leave --line out; `lapkit check` says more of this one.",
        )
    path = ride_path(log, course.plane, course=course)
    timed = [lap for lap in split(path, course) if lap.kind is LapKind.TIMED]
    laps = []
    for lap in timed:
        time = np.arange(lap.start_s, lap.end_s, _STEP_S)
        tyre_x, tyre_y = path.at(time).tyre_xy_m
        laps.append(course.reference.follow(tyre_x[0], tyre_y[0]))
    if not timed:
        raise TrackError(
            "the coach's log holds no whole lap",
            where=log.source,
            remedy="Give a log of whole laps, or leave --line out.",
        )
    sd_m = path.offset.typical_sd_m(timed[0].start_s, timed[-1].end_s)
    return _CoachLine(ridden_marker_line(course, laps), sd_m, len(laps))


def with_walked_laps(track: Track, walk: WalkFile) -> tuple[Track, str]:
    """A walk's track with the coach's recorded laps, where they have times, measured as a log of his would be.

    A line drawn through their bare places would bend with every error of a fix.

    Args:
        track: made from the walk; its marker line is drawn through his laps.
        walk: the walk.

    Returns:
        The track, and a remark on what was done; empty where no such lap has times.
    """
    laps = []
    for recorded in walk.tracks:
        named = read_name(recorded.name)
        if named is not None and named.thing is Thing.COACH_LAP:
            laps.append(recorded)
    timed = [each for each in laps if np.isfinite(each.time_s).any()]
    drawn = track.marker_line
    if not timed or drawn is None:
        return track, ""
    try:
        course = place(track)
        logs = clean(_fixes(timed), walk.source)
        own = _coach_line(course, max(logs, key=len))
    except LapkitError as error:
        return track, (
            f"coach lap: its line is drawn through the places recorded, and its radii are rough ({error.what}); "
            "give his log to lapkit track with --line"
        )
    ridden = line_in_degrees(course.plane, own.line, RIDDEN_VERTEX_M)
    line = replace(drawn, lon_lat=ridden.lon_lat, height_m=_heights_along(drawn, ridden))
    how = "its recordings were measured together as a log is"
    if len(timed) == 1:
        how = "measured as a log is"
    remarks = [f"coach lap: {how}, the mean of {counted(own.laps, 'whole lap')}"]
    if len(logs) > 1:
        remarks.append("of recordings of several days or receivers the longest was taken")
    if len(timed) < len(laps):
        remarks.append("what has no times was left out")
    return replace(track, marker_line=line), "; ".join(remarks)


def _fixes(recordings: Sequence[Recorded]) -> RawFixes:
    """Recordings with times as one log, in the order in which they were begun."""
    in_order = sorted(recordings, key=lambda each: float(np.nanmin(each.time_s)))
    return RawFixes(
        np.concatenate([each.time_s for each in in_order]),
        np.concatenate([each.lat_deg for each in in_order]),
        np.concatenate([each.lon_deg for each in in_order]),
    )


def _heights_along(known: GeoLine, line: GeoLine) -> FloatArray | None:
    """Heights of a line's vertices, each that of the nearest vertex of a known line, metres, ``(n,)``; None without."""
    if known.height_m is None:
        return None
    _, nearest = cKDTree(known.lon_lat).query(line.lon_lat)
    return read_only(known.height_m[nearest])
