"""The solver against the closed form of the largest radius through a corner.

Corner of angle θ between straights, concentric edges ri and ro: R = ri + (ro − ri) / (1 −
cos(θ/2)). Mark: read (formula), zero residual when re-derived. Values at the marks below follow
from it.
"""

import numpy as np
import pytest

from lapkit.course.corridor import EDGE_ROOM_M
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.edges import Edges
from lapkit.course.marker_line import solve_marker_line
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn

STRAIGHT_M = 150.0

CHECKS = [
    (10.0, 20.0, 90.0, 44.1421),
    (20.0, 32.0, 90.0, 60.9706),
    (30.0, 40.0, 60.0, 104.641),
    (30.0, 40.0, 120.0, 50.0),
    (20.0, 32.0, 180.0, 32.0),
    (10.0, 20.0, 180.0, 20.0),
]
"""ri, ro (m), corner (°) and R (m). Mark: read; the 180° rows: R = ro, derived."""


def corner_course(inner_m, outer_m, angle_deg, radius_m, turn):
    """A corner whose usable width, less the room for the tyres, is that between the two radii."""
    angle, middle_m = np.radians(angle_deg), 0.5 * (inner_m + outer_m)
    bend = np.linspace(0.0, angle, int(middle_m * angle) + 4)
    arc = middle_m * np.stack([np.sin(bend), 1.0 - np.cos(bend)], axis=-1)
    straight = np.arange(1.0, STRAIGHT_M + 1.0)[:, None]
    before = straight[::-1] * [-1.0, 0.0]
    after = arc[-1] + straight * [np.cos(angle), np.sin(angle)]
    points = np.concatenate([before, arc, after]) * [1.0, turn.sign]
    reference = StationLine.through(points[:, 0], points[:, 1], False)
    half = 0.5 * (outer_m - inner_m) + EDGE_ROOM_M
    foot = (radius_m - inner_m) * np.sin(0.5 * angle)  # straight ridden in the arc, before the bend
    length = middle_m * angle
    other = Turn.RIGHT if turn is Turn.LEFT else Turn.LEFT
    places = [
        ("turn-in", MarkerKind.TURN_IN, other, STRAIGHT_M - foot, -half),
        ("apex", MarkerKind.APEX, turn, STRAIGHT_M + 0.5 * length, half),
        ("exit", MarkerKind.EXIT, other, STRAIGHT_M + length + foot, -half),
    ]
    markers = []
    for name, kind, side, station, offset in places:
        x, y = reference.offset_points(station, turn.sign * offset)
        markers.append(
            CourseMarker(
                name, kind, side, float(x), float(y), station, turn.sign * offset, 0.0, 1.0
            )
        )
    stations = [m.station_m for m in markers]
    corner = Corner("1", turn, stations[0], (stations[1],), stations[2], tuple(markers))
    ends = np.array([0.0, reference.length_m])
    return Course(
        Plane(0.0, 0.0),
        reference,
        np.zeros((2, 2)),
        (corner,),
        edges=Edges(ends, np.full(2, half), np.full(2, -half)),
    )


def test_the_formula_gives_the_published_values():
    for inner, outer, angle, radius in CHECKS:
        share = 1.0 - np.cos(np.radians(0.5 * angle))
        assert inner + (outer - inner) / share == pytest.approx(radius, abs=5e-4)


@pytest.mark.parametrize("turn", list(Turn))
@pytest.mark.parametrize(("inner_m", "outer_m", "angle_deg", "radius_m"), CHECKS)
def test_solver_agrees_with_the_closed_form(inner_m, outer_m, angle_deg, radius_m, turn):
    course = corner_course(inner_m, outer_m, angle_deg, radius_m, turn)
    line = solve_marker_line(course)
    start = np.arange(0.0, line.length_m - 10.0, 0.5)
    turned = line.heading_at(start + 10.0) - line.heading_at(start)
    assert 10.0 / np.max(np.abs(turned)) == pytest.approx(radius_m, abs=0.1)
