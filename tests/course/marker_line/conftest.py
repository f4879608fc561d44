"""The means to lay out roads and corners by their lengths and radii."""

import numpy as np
import pytest

from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.edges import Edges
from lapkit.course.place import place
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.track_file import read_track
from lapkit.course.types import MarkerKind, Turn

HALF_M = 6.0
KINDS = {"in": MarkerKind.TURN_IN, "out": MarkerKind.EXIT, "sight": MarkerKind.SIGHT}


def road(*parts, step_m=1.0):
    """Points along arcs and straights given as (length m, radius m; left positive, 0 straight)."""
    heading, points = 0.0, [np.zeros((1, 2))]
    for length, radius in parts:
        steps = max(round(length / step_m), 1)
        bend = length / steps / radius if radius else 0.0
        at = heading + bend * (np.arange(steps) + 0.5)
        chord = 2.0 * radius * np.sin(0.5 * bend) if radius else length / steps
        walk = np.cumsum(chord * np.stack([np.cos(at), np.sin(at)], axis=-1), axis=0)
        points.append(points[-1][-1] + walk)
        heading += bend * steps
    return np.concatenate(points)


def cone(reference, name, side, station_m, offset_m, within_m=1.0):
    """A marker beside the reference; its kind follows from the first word of its name."""
    x, y = reference.offset_points(station_m, offset_m)
    kind = KINDS.get(name.split()[0], MarkerKind.APEX)
    return CourseMarker(
        name, kind, Turn(side), float(x), float(y), station_m, offset_m, 0.0, within_m
    )


def corner(name, turn, *cones):
    """A corner from its first cone to its last."""
    apexes = tuple(c.station_m for c in cones if c.kind is MarkerKind.APEX)
    return Corner(name, Turn(turn), cones[0].station_m, apexes, cones[-1].station_m, cones)


def course(reference, *corners, half_m=HALF_M):
    """A course of even width; without edges when ``half_m`` is None."""
    edges = None
    if half_m is not None:
        ends = np.array([0.0, reference.length_m])
        edges = Edges(ends, np.full(2, half_m), np.full(2, -half_m))
    return Course(Plane(0.0, 0.0), reference, np.zeros((2, 2)), corners, edges)


def through(points, closed=False):
    return StationLine.through(points[:, 0], points[:, 1], closed)


def square_corner(*extra, half_m=HALF_M, step_m=1.0):
    """A left-hander of 90° and 30 m radius between straights, with turn-in, apex and exit cones."""
    reference = through(road((150, 0), (30 * np.pi / 2, 30), (150, 0), step_m=step_m))
    middle = 150 + 15 * np.pi / 2
    cones = [
        cone(reference, "in", "right", middle - 55, -HALF_M),
        cone(reference, "apex", "left", middle, HALF_M),
        *(cone(reference, *e) for e in extra),
        cone(reference, "out", "right", middle + 55, -HALF_M),
    ]
    ordered = sorted(cones, key=lambda c: c.station_m)
    return course(reference, corner("1", "left", *ordered), half_m=half_m)


@pytest.fixture(scope="session")
def lay():
    """``lay.road``, ``lay.cone``, ``lay.corner``, ``lay.course``, ``lay.through``, ``lay.square_corner``."""

    class Lay:
        road = staticmethod(road)
        cone = staticmethod(cone)
        corner = staticmethod(corner)
        course = staticmethod(course)
        through = staticmethod(through)
        square_corner = staticmethod(square_corner)

    return Lay


@pytest.fixture
def stadium(features, write):
    """The invented stadium as a placed course: two left-hand bends with three cones each."""
    return place(read_track(write(features)))
