"""Paths and courses that are known in closed form, for measures to be held against."""

from dataclasses import dataclass, field

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.course.course import Corner, Course, CourseMarker, CourseSeam
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn
from lapkit.path.draws import PathDraws
from lapkit.splitter import Lap, LapKind
from lapkit.units import GRAVITY_MPS2

RADIUS_M = 60.0
"""Radius of the round course's reference."""

LINE_M = 62.0
"""Radius of its marker line."""

NO_SHIFTS = np.zeros((1, 2))


def circle_line(radius_m):
    angle = np.linspace(0.0, 2 * np.pi, 2001)
    return StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), True)


def station_of(angle):
    return angle * RADIUS_M


def cone(name, kind, side, angle, radius_m, camber_deg=0.0):
    return CourseMarker(
        name, kind, side, radius_m * np.cos(angle), radius_m * np.sin(angle), station_of(angle),
        RADIUS_M - radius_m, camber_deg, 1.5,
    )  # fmt: skip


@pytest.fixture(scope="session")
def round_course():
    """A circle ridden to the left with one corner from 60° to 180°, its apex at 110°.

    Seams lie at radii 59 and 63; cones stand at 65 outside and at 57 inside.
    """
    at = np.radians([60.0, 110.0, 180.0])
    cones = (
        cone("turn-in", MarkerKind.TURN_IN, Turn.RIGHT, at[0], 65.0),
        cone("apex", MarkerKind.APEX, Turn.LEFT, at[1], 57.0, camber_deg=-2.0),
        cone("exit", MarkerKind.EXIT, Turn.RIGHT, at[2], 65.0),
    )
    ends = np.array([station_of(at[0]) - 30.0, station_of(at[2]) + 30.0])
    seams = tuple(
        CourseSeam(name, ends, np.full(2, RADIUS_M - radius))
        for name, radius in (("first seam", 59.0), ("second seam", 63.0))
    )
    corner = Corner(
        "Long", Turn.LEFT, station_of(at[0]), (station_of(at[1]),), station_of(at[2]),
        cones, seams, cues=("Wait for the turn-in cone.", "Let it run out to the exit cone."),
    )  # fmt: skip
    return Course(
        plane=Plane(47.0, 8.0),
        reference=circle_line(RADIUS_M),
        start_line=np.array([[50.0, 0.0], [70.0, 0.0]]),
        corners=(corner,),
        marker_line=circle_line(LINE_M),
        marker_line_from="given",
    )


@dataclass
class CirclePath:
    """Laps of a circle to the left at constant speed, from 20° before the start line.

    ``shifts_m`` moves the rows of the ensemble east and north, ``(rows, 2)``; ``wider_m`` widens them.
    """

    radius_m: float = 60.0
    speed_mps: float = 20.0
    com_m: float = 0.6
    laps: float = 4.0
    rate_hz: float = 10.0
    shifts_m: np.ndarray = field(default_factory=lambda: NO_SHIFTS)
    wider_m: np.ndarray = field(default_factory=lambda: np.zeros(1))
    start_s: float = 1000.0

    def __post_init__(self):
        self.lap_s = 2 * np.pi * self.radius_m / self.speed_mps
        self.end_s = self.start_s + self.laps * self.lap_s
        self.fix_time_s = np.arange(self.start_s, self.end_s, 1 / self.rate_hz)
        self.fix_height_m = 400.0 + 0.1 * (self.fix_time_s - self.start_s)

    @property
    def lean_deg(self):
        return np.degrees(np.arctan(self.speed_mps**2 / (self.radius_m * GRAVITY_MPS2)))

    @property
    def tyre_radius_m(self):
        return self.radius_m + self.com_m * np.sin(np.radians(self.lean_deg))

    def angle(self, time_s):
        return np.radians(-20.0) + (time_s - self.start_s) * self.speed_mps / self.radius_m

    def mean_xy(self, time_s):
        return self.radius_m * np.cos(self.angle(time_s)), self.radius_m * np.sin(
            self.angle(time_s)
        )

    def at(self, time_s, near_m=None):
        angle = self.angle(np.asarray(time_s))[None]
        radius = self.radius_m + self.wider_m[:, None]
        turning = self.speed_mps / self.radius_m
        rows = np.ones((max(len(self.shifts_m), len(self.wider_m)), 1))
        cos, sin = rows * np.cos(angle), rows * np.sin(angle)
        east, north = self.shifts_m[:, :1], self.shifts_m[:, 1:]
        tangent = (turning * radius) ** 2 / radius / GRAVITY_MPS2
        return PathDraws(
            time_s=np.asarray(time_s),
            x_m=radius * cos + east,
            y_m=radius * sin + north,
            vx_mps=-turning * radius * sin,
            vy_mps=turning * radius * cos,
            ax_mps2=-(turning**2) * radius * cos,
            ay_mps2=-(turning**2) * radius * sin,
            lean_tangent=rows * tangent * np.ones_like(cos),
            com_height_m=self.com_m * rows,
        )

    def split(self):
        """Out-lap, timed laps, in-lap, as the line at angle 0 cuts them."""
        first = self.start_s + np.radians(20.0) * self.radius_m / self.speed_mps
        limits = [self.start_s, *np.arange(first, self.end_s, self.lap_s), self.end_s]
        last = len(limits) - 2
        return tuple(
            Lap(
                i,
                LapKind.OUT if i == 0 else LapKind.IN if i == last else LapKind.TIMED,
                limits[i],
                limits[i + 1],
                limits[i + 1] - limits[i],
                0.01,
                100.0,
                10,
                0.0,
            )
            for i in range(last + 1)
        )


