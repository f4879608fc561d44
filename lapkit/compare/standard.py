"""What a corner's passes are held against: the marker line through it, its cones and its seams.

Computed once a course and shared by all laps of all riders.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from lapkit.compare.held import STEP_M, WINDOW, Grid, Held, crossings
from lapkit.compare.sweep import looked_at_m
from lapkit.course.course import Corner, Course, CourseSeam
from lapkit.course.placed_line import PlacedLine
from lapkit.course.profile import road_under
from lapkit.course.stations import StationLine
from lapkit.curvature import HELD_OVER_M
from lapkit.lean import balance_lean_deg
from lapkit.units import FloatArray

MOSTLY = 0.5
"""Inside a seam means that more than this share of the exit phase was ridden inside."""


@dataclass(frozen=True, eq=False)
class LinePart:
    """The marker line through one corner, on the grid of :mod:`~lapkit.compare.held` along itself.

    Arrays have shape ``(n,)``: reference station and offset, heading and curvature positive into
    the turn, grade and vertical curvature of the road under it, length along it. ``limits`` are the places of
    turn-in, last apex and exit, shape ``(3,)``.
    """

    station_m: FloatArray
    offset_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    grade: FloatArray
    vertical_curvature_1pm: FloatArray
    length_m: FloatArray
    limits: FloatArray

    @property
    def whole(self) -> bool:
        """Whether the line runs from turn-in over the last apex to the exit."""
        return bool(np.all(np.diff(self.limits) > 0.0))

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

    def lean_deg(self, station_m: FloatArray, speed_mps: FloatArray) -> FloatArray:
        """Lean that the line asks for at each of its points at a lap's speeds at the same station.

        Args:
            station_m: increasing stations at which speed is known, metres, ``(m,)``.
            speed_mps: its speed there, m/s, ``(m,)``.

        Returns:
            Degrees, positive into the turn, shape ``(n,)``.
        """
        return lean_along([self], [(station_m, speed_mps)])[0]


def lean_along(
    lines: Sequence[LinePart], ridden: Sequence[tuple[FloatArray, FloatArray]]
) -> tuple[FloatArray, Grid]:
    """As :meth:`LinePart.lean_deg`, of a line for each of some laps, one after the other.

    ``ridden`` are the laps' stations and speeds there. Shape ``(n,)``, and where on it each line lies.
    """

    def joined(channel: str) -> FloatArray:
        return np.concatenate([getattr(line, channel) for line in lines])

    pairs = zip(lines, ridden, strict=True)
    speed = np.concatenate([np.interp(line.station_m, *lap) for line, lap in pairs])
    road = joined("vertical_curvature_1pm"), joined("grade")
    lean = balance_lean_deg(speed, joined("curvature_1pm"), *road)
    return lean, Grid.of([len(line.station_m) for line in lines])


@dataclass(frozen=True, eq=False)
class Standard:
    """A corner with everything about it that no rider changes; what is the marker line's is NaN without one.

    Attributes:
        corner: which.
        line: the marker line through it; None without one, or where it does not run through it whole.
        marker_m: stations of the corner's markers, ``(k,)``.
        cone_x_m, cone_y_m: where these stand, metres east and north, ``(k,)``.
        proper: +1 for a cone that should stand on the rider's left, −1 on his right, ``(k,)``.
        outward: unit vector to the outside of the corner at each, east and north, ``(k, 2)``.
        camber_deg: at each, positive banked to the inside, ``(k,)``.
        line_offset_m: the marker line's mean offset over the 10 m around each, left positive, ``(k,)``.
        line_gap_m: its distance from each cone, positive on the proper side, ``(k,)``.
        seam_offset_m: of each seam, the innermost first, beside each marker, ``(seams, k)``.
        line_inside_share: share of the exit phase that the marker line runs inside each seam, ``(seams,)``.
        exit_radius_m, exit_curvature_1pm: the marker line's tightest over 10 m of its exit phase.
        line_sd_m: one standard deviation of how far the marker line may lie off as a whole, each way.
    """

    corner: Corner
    line: LinePart | None
    marker_m: FloatArray
    cone_x_m: FloatArray
    cone_y_m: FloatArray
    proper: FloatArray
    outward: FloatArray
    camber_deg: FloatArray
    line_offset_m: FloatArray
    line_gap_m: FloatArray
    seam_offset_m: FloatArray
    line_inside_share: FloatArray
    exit_radius_m: float
    exit_curvature_1pm: float
    line_sd_m: float

    def of_line(self, channel: str, station_m: FloatArray) -> FloatArray:
        """A channel of the marker line at stations, level beyond its ends, any shape; NaN without a line."""
        if self.line is None:
            return np.full(np.shape(station_m), np.nan)
        return np.interp(station_m, self.line.station_m, getattr(self.line, channel))

    def line_offset_at(self, station_m: FloatArray) -> FloatArray:
        """Offset of the marker line at stations, metres; NaN where it does not run, and without one."""
        if self.line is None:
            return np.full(np.shape(station_m), np.nan)
        return self.line.offset_at(station_m)

    @cached_property
    def seams_to_mind(self) -> tuple[CourseSeam, ...]:
        """Seams that the marker line itself runs outside of over most of the exit, innermost first.

        All of them without a marker line. Running inside of one of these is worth a word; the first of
        them is the one that is counted.
        """
        shares = zip(self.corner.seams, self.line_inside_share, strict=True)
        return tuple(seam for seam, share in shares if not share > MOSTLY)


@lru_cache(maxsize=4)
def standards(course: Course) -> dict[str, Standard]:
    """The standard of every corner, by name."""
    beside = _Beside.of(course)
    return {corner.name: _standard(course, corner, beside) for corner in course.corners}


class _Beside(NamedTuple):
    """The marker line beside the reference: distances along it and the stations there, over three laps."""

    line: StationLine
    placed: PlacedLine
    distance_m: FloatArray
    station_m: FloatArray

    @classmethod
    def of(cls, course: Course) -> _Beside | None:
        """Of a course's marker line; None where it has none."""
        line, reference = course.marker_line, course.reference
        if line is None:
            return None
        placed = PlacedLine.on(reference, line)
        station, _ = reference.follow(line.x_m, line.y_m)
        if not line.closed:
            return cls(line, placed, line.station_m, station)
        laps = np.array([-1.0, 0.0, 1.0])[:, None]
        distance = (line.station_m[:-1] + laps * line.length_m).ravel()
        return cls(line, placed, distance, (station[:-1] + laps * reference.length_m).ravel())


