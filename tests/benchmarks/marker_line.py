"""Time of the marker line solver on an invented course of 5 km and 30 corners; run by hand.

Usage: python tests/benchmarks/marker_line.py. The last line is the ratio of the solver's time to
the 2 s that it may take; below 1 is good. Processor time, since other programs may be busy.
"""

import time
from dataclasses import replace
from itertools import pairwise

import numpy as np

from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.edges import Edges
from lapkit.course.line_table import line_table
from lapkit.course.marker_line import solve_marker_line
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn

HALF_M = 6.0
CORNERS = 30
ALLOWED_S = 2.0


def flower() -> StationLine:
    """A closed line of 30 bends, alternately left and right, 5 km long."""
    t = np.linspace(0.0, 2.0 * np.pi, 3000, endpoint=False)
    radius = 1.0 + 0.07 * np.cos(0.5 * CORNERS * t) + 0.2 * np.cos(2.0 * t)
    x, y = radius * np.cos(t), radius * np.sin(t)
    scale = 5000.0 / StationLine.through(1e3 * x, 1e3 * y, True).length_m * 1e3
    return StationLine.through(scale * x, scale * y, True)


def course() -> Course:
    """The flower with an apex cone in each bend and edges of 12 m."""
    line = flower()
    heading = np.append(line.heading_at(line.station_m[:-1]), line.heading_rad[-1])
    flat = heading - 2.0 * np.pi * line.station_m / line.length_m
    turning = np.sign(np.diff(flat))
    ends = np.flatnonzero(np.diff(turning)) + 1
    corners = []
    for first, last in pairwise([*ends, ends[0] + len(turning)]):
        part = np.arange(first, last) % len(turning)
        apex = part[np.argmax(np.abs(line.curvature_1pm[part]))]
        turn = Turn.LEFT if line.curvature_1pm[apex] > 0 else Turn.RIGHT
        station, offset = float(line.station_m[apex]), turn.sign * HALF_M
        x, y = line.offset_points(station, offset)
        cone = CourseMarker(
            "apex", MarkerKind.APEX, turn, float(x), float(y), station, offset, 0.0, 1.0
        )
        round_m = line.length_m if last > len(turning) else 0.0
        if apex < first:
            station += line.length_m
        limits = float(line.station_m[first]), float(line.station_m[last % len(turning)]) + round_m
        corners.append(Corner(str(first), turn, limits[0], (station,), limits[1], (cone,)))
    edges = np.full(2, HALF_M)
    return Course(
        Plane(0.0, 0.0),
        line,
        np.zeros((2, 2)),
        tuple(corners),
        edges=Edges(np.array([0.0, line.length_m]), edges, -edges),
    )


def main() -> None:
    """Print the times of the solver and of the table."""
    placed = course()
    begun = time.process_time()
    line = solve_marker_line(placed)
    solved = time.process_time()
    line_table(replace(placed, marker_line=line))
    done = time.process_time()
    tightest = 1.0 / np.max(np.abs(line.curvature_1pm))
    print(f"{placed.reference.length_m:.0f} m, {len(placed.corners)} corners")
    print(f"marker line {solved - begun:.2f} s, tightest radius {tightest:.1f} m")
    print(f"line table {done - solved:.2f} s")
    print(f"ratio {(solved - begun) / ALLOWED_S:.2f}")


if __name__ == "__main__":
    main()
