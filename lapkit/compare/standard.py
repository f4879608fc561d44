"""What riders are held against at each corner: the marker line through it, its cones and its seams.

It is worked out once a course and shared by all laps of all riders.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import STEP_M, WINDOW
from lapkit.compare.held import MEAN_WEIGHTS
from lapkit.compare.line_part import LineOnCourse, LinePart
from lapkit.course.course import Corner, Course, CourseMarker, CourseSeam
from lapkit.curvature import HELD_OVER_M

MOSTLY = 0.5
"""A lap is inside a seam when more than this share of the exit phase was ridden inside it."""

SHORTEST_EXIT_M = 15.0
"""Whether an exit tightens is not judged where the exit phase is shorter, metres. Few stretches of 10 m then lie in it, and
the machine is rolled over in them: a metre earlier or later, the same riding has another radius by a quarter (our choice)."""


@dataclass(frozen=True, eq=False)
class MarkerStandard:
    """What a rider is held against at one marker; without a marker line, all that comes from it is NaN.

    Attributes:
        marker: the marker itself.
        outward: unit vector across the course to the outside of the corner, east and north, ``(2,)``.
        line_offset_m: mean offset of the marker line from the reference over the 10 m of its length around the
            marker, metres, left positive.
        line_gap_m: distance of the marker line from the cone, metres, positive when it passes on the proper side.
        seam_offset_m: mean offset of each seam of the corner over the 10 m of reference around the marker, innermost
            first, ``(seams,)``.
    """

    marker: CourseMarker
    outward: FloatArray
    line_offset_m: float
    line_gap_m: float
    seam_offset_m: FloatArray


@dataclass(frozen=True, eq=False)
class Standard:
    """What a rider is held against at one corner.

    Attributes:
        corner: the corner.
        line: the marker line through it; None where there is none, or it does not run through the whole corner.
        markers: what goes with each of the corner's markers, in their order.
        seams_to_mind: seams that the marker line stays outside of over most of the exit phase, innermost first;
            all seams without a marker line. Running inside one of these is reported.
        line_sd_m: one standard deviation per axis of how far the marker line may lie off as a whole, metres.
    """

    corner: Corner
    line: LinePart | None
    markers: tuple[MarkerStandard, ...]
    seams_to_mind: tuple[CourseSeam, ...]
    line_sd_m: float

    @property
    def exit_curvature_1pm(self) -> float:
        """As :attr:`LinePart.exit_curvature_1pm`; NaN without a line."""
        return float("nan") if self.line is None else self.line.exit_curvature_1pm

    @property
    def exit_radius_m(self) -> float:
        """The marker line's tightest radius in the exit phase, metres; NaN without a line, or where it turns away."""
        curvature = self.exit_curvature_1pm
        return 1.0 / curvature if curvature > 0 else float("nan")

    @property
    def judges_exit(self) -> bool:
        """Whether exits are held against the marker line: there is one, and the exit phase is long enough."""
        long_enough = self.corner.exit_m - self.corner.last_apex_m >= SHORTEST_EXIT_M
        return self.line is not None and bool(long_enough)

    @property
    def exit_too_short(self) -> bool:
        """Whether exits are not judged for want of room, though there is a marker line."""
        return self.line is not None and not self.judges_exit

    @property
    def line_inside(self) -> bool:
        """Whether there are seams and the marker line itself runs inside all of them, so that none is counted."""
        return bool(self.corner.seams) and not self.seams_to_mind

    @property
    def counted_seam(self) -> CourseSeam | None:
        """The seam by which laps are counted as inside or outside: the first of :attr:`seams_to_mind`."""
        return next(iter(self.seams_to_mind), None)

    def at(self, marker: CourseMarker) -> MarkerStandard:
        """What goes with one of the corner's markers."""
        return self.markers[self.corner.markers.index(marker)]

    def along_line(
        self, channel: Callable[[LinePart], FloatArray], station_m: FloatArray
    ) -> FloatArray:
        """A channel of the marker line at stations of any shape, constant beyond its ends; NaN without a line."""
        if self.line is None:
            return np.full(np.shape(station_m), np.nan)
        return np.interp(station_m, self.line.station_m, channel(self.line))

    def line_offset_at(self, station_m: FloatArray) -> FloatArray:
        """Offset of the marker line at stations, metres; NaN where it does not run, and without one."""
        if self.line is None:
            return np.full(np.shape(station_m), np.nan)
        return self.line.offset_at(station_m)


@lru_cache(maxsize=4)
def standards(course: Course) -> dict[str, Standard]:
    """The standard of every corner, by the corner's name."""
    marker_line = LineOnCourse.of(course)
    found = {}
    for corner in course.corners:
        line = None if marker_line is None else marker_line.part(corner)
        found[corner.name] = Standard(
            corner=corner,
            line=line,
            markers=_marker_standards(course, corner, line),
            seams_to_mind=_seams_to_mind(corner, line),
            line_sd_m=course.marker_line_sd_m,
        )
    return found


def _marker_standards(
    course: Course, corner: Corner, line: LinePart | None
) -> tuple[MarkerStandard, ...]:
    markers = corner.markers
    station = np.array([m.station_m for m in markers])
    around = station[:, None] + np.linspace(-0.5, 0.5, WINDOW + 1) * HELD_OVER_M
    seams = [seam.offset_at(around) @ MEAN_WEIGHTS for seam in corner.seams]
    seam_offset = np.array(seams).reshape(len(corner.seams), len(markers))
    outward = _outward(course, corner, station)
    line_offset = line_gap = np.full(len(markers), np.nan)
    if line is not None:
        line_offset = line.offset_held_m(station)
        x, y = np.array([m.x_m for m in markers]), np.array([m.y_m for m in markers])
        # Passed on its proper side, a cone that should stand on the rider's left lies left of the line.
        line_gap = line.left_of_it_m(x, y) * np.array([float(m.side.sign) for m in markers])
    return tuple(
        MarkerStandard(
            marker=marker,
            outward=outward[k],
            line_offset_m=float(line_offset[k]),
            line_gap_m=float(line_gap[k]),
            seam_offset_m=seam_offset[:, k],
        )
        for k, marker in enumerate(markers)
    )


def _outward(course: Course, corner: Corner, station_m: FloatArray) -> FloatArray:
    """Unit vectors across the course to the outside of the corner at stations ``(k,)``: east and north, ``(k, 2)``."""
    return -corner.turn.sign * course.reference.left_at(station_m)


def _seams_to_mind(corner: Corner, line: LinePart | None) -> tuple[CourseSeam, ...]:
    """As :attr:`Standard.seams_to_mind`."""
    if line is None:
        return corner.seams
    station = np.arange(corner.last_apex_m, corner.exit_m, 0.5 * STEP_M)

    def share_inside(seam: CourseSeam) -> float:
        inner = corner.turn.sign * (line.offset_at(station) - seam.offset_at(station))
        return float(np.mean(inner > 0.0))

    return tuple(seam for seam in corner.seams if share_inside(seam) <= MOSTLY)
