"""Radii of the marker line and its neighbours, with the lean at some speeds and the speed at some leans.

All of it is geometry and equilibrium: what a line asks for at a speed, not what anyone should ride.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from lapkit.course.course import Corner, Course
from lapkit.course.neighbour_lines import NeighbourLines
from lapkit.course.placed_line import HeldStretches, PlacedLine
from lapkit.course.profile import RoadUnder, road_under
from lapkit.course.stations import StationLine
from lapkit.curvature import radius_m
from lapkit.errors import TrackError
from lapkit.lean import balance_lean_deg, road_lean_deg, speed_at_lean_mps
from lapkit.units import KMH_MPS, MPH_MPS, Units

MARKER, ONE_LANE_IN, INSIDE = "marker", "one lane in", "inside"

LINES = (MARKER, ONE_LANE_IN, INSIDE)
"""The lines of each corner, in the order of their rows (see :mod:`lapkit.course.neighbour_lines`)."""

SPEEDS_KMH = (40.0, 60.0, 80.0, 100.0, 120.0)
"""Ladder of speeds in the table, km/h."""

_SPEEDS_MPH = (25.0, 35.0, 45.0, 60.0, 75.0)

LEANS_DEG = (20, 30, 40, 45)
"""Ladder of leans in the table, degrees from the road's normal."""


def ladder_kmh(units: Units) -> tuple[float, ...]:
    """The ladder of speeds, km/h, that are round figures in the reader's units."""
    if units is Units.METRIC:
        return SPEEDS_KMH
    return tuple(mph * MPH_MPS / KMH_MPS for mph in _SPEEDS_MPH)


def line_table(course: Course, speeds_kmh: Sequence[float] = SPEEDS_KMH) -> pd.DataFrame:
    """The table ``line.csv`` of a course that has a marker line: a row for each corner × line.

    Lines are ``marker``, ``one lane in`` and ``inside`` (see :mod:`lapkit.course.neighbour_lines`).
    Radii are held over 10 m inside their phase; ``_at_m`` counts metres of line from turn-in to the
    middle of those 10 m. ``lean_at_<N>_kmh_deg`` is the largest lean from the road's own normal
    that the corner asks for at a steady speed, with camber, grade and vertical curvature counted;
    ``kmh_at_<N>_deg`` is the steady speed at which that lean is reached. Where a line does not
    exist (no seams, nothing that can be ridden, a marker line drawn elsewhere) cells are NaN.

    This is geometry, not advice: neither a speed nor a lean to ride.

    Args:
        course: with a marker line.
        speeds_kmh: the ladder of speeds, km/h; by default that of ``line.csv``.

    Raises:
        TrackError: the course has no marker line.
    """
    neighbours = NeighbourLines.of(course)
    marker = neighbours.placed
    rows = []
    for corner in course.corners:
        lines: dict[str, PlacedLine | None] = dict.fromkeys(LINES)
        if marker.passes(corner.turn_in_m, corner.exit_m):
            lines[MARKER] = marker
            lines[ONE_LANE_IN] = _solved(course, neighbours.one_lane_in, corner)
            if corner.seams:
                lines[INSIDE] = _solved(course, neighbours.inside_seam, corner)
        for name, line in lines.items():
            cells = {} if line is None else _measures(course, corner, line, speeds_kmh)
            rows.append({"corner": corner.name, "line": name} | cells)
    return pd.DataFrame(rows, columns=columns(speeds_kmh))


def columns(speeds_kmh: Sequence[float] = SPEEDS_KMH) -> list[str]:
    """Names of the table's columns for a ladder of speeds, km/h, in order."""
    return [
        *("corner", "line", "radius_min_m", "radius_min_at_m"),
        *("exit_radius_min_m", "exit_radius_at_m", "length_m"),
        *map(_lean_at, speeds_kmh),
        *(f"kmh_at_{lean}_deg" for lean in LEANS_DEG),
    ]


def _lean_at(speed_kmh: float) -> str:
    """Name of the column with the lean at a speed."""
    return f"lean_at_{speed_kmh:.6g}_kmh_deg"


def _solved(
    course: Course, solve: Callable[[Corner], StationLine], corner: Corner
) -> PlacedLine | None:
    """A neighbour of the marker line, or None where no such line can be ridden."""
    try:
        return PlacedLine.on(course.reference, solve(corner))
    except TrackError:
        return None


def _road_under(course: Course, corner: Corner, line: PlacedLine, held: HeldStretches) -> RoadUnder:
    """The road under the middle of each stretch of a line."""
    along = line.along(corner.turn_in_m) + held.middle_m
    station, offset = course.reference.project_near(*line.line.at(along), held.station_m)
    heading, curvature = line.line.heading_at(along), line.line.curvature_at(along)
    return road_under(course, station, offset, heading, curvature)


def _measures(
    course: Course, corner: Corner, line: PlacedLine, speeds_kmh: Sequence[float]
) -> dict[str, float]:
    """The cells of one row, except for corner and line."""
    whole = line.held(corner, corner.turn_in_m, corner.exit_m)
    leaving = line.held(corner, corner.last_apex_m, corner.exit_m)
    radius, at = whole.tightest()
    exit_radius, exit_at = leaving.tightest()
    cells = {
        "radius_min_m": radius,
        "radius_min_at_m": at,
        "exit_radius_min_m": exit_radius,
        "exit_radius_at_m": exit_at,
        "length_m": line.along(corner.exit_m) - line.along(corner.turn_in_m),
    }
    camber = corner.camber_at(whole.station_m)
    grade, vertical, _ = _road_under(course, corner, line, whole)
    for kmh in speeds_kmh:
        lean = balance_lean_deg(kmh * KMH_MPS, whole.curvature_1pm, vertical, grade)
        cells[_lean_at(kmh)] = float(np.max(road_lean_deg(lean, camber)))
    # With the grade's cosine on radius and crest, speed_at_lean inverts the lean on a grade.
    cos = 1.0 / np.sqrt(1.0 + np.square(grade))
    radii = radius_m(np.maximum(whole.curvature_1pm, 0.0) * cos)
    for lean_deg in LEANS_DEG:
        from_vertical = np.clip(lean_deg + camber, 0.0, 89.0)
        speed = np.min(speed_at_lean_mps(radii, from_vertical, vertical / cos))
        cells[f"kmh_at_{lean_deg}_deg"] = float(speed) / KMH_MPS if np.isfinite(speed) else np.nan
    return cells
