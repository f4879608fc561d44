"""The marker line through one corner, as arrays along itself, and the lean that it asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import STEP_M, Grid, crossings, with_room
from lapkit.compare.held import Held, HeldMean
from lapkit.compare.sweep import looked_at_m
from lapkit.course.course import Corner, Course
from lapkit.course.placed_line import PlacedLine
from lapkit.course.profile import road_under
from lapkit.course.stations import StationLine
from lapkit.lean import balance_lean_deg


@dataclass(frozen=True, eq=False)
class LinePart:
    """The marker line through one corner, with a point every :data:`~lapkit.compare.grid.STEP_M` of its length.

    All arrays but ``limits`` have shape ``(n,)``.

    Attributes:
        station_m: station on the reference, metres.
        offset_m: offset from the reference, metres, left positive.
        heading_rad: heading, radians, growing into the turn.
        curvature_1pm: curvature, 1/m, positive into the turn.
        grade: grade of the road under the line.
        vertical_curvature_1pm: vertical curvature of that road, 1/m, positive in a dip.
        length_m: distance along the line from its first point, metres.
        limits: places (see :mod:`~lapkit.compare.grid`) of turn-in, last apex and exit, ``(3,)``.
        exit_curvature_1pm: largest curvature that the line holds over 10 m in the exit phase, 1/m, positive
            into the turn.
        whole_line: the course's marker line, of which this is a part.
        begins_at_m: distance along that line of the part's first point, metres.
    """

    station_m: FloatArray
    offset_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    grade: FloatArray
    vertical_curvature_1pm: FloatArray
    length_m: FloatArray
    limits: FloatArray
    exit_curvature_1pm: float
    whole_line: StationLine
    begins_at_m: float

    @property
    def held_curvature(self) -> Held:
        """Heading change over length."""
        return Held(self.heading_rad, self.length_m)

    @cached_property
    def slope(self) -> FloatArray:
        """Offset gained per metre of reference station."""
        return np.gradient(self.offset_m, self.station_m)

    @cached_property
    def curvature_by_station_1pm(self) -> FloatArray:
        """Heading change per metre of reference station."""
        return np.gradient(self.heading_rad, self.station_m)

    def offset_at(self, station_m: FloatArray) -> FloatArray:
        """Offset of the line from the reference at stations, metres; NaN where it does not run."""
        return np.interp(station_m, self.station_m, self.offset_m, left=np.nan, right=np.nan)

    def offset_held_m(self, station_m: FloatArray) -> FloatArray:
        """Mean offset over the 10 m of the line centred on stations ``(k,)``, metres; NaN where the line ends within them."""
        grid = Grid.of([len(self.station_m)])
        place = with_room(crossings(self.station_m, station_m[None], grid), grid)
        return HeldMean(self.offset_m).at(place[0])

    def left_of_it_m(self, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
        """How far to the left of the line points ``(k,)`` lie, metres, ``(k,)``; negative on its right.

        It is this part of the line that counts: where the course crosses itself, another leg may lie nearer.
        """
        distance = self.begins_at_m + self.length_m
        east, north = self.whole_line.at(distance)
        nearest = np.argmin(np.hypot(x_m[:, None] - east, y_m[:, None] - north), axis=1)
        return self.whole_line.project_near(x_m, y_m, distance[nearest])[1]

    def lean_deg(self, station_m: FloatArray, speed_mps: FloatArray) -> FloatArray:
        """Lean that the line asks for at each of its points, at the speeds that a lap had at the same stations.

        Args:
            station_m: increasing stations at which the lap's speed is known, metres, ``(m,)``.
            speed_mps: the lap's speed there in plan, m/s, ``(m,)``.

        Returns:
            Degrees, positive into the turn, shape ``(n,)``.
        """
        return lean_along([self], [(station_m, speed_mps)])[0]


def lean_along(
    lines: Sequence[LinePart], ridden: Sequence[tuple[FloatArray, FloatArray]]
) -> tuple[FloatArray, Grid]:
    """Lean that lines ask for at the speeds of laps, as :meth:`LinePart.lean_deg`, for many laps at once.

    Args:
        lines: the line of each lap's corner.
        ridden: stations and speeds in plan of each lap.

    Returns:
        Lean, degrees, ``(n,)``, of one line after the other; and the grid on which the lines lie.
    """
    speed = np.concatenate(
        [
            np.interp(line.station_m, station_m, speed_mps)
            for line, (station_m, speed_mps) in zip(lines, ridden, strict=True)
        ]
    )
    grade = np.concatenate([line.grade for line in lines])
    lean = balance_lean_deg(
        speed * np.hypot(1.0, grade),  # along the road
        np.concatenate([line.curvature_1pm for line in lines]),
        np.concatenate([line.vertical_curvature_1pm for line in lines]),
        grade,
    )
    return lean, Grid.of([len(line.station_m) for line in lines])


class LineOnCourse(NamedTuple):
    """A course's marker line, and where each of its points lies beside the reference.

    Attributes:
        course: the course.
        line: its marker line.
        placed: the same line placed on the reference, which knows the radius that it holds.
        distance_m: distances along the line, ``(n,)``; over three laps of a closed line, so that every
            corner lies within.
        station_m: unwrapped station of the reference at each of them, ``(n,)``.
    """

    course: Course
    line: StationLine
    placed: PlacedLine
    distance_m: FloatArray
    station_m: FloatArray

    @classmethod
    def of(cls, course: Course) -> LineOnCourse | None:
        """The marker line of a course; None where it has none."""
        line = course.marker_line
        if line is None:
            return None
        placed = PlacedLine.on(course.reference, line)
        distance, station = placed.along_m, placed.station_m
        if line.closed:
            laps = np.array([-1.0, 0.0, 1.0])[:, None]
            distance = (distance[:-1] + laps * line.length_m).ravel()
            station = (station[:-1] + laps * course.reference.length_m).ravel()
        return cls(course, line, placed, distance, station)

    def part(self, corner: Corner) -> LinePart | None:
        """The line through a corner; None where it does not run from turn-in to exit."""
        before, after = looked_at_m(corner)
        ends = np.array([corner.turn_in_m - before, corner.exit_m + after])
        passed = self.station_m + self._laps_before(corner)
        begin, end = np.interp(ends, passed, self.distance_m)
        distance = np.arange(begin, end + STEP_M, STEP_M)
        x, y = self.line.at(distance)
        rough = np.interp(distance, self.distance_m, passed)
        station, offset = self.course.reference.project_near(x, y, rough)
        heading, curvature = self.line.heading_at(distance), self.line.curvature_at(distance)
        stops = np.array([corner.turn_in_m, corner.last_apex_m, corner.exit_m])
        limits = crossings(station, stops[None], Grid.of([len(station)]))[0]
        if not np.all(np.diff(limits) > 0.0):
            return None
        road = road_under(self.course, station, offset, heading, curvature)
        # Line and reference may count whole turns differently: the line's headings are unwrapped as the reference's.
        along = self.course.reference.heading_at(station)
        unwrapped = along + (heading - along + np.pi) % (2.0 * np.pi) - np.pi
        exit_phase = self.placed.held(corner, corner.last_apex_m, corner.exit_m)
        return LinePart(
            station_m=station,
            offset_m=offset,
            heading_rad=corner.turn.sign * unwrapped,
            curvature_1pm=corner.turn.sign * curvature,
            grade=road.grade,
            vertical_curvature_1pm=road.vertical_curvature_1pm,
            length_m=distance - distance[0],
            limits=limits,
            exit_curvature_1pm=float(np.max(exit_phase.curvature_1pm)),
            whole_line=self.line,
            begins_at_m=float(begin),
        )

    def _laps_before(self, corner: Corner) -> float:
        """Length of the whole laps by which stations of a line drawn in part lie before a corner's, metres."""
        if self.line.closed or not self.course.closed:
            return 0.0
        length = self.course.reference.length_m
        return length * float(np.floor((corner.turn_in_m - self.placed.station_m[0]) / length))
