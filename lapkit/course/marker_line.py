"""The line that the coach's cones imply: solved from them, or the mean of his own laps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lapkit.course.corridor import window
from lapkit.course.course import Course
from lapkit.course.line_problem import pose, stations
from lapkit.course.line_solver import solve
from lapkit.course.resample import STEP_M
from lapkit.course.smoothing import mean_of_known, smooth_even
from lapkit.course.stations import StationLine, growing
from lapkit.errors import TrackError
from lapkit.units import FloatArray, read_only

SHORTEST_WAVE_M, LONGEST_WAVE_M = 16.0, 40.0
"""A ridden marker line is smoothed as its noise asks for, between these wavelengths, metres."""

LONGEST_GAP_M = 100.0
"""Longest stretch of the course that none of the coach's laps need cover, metres (our choice)."""

_FINER = 6  # steps of an arc line's sum to one of its own: a lap errs by a millimetre
_SAME_LAP_M = 5.0  # as near in station to a lap's start its end belongs to it


def solve_marker_line(course: Course) -> StationLine:
    """Solve the line of largest radius that passes every cone as asked, inside the edges.

    All round the lap: per corner the tightest radius is the largest possible; of the lines that
    have it, the one of least squared curvature. It is geometry: not the fastest line, and not
    advice. It begins beside the start of the reference.

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
    """The course itself, or with its marker line solved from its cones where it has none yet.

    Raises:
        TrackError: as :func:`solve_marker_line`.
    """
    if course.marker_line is not None:
        return course
    return replace(course, marker_line=solve_marker_line(course), marker_line_from="solved")


def arc_line(points_m: FloatArray, closed: bool) -> StationLine:
    """The line of arcs along points (n, 2): its curvature is constant from chord to chord.

    A spline through points that go straight and then round a circle would swing about the change, and be tighter
    than the line that was solved. Arcs with the chords' headings leave the points by some centimetres instead.
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
    # What the arcs miss the last point by is taken off evenly, then what they still lie beside the points.
    share = ((fine - first) / (last - first))[:, None]
    along += points_m[0] + share * (points_m[0 if closed else -1] - points_m[0] - along[-1])
    at = station[1:-2] if closed else station
    reached = np.stack([np.interp(at, fine, axis) for axis in along.T], axis=-1)
    x, y = (along - np.mean(reached - points_m, axis=0))[::_FINER].T
    even = fine[::_FINER]
    bent = np.searchsorted(middle, even)
    curvature = np.concatenate([[0.0], np.diff(heading) / np.diff(middle), [0.0]])[bent]
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
        laps: for each lap the station along and the offset from the reference, metres, each of
            shape ``(m,)``, in time order and unwrapped as :meth:`StationLine.follow` gives them. A
            lap may begin anywhere and may be cut short.

    Raises:
        TrackError: no lap was given, or a stretch of the course was ridden in none of them.
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
    """One lap's offsets at stations of the reference, (n,); NaN where it was not ridden."""
    forward = growing(station_m)
    station, offset = station_m[forward], offset_m[forward]
    if course.closed:
        length = course.reference.length_m
        at_m = at_m + length * np.ceil((station[0] - _SAME_LAP_M - at_m) / length)
    inside = (at_m >= station[0] - _SAME_LAP_M) & (at_m <= station[-1] + _SAME_LAP_M)
    return np.where(inside, np.interp(at_m, station, offset), np.nan)


def _check_covered(course: Course, at_m: FloatArray, ridden: np.ndarray) -> None:
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
