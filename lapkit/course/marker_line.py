"""The line that the coach's cones imply: solved from them, or the mean of his own laps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.corridor import window
from lapkit.course.course import Course
from lapkit.course.line_problem import pose, stations
from lapkit.course.line_solver import solve
from lapkit.course.resample import STEP_M
from lapkit.course.smoothing import mean_of_known, smooth_even
from lapkit.course.stations import StationLine, growing
from lapkit.course.types import LineSource
from lapkit.errors import TrackError

SHORTEST_WAVE_M, LONGEST_WAVE_M = 16.0, 40.0
"""A ridden marker line is smoothed as its noise demands, within these limits of wavelength, metres."""

LONGEST_GAP_M = 100.0
"""Longest stretch of the course that the coach's laps may leave out, metres (our choice)."""

_FINER = 6  # integration steps per step of an arc line: over a lap the error is a millimetre
_SAME_LAP_M = 5.0  # metres before its start or beyond its end of which a lap still counts as covering the station


def solve_marker_line(course: Course) -> StationLine:
    """The line of largest radius that passes every cone as asked, inside the edges, all round the lap.

    In each corner its tightest radius is the largest possible; of the lines that have it, this is the one of least
    squared curvature. It is geometry: not the fastest line, and not advice. It begins beside the start of the
    reference.

    Raises:
        TrackError: no such line exists; the error names the cone that stands in the way.
    """
    cones = [
        window(course, corner, marker) for corner in course.corners for marker in corner.markers
    ]
    problem = pose(course, cones)
    start = np.clip(np.zeros(len(problem.station_m)), problem.lower_m, problem.upper_m)
    return arc_line(problem.points(solve(problem, start)), course.closed)


def with_line(course: Course) -> Course:
    """The course with its marker line, which is solved from the cones where the course has none yet.

    Raises:
        TrackError: as :func:`solve_marker_line`.
    """
    if course.marker_line is not None:
        return course
    return replace(
        course, marker_line=solve_marker_line(course), marker_line_from=LineSource.SOLVED
    )


def arc_line(points_m: FloatArray, closed: bool) -> StationLine:
    """The line of arcs along points ``(n, 2)``: its curvature is constant between the middles of two chords.

    A spline through points that run straight and then round a circle would overshoot at the transition, and be
    tighter than the line that was solved. Arcs with the headings of the chords miss the points by a few centimetres
    instead.
    """
    ends = np.concatenate([points_m[-1:], points_m, points_m[:2]]) if closed else points_m
    chord = np.diff(ends, axis=0)
    length = np.hypot(*chord.T)
    heading = np.unwrap(np.arctan2(chord[:, 1], chord[:, 0]))
    station = np.concatenate([[0.0], np.cumsum(length)])
    middle = 0.5 * (station[1:] + station[:-1])
    first, last = (station[1], station[-2]) if closed else (0.0, station[-1])
    fine = np.linspace(first, last, _FINER * int(np.ceil((last - first) / STEP_M)) + 1)
    turned = np.interp(fine, middle, heading)
    ahead = np.stack([np.cos(turned), np.sin(turned)], axis=-1)
    steps = np.diff(fine)[:, None] * (ahead[1:] + ahead[:-1]) / 2.0
    along = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    # The arcs miss the last point: the error is spread evenly over the line. Then the mean distance to the points is
    # taken off.
    share = ((fine - first) / (last - first))[:, None]
    along += points_m[0] + share * (points_m[0 if closed else -1] - points_m[0] - along[-1])
    at = station[1:-2] if closed else station
    reached = np.stack([np.interp(at, fine, axis) for axis in along.T], axis=-1)
    x, y = (along - np.mean(reached - points_m, axis=0))[::_FINER].T
    even = fine[::_FINER]
    of_arcs = np.concatenate([[0.0], np.diff(heading) / np.diff(middle), [0.0]])
    curvature = of_arcs[np.searchsorted(middle, even)]
    return StationLine(
        read_only(x),
        read_only(y),
        read_only(even - first),
        read_only(np.interp(even, middle, heading)),
        read_only(curvature),
        closed,
    )


def ridden_marker_line(
    course: Course, laps: Sequence[tuple[FloatArray, FloatArray]]
) -> StationLine:
    """The mean of the coach's laps, as a line that begins beside the start of the reference.

    Args:
        course: the course they were ridden on.
        laps: for each lap its stations and offsets from the reference, metres, each ``(m,)``, in time order and
            unwrapped as :meth:`StationLine.follow` gives them. A lap may begin anywhere and may be cut short.

    Raises:
        TrackError: no lap was given, or none of them covers some stretch of the course.
    """
    at = stations(course)
    offsets = np.array([_offsets_at(course, at, *lap) for lap in laps]).reshape(-1, len(at))
    mean = mean_of_known(offsets)
    ridden = np.isfinite(mean)
    _check_covered(course, at, ridden)
    period = course.reference.period_m
    offset = np.interp(at, at[ridden], mean[ridden], period=period)
    x, y = course.reference.offset_points(at, offset)
    smooth = smooth_even(
        np.stack([x, y], axis=-1), at[1], course.closed, SHORTEST_WAVE_M, LONGEST_WAVE_M
    )
    return StationLine.through(smooth.values[:, 0], smooth.values[:, 1], course.closed)


def _offsets_at(
    course: Course, at_m: FloatArray, station_m: FloatArray, offset_m: FloatArray
) -> FloatArray:
    """Offsets of one lap at stations of the reference, ``(n,)``; NaN where it was not ridden."""
    forward = growing(station_m)
    station, offset = station_m[forward], offset_m[forward]
    if course.closed:
        length = course.reference.length_m
        at_m = at_m + length * np.ceil((station[0] - _SAME_LAP_M - at_m) / length)
    inside = (at_m >= station[0] - _SAME_LAP_M) & (at_m <= station[-1] + _SAME_LAP_M)
    return np.where(inside, np.interp(at_m, station, offset), np.nan)


def _check_covered(course: Course, at_m: FloatArray, ridden: np.ndarray) -> None:
    """Raise a TrackError unless the stations that were ridden leave no long gap."""
    places = at_m[ridden]
    if len(places) == 0:
        raise TrackError(
            "none of the laps given for the marker line was ridden on this course",
            remedy="Give a log of the coach's laps on it.",
        )
    ends = places[0] + course.reference.length_m if course.closed else course.reference.length_m
    start = places if course.closed else np.concatenate([[0.0], places])
    gaps = np.diff(np.append(start, ends))
    if gaps.max() > LONGEST_GAP_M:
        raise TrackError(
            f"the laps given for the marker line leave out {gaps.max():.0f} m of the course",
            where=f"from {start[np.argmax(gaps)]:.0f} m along it",
            remedy="Give a log with at least one whole lap.",
        )
