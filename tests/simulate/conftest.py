"""Courses whose truth is known in closed form, and rides on them."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.course.course import Corner, Course, CourseMarker, CourseSeam
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn
from lapkit.simulate.courses import built_in
from lapkit.simulate.motion import Ride
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, RiderStyle

RADIUS_M = 60.0
STEADY = RiderStyle(lean_deg=35.0, lean_sd_deg=0.0, offset_sd_m=0.0, phase_sd_m=0.0, wobble_deg=0.0)


def circle_course(radius_m: float = RADIUS_M) -> Course:
    """A left-hand circle of 10 m width, one corner of it, the marker line on its middle."""
    angle = np.radians(np.arange(0.0, 360.0, 1.0))
    line = StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), True)
    quarter = 0.25 * line.length_m
    kinds = (
        ("turn-in", MarkerKind.TURN_IN, Turn.RIGHT, quarter, -5.0),
        ("apex", MarkerKind.APEX, Turn.LEFT, 2.0 * quarter, 5.0),
        ("exit", MarkerKind.EXIT, Turn.RIGHT, 3.0 * quarter, -5.0),
    )
    markers = tuple(
        CourseMarker(
            name,
            kind,
            side,
            *(float(v) for v in line.offset_points(station, offset)),
            station,
            offset,
            2.0,
            1.0,
        )
        for name, kind, side, station, offset in kinds
    )
    at = np.array([quarter, 3.0 * quarter])
    seams = tuple(
        CourseSeam(name, at, np.full(2, offset)) for name, offset in (("in", 1.5), ("out", -1.5))
    )
    corner = Corner(
        "Bowl", Turn.LEFT, quarter, (2.0 * quarter,), 3.0 * quarter, markers, seams, 2.0
    )
    start = np.stack(line.offset_points(np.zeros(2), np.array([6.0, -6.0])), axis=1)
    hold = np.stack(line.offset_points(np.array([5.0]), np.array([-18.0])), axis=1)
    return Course(
        plane=Plane(41.0, -33.0),
        reference=line,
        start_line=start,
        corners=(corner,),
        marker_line=line,
        marker_line_from="given",
        hold_points=hold,
    )


@pytest.fixture(scope="session")
def circle() -> Ride:
    """A steady ride round the circle: out-lap, three timed laps, in-lap."""
    return ride(circle_course(), STEADY, laps=3, seed=1, epoch_s=1.9e9)


@pytest.fixture(scope="session")
def rough() -> Ride:
    """A rough rider on the hilly course with every kind of corner."""
    return ride(built_in("sample"), STYLES["rough"], laps=2, seed=5, epoch_s=1.9e9)