class BentPath:
    """An open path whose curvature runs straight between knots (metres, 1/m), ridden at one speed."""

    def __init__(self, at_m, curvature_1pm, speed_mps=20.0):
        self.speed_mps = speed_mps
        s = np.linspace(0.0, at_m[-1], int(at_m[-1] * 50) + 1)
        bend = np.interp(s, at_m, curvature_1pm)
        step = s[1]
        heading = np.concatenate([[0.0], np.cumsum(0.5 * step * (bend[1:] + bend[:-1]))])
        middle = 0.5 * (heading[1:] + heading[:-1])
        x = np.concatenate([[0.0], np.cumsum(step * np.cos(middle))])
        y = np.concatenate([[0.0], np.cumsum(step * np.sin(middle))])
        self.place = CubicSpline(s, np.stack([x, y], axis=1))
        self.s, self.heading, self.bend = s, heading, bend
        self.start_s, self.end_s = 0.0, at_m[-1] / speed_mps
        self.fix_time_s = np.arange(0.0, self.end_s, 0.1)
        self.fix_height_m = np.full(len(self.fix_time_s), np.nan)

    def mean_xy(self, time_s):
        return self.place(self.speed_mps * np.asarray(time_s)).T

    def at(self, time_s, near_m=None):
        s = self.speed_mps * np.asarray(time_s)
        x, y = self.place(s).T
        heading, bend = np.interp(s, self.s, self.heading), np.interp(s, self.s, self.bend)
        v, across = self.speed_mps, self.speed_mps**2 * bend
        tangent = across / GRAVITY_MPS2
        cos, sin = np.cos(heading), np.sin(heading)
        return PathDraws(
            np.asarray(time_s), x[None], y[None], v * cos[None], v * sin[None],
            (-across * sin)[None], (across * cos)[None],
            tangent[None], np.zeros((1, 1)),
        )  # fmt: skip

    def lap(self):
        return (Lap(1, LapKind.TIMED, self.start_s, self.end_s, self.end_s, 0.01, 1.0, 1, 0.0),)

    def course(self, turn_in_m, apexes_m, exit_m, turn=Turn.LEFT, line=None):
        """A course whose reference is this path, with one corner on it."""
        reference = StationLine.through(*self.place(np.arange(0.0, self.s[-1], 0.5)).T, False)
        return Course(
            plane=Plane(47.0, 8.0),
            reference=reference,
            start_line=np.array([[0.0, 5.0], [0.0, -5.0]]),
            corners=(Corner("Bend", turn, turn_in_m, tuple(apexes_m), exit_m),),
            marker_line=line,
            marker_line_from="none" if line is None else "given",
        )


@pytest.fixture
def circle_path():
    return CirclePath


@pytest.fixture
def bent_path():
    return BentPath


@pytest.fixture
def measured():
    """Measures a path on a course, lap by lap."""

    def made(path, course, **options):
        return measure_run(path, path.split(), course, RunOf("Bea", "2"), **options)

    return made


@pytest.fixture
def ridden(circle_path):
    """Laps on a circle of 60.5 m at 20 m/s."""
    return circle_path(radius_m=60.5, speed_mps=20.0)


@pytest.fixture
def result(ridden, round_course, measured):
    """What is measured of them."""
    return measured(ridden, round_course)
