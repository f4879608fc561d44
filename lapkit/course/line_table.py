"""Radii of the marker line and its neighbours, with lean at some speeds and speed at some leans.

All of it is geometry and equilibrium: what a line asks for at a speed, not what anyone should ride.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lapkit.course.course import Corner, Course
from lapkit.course.neighbour_lines import NeighbourLines
from lapkit.course.stations import StationLine
from lapkit.curvature import HELD_OVER_M, radius_m
from lapkit.errors import TrackError
from lapkit.lean import balance_lean_deg, road_lean_deg, speed_at_lean_mps
from lapkit.units import KMH_MPS, FloatArray

SPEEDS_KMH = (40, 60, 80, 100, 120)
"""Ladder of speeds in the table, km/h."""

LEANS_DEG = (20, 30, 40, 45)
"""Ladder of leans in the table, degrees from the road's normal."""

_STEP_M = 0.5
_AS_TIGHT = 1e-3


def line_table(course: Course) -> pd.DataFrame:
    """Tabulate ``line.csv`` of a course that has a marker line: a row for each corner × line.

    Lines are ``marker``, ``one lane in`` and ``inside`` (see :mod:`lapkit.course.neighbour_lines`).
    Radii are held over 10 m inside their phase; ``_at_m`` counts metres of line from turn-in to the
    middle of those 10 m. ``lean_at_<N>_kmh_deg`` is the largest lean from the road's own normal
    that the corner asks for at a steady speed, with camber, grade and vertical curvature counted;
    ``kmh_at_<N>_deg`` is the steady speed at which that lean is reached. Where a line does not
    exist (no seams, or nothing that can be ridden) cells are NaN.

    This is geometry, not advice: neither a speed nor a lean to ride.

    Raises:
        TrackError: the course has no marker line.
    """
    neighbours = NeighbourLines.of(course)
    marker = _PlacedLine.on(course, course.marker_line)
    rows = []
    for corner in course.corners:
        lines = {
            "marker": marker,
            "one lane in": _solved(course, neighbours.one_lane_in, corner),
            "inside": _solved(course, neighbours.inside_seam, corner) if corner.seams else None,
        }
        for name, line in lines.items():
            cells = {} if line is None else _measures(course, corner, line)
            rows.append({"corner": corner.name, "line": name} | cells)
    return pd.DataFrame(rows, columns=columns())


def columns() -> list[str]:
    """Names of the table's columns, in order."""
    return [
        *("corner", "line", "radius_min_m", "radius_min_at_m"),
        *("exit_radius_min_m", "exit_radius_at_m", "length_m"),
        *(f"lean_at_{speed}_kmh_deg" for speed in SPEEDS_KMH),
        *(f"kmh_at_{lean}_deg" for lean in LEANS_DEG),
    ]


@dataclass(frozen=True, eq=False)
class _Held:
    """Stretches of 10 m of a line inside one phase (the phase itself if shorter); arrays (n,).

    ``middle_m`` counts metres of line from turn-in, ``station_m`` is the reference's station there
    and ``curvature_1pm`` the curvature held, positive into the turn.
    """

    middle_m: FloatArray
    station_m: FloatArray
    curvature_1pm: FloatArray

    def tightest(self) -> tuple[float, float]:
        """Smallest radius and where its middle is, metres; infinite where nothing turns in."""
        most = np.max(self.curvature_1pm)
        # A line of largest radius holds it over much of the corner: name the middle of that.
        places = self.middle_m[self.curvature_1pm >= most - _AS_TIGHT * abs(most)]
        return float(radius_m(np.maximum(most, 0.0))), float(places[len(places) // 2])


@dataclass(frozen=True, eq=False)
class _PlacedLine:
    """A line whose points lie at ``station_m`` of the reference and ``along_m`` of itself, (n,).

    ``round_m`` is the length of a lap of the reference, None on an open course.
    """

    line: StationLine
    station_m: FloatArray
    along_m: FloatArray
    round_m: float | None

    @classmethod
    def on(cls, course: Course, line: StationLine) -> _PlacedLine:
        station, _ = course.reference.follow(line.x_m, line.y_m)
        forward = np.concatenate([[True], np.diff(np.maximum.accumulate(station)) > 0])
        lap = course.reference.length_m if course.closed else None
        return cls(line, station[forward], line.station_m[forward], lap)

    def along(self, station_m: float) -> float:
        """Metres along the line where it passes a station of the reference."""
        if self.round_m is None:
            return float(np.interp(station_m, self.station_m, self.along_m))
        laps, rest = np.divmod(station_m - self.station_m[0], self.round_m)
        along = np.interp(self.station_m[0] + rest, self.station_m, self.along_m)
        return float(along + (laps * self.line.length_m if self.line.closed else 0.0))

    def held(self, corner: Corner, from_m: float, to_m: float) -> _Held:
        """The stretches between two stations of a corner."""
        turn_in, first, last = (self.along(s) for s in (corner.turn_in_m, from_m, to_m))
        length = min(HELD_OVER_M, last - first)
        count = max(int(np.ceil((last - first - length) / _STEP_M)), 0)
        start = np.linspace(first, last - length, count + 1)
        turned = self.line.heading_at(start + length) - self.line.heading_at(start)
        share = (start + 0.5 * length - first) / (last - first)
        return _Held(
            middle_m=start + 0.5 * length - turn_in,
            station_m=from_m + share * (to_m - from_m),
            curvature_1pm=corner.turn.sign * turned / length,
        )


def _solved(
    course: Course, solve: Callable[[Corner], StationLine], corner: Corner
) -> _PlacedLine | None:
    """A neighbour of the marker line, or None where no such line can be ridden."""
    try:
        return _PlacedLine.on(course, solve(corner))
    except TrackError:
        return None


def _measures(course: Course, corner: Corner, line: _PlacedLine) -> dict[str, float]:
    """Cells of one row, but for its names."""
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
    grade, vertical = np.zeros((2, len(whole.station_m)))
    if course.profile is not None:
        grade, vertical = course.profile.at(whole.station_m)
    for kmh in SPEEDS_KMH:
        lean = balance_lean_deg(kmh * KMH_MPS, whole.curvature_1pm, vertical, grade)
        cells[f"lean_at_{kmh}_kmh_deg"] = float(np.max(road_lean_deg(lean, camber)))
    # With the grade's cosine on radius and crest, speed_at_lean inverts the lean on a grade.
    cos = 1.0 / np.sqrt(1.0 + np.square(grade))
    radii = radius_m(np.maximum(whole.curvature_1pm, 0.0) * cos)
    for lean in LEANS_DEG:
        from_vertical = np.clip(lean + camber, 0.0, 89.0)
        speed = np.min(speed_at_lean_mps(radii, from_vertical, vertical / cos))
        cells[f"kmh_at_{lean}_deg"] = float(speed) / KMH_MPS if np.isfinite(speed) else np.nan
    return cells