def _line_part(course: Course, corner: Corner, beside: _Beside) -> LinePart:
    line, reference = beside.line, course.reference
    distance, station = beside.distance_m, beside.station_m
    before, after = looked_at_m(corner)
    ends = np.interp([corner.turn_in_m - before, corner.exit_m + after], station, distance)
    at = np.arange(ends[0], ends[1] + STEP_M, STEP_M)
    x, y = line.at(at)
    own, offset = reference.project_near(x, y, np.interp(at, distance, station))
    sign, heading, curvature = corner.turn.sign, line.heading_at(at), line.curvature_at(at)
    road = road_under(course, own, offset, heading, curvature)
    # The two lines may count whole turns differently.
    along = reference.heading_at(own)
    stops = np.array([corner.turn_in_m, corner.last_apex_m, corner.exit_m])
    return LinePart(
        station_m=own,
        offset_m=offset,
        heading_rad=sign * (along + (heading - along + np.pi) % (2.0 * np.pi) - np.pi),
        curvature_1pm=sign * curvature,
        grade=road.grade,
        vertical_curvature_1pm=road.vertical_curvature_1pm,
        length_m=at - at[0],
        limits=crossings(own, stops[None], Grid.of([len(own)]))[0],
    )


def _standard(course: Course, corner: Corner, beside: _Beside | None) -> Standard:
    part = None if beside is None else _line_part(course, corner, beside)
    if part is not None and not part.whole:
        part = None
    markers = corner.markers
    station = np.array([m.station_m for m in markers])
    around = station[:, None] + np.linspace(-0.5, 0.5, WINDOW + 1) * HELD_OVER_M
    x, y = np.array([m.x_m for m in markers]), np.array([m.y_m for m in markers])
    proper = np.array([float(m.side.sign) for m in markers])
    nothing = np.full(len(markers), np.nan)
    seams = np.array([s.offset_at(around).mean(axis=1) for s in corner.seams])
    curvature, offset, gap = float("nan"), nothing, nothing
    if beside is not None and part is not None:
        leaving = beside.placed.held(corner, corner.last_apex_m, corner.exit_m)
        curvature = float(np.max(leaving.curvature_1pm))
        offset = part.offset_at(around).mean(axis=1)
        gap = _line_gap(beside.line, x, y) * proper
    return Standard(
        corner=corner,
        line=part,
        marker_m=station,
        cone_x_m=x,
        cone_y_m=y,
        proper=proper,
        outward=_outward(course, corner, station),
        camber_deg=np.array([m.camber_deg for m in markers]),
        line_offset_m=offset,
        line_gap_m=gap,
        seam_offset_m=seams.reshape(len(corner.seams), len(markers)),
        line_inside_share=np.array([_inside_share(part, corner, s) for s in corner.seams]),
        exit_radius_m=1.0 / curvature if curvature > 0 else float("nan"),
        exit_curvature_1pm=curvature,
        line_sd_m=course.marker_line_sd_m,
    )


def _outward(course: Course, corner: Corner, station: FloatArray) -> FloatArray:
    """Unit vectors across the course to the outside of the corner, east and north, ``(k, 2)``."""
    heading = course.reference.heading_at(station)
    left = np.stack([-np.sin(heading), np.cos(heading)], axis=-1)
    return -corner.turn.sign * left


def _inside_share(part: LinePart | None, corner: Corner, seam: CourseSeam) -> float:
    if part is None:
        return float("nan")
    station = np.arange(corner.last_apex_m, corner.exit_m, 0.5 * STEP_M)
    inner = corner.turn.sign * (part.offset_at(station) - seam.offset_at(station))
    return float(np.mean(inner > 0.0))


def _line_gap(line: StationLine, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Distance of the marker line from cones, metres, positive with the cone on the line's left."""
    return line.project(x_m, y_m)[1] if len(x_m) else np.zeros(0)
