"""The course on the local plane, measured along stations.

Stations run in the direction of riding along the reference line: the centre, else the middle of the edges, the marker
line, a lone edge, or the riders' usual lap. Offsets from it are positive to the left (ISO 8855).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.counting import counted
from lapkit.course.edges import Edges
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import RIDING_ORDER, Hazard, LineSource, MarkerKind, Track, Turn
from lapkit.errors import TrackError, named, printable


@dataclass(frozen=True)
class CourseMarker:
    """A cone on the plane: metres east and north, station along the reference and offset from it.

    ``side`` is the rider's side on which it stands as he passes. ``camber_deg`` is the road's camber at the cone,
    positive where it is banked to the inside.
    """

    name: str
    kind: MarkerKind
    side: Turn
    x_m: float
    y_m: float
    station_m: float
    offset_m: float
    camber_deg: float
    pass_within_m: float


@dataclass(frozen=True, eq=False)
class CourseSeam:
    """A seam as offsets from the reference along the stretch where it runs.

    ``station_m`` and ``offset_m`` have shape ``(n,)``. Stations increase, and count on past the end of a lap when
    the corner lies across it.
    """

    name: str
    station_m: FloatArray
    offset_m: FloatArray

    def offset_at(self, station_m: FloatArray) -> FloatArray:
        """Offset of the seam at stations of any shape, metres; beyond an end of the seam its offset at that end."""
        return np.interp(station_m, self.station_m, self.offset_m)


@dataclass(frozen=True, eq=False)
class Corner:
    """A corner placed on the course.

    Attributes:
        name: as the coach calls it.
        turn: left or right.
        turn_in_m, apexes_m, exit_m: stations, metres along the reference. ``turn_in_m`` lies in ``[0, length)``; the
            others count on past the end of a lap, so that always turn-in < apexes < exit.
        markers: its cones in riding order.
        seams: its seams, from the inside of the corner outward.
        camber_deg: where no cone says otherwise, degrees, positive where banked to the inside.
        target_lane: counted from the inside; None when the coach named none.
        cues, hazards: sentences for the rider.
    """

    name: str
    turn: Turn
    turn_in_m: float
    apexes_m: tuple[float, ...]
    exit_m: float
    markers: tuple[CourseMarker, ...] = ()
    seams: tuple[CourseSeam, ...] = ()
    camber_deg: float = 0.0
    target_lane: int | None = None
    cues: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every seam's stations."""
        parts = counted(len(self.markers), "cone"), counted(len(self.seams), "seam")
        return f"<Corner {printable(self.name)}, {self.turn}: {', '.join(parts)}>"

    @property
    def last_apex_m(self) -> float:
        """Station where the exit phase begins."""
        return self.apexes_m[-1]

    @property
    def ridden_past(self) -> tuple[CourseMarker, ...]:
        """Its cones in riding order, without those that are only looked at."""
        return tuple(marker for marker in self.markers if marker.kind in RIDING_ORDER)

    def camber_at(self, station_m: FloatArray) -> FloatArray:
        """Camber at stations of any shape, degrees: linear from cone to cone."""
        known = sorted((m.station_m, m.camber_deg) for m in self.markers)
        if not known:
            return np.full(np.shape(station_m), self.camber_deg)
        at, camber = np.array(known).T
        return np.interp(station_m, at, camber)


@dataclass(frozen=True, eq=False)
class Profile:
    """Grade and vertical curvature along the stations.

    Attributes:
        station_m: even steps from 0, metres, ``(n,)``.
        grade: rise over run, ``(n,)``.
        vertical_curvature_1pm: 1/m, positive in a dip, ``(n,)``.
        length_m: the lap length of a closed course; None for an open one.
        doubt_1pm: draws of the error of the vertical curvature, 1/m, ``(draws, nodes)``. The nodes are the stations
            and, on a closed course, the first one again, a lap on. None when the error is negligible.
    """

    station_m: FloatArray
    grade: FloatArray
    vertical_curvature_1pm: FloatArray
    length_m: float | None
    doubt_1pm: FloatArray | None = None

    def at(self, station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Grade and vertical curvature (1/m) at stations of any shape; periodic on a closed course."""
        return (
            np.interp(station_m, self.station_m, self.grade, period=self.length_m),
            np.interp(station_m, self.station_m, self.vertical_curvature_1pm, period=self.length_m),
        )

    def doubt_at(self, station_m: FloatArray, rows: int) -> FloatArray | float:
        """The error of the vertical curvature for each row of an ensemble, at stations ``(n,)``, 1/m, ``(rows, n)``.

        Row 0 belongs to the estimate and is zero; the others are draws, which rows beyond their number take once more.
        Plain 0.0 when the error is negligible.
        """
        known = self._doubt_by_metre
        if known is None:
            return 0.0
        station = station_m if self.length_m is None else np.mod(station_m, self.length_m)
        metre = np.clip(station.astype(np.int64), 0, known.shape[1] - 1)
        drawn = 1 + np.arange(rows - 1) % (len(known) - 1)
        return np.take(known[np.append(0, drawn)], metre, axis=1)

    @cached_property
    def _doubt_by_metre(self) -> FloatArray | None:
        """A row of zeros, then the draws, in the middle of every metre: a table for fast lookup."""
        if self.doubt_1pm is None:
            return None
        nodes = self.station_m[1] * np.arange(self.doubt_1pm.shape[1])
        middle = np.arange(0.5, nodes[-1], 1.0)
        drawn = [np.interp(middle, nodes, one) for one in self.doubt_1pm]
        return np.stack([np.zeros_like(middle), *drawn])


@dataclass(frozen=True, eq=False)
class Course:
    """Everything that later links ask of the course, in metres on one local plane.

    Attributes:
        plane: the plane of all coordinates.
        reference: the line along which stations count.
        start_line: its two ends, metres, shape ``(2, 2)``; row 0 is on the left of a rider who crosses it.
        corners: in the order in which they are ridden.
        edges: the track's edges, or None.
        marker_line: the line the coach wants ridden, or None.
        marker_line_from: where that line comes from.
        marker_line_sd_m: standard deviation per axis, metres, of the offset that a ridden line has as a whole.
        profile: grade and vertical curvature, or None when the track file has no heights.
        hold_points, base_points: known spots, metres, shape ``(n, 2)``, or None.
        pit_lanes: polygons or lines, metres, each of shape ``(n, 2)``.
        hazards: as the track file holds them, in degrees.
        track: the track file this came from; None for a course found from the logs.
        found: whether loop and corners were found from the logs.
    """

    plane: Plane
    reference: StationLine
    start_line: FloatArray
    corners: tuple[Corner, ...]
    edges: Edges | None = None
    marker_line: StationLine | None = None
    marker_line_from: LineSource = LineSource.NONE
    marker_line_sd_m: float = 0.0
    profile: Profile | None = None
    hold_points: FloatArray | None = None
    base_points: FloatArray | None = None
    pit_lanes: tuple[FloatArray, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    track: Track | None = None
    found: bool = False

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every station."""
        corners = ", ".join(corner.name for corner in self.corners)
        return f"<Course of {self.reference.length_m:.0f} m: {printable(corners) or 'no corners'}>"

    @property
    def closed(self) -> bool:
        """Whether the course is a loop."""
        return self.reference.closed

    def require_marker_line(self) -> StationLine:
        """The marker line.

        Raises:
            TrackError: the course has none.
        """
        if self.marker_line is None:
            raise TrackError("the course has no marker line", remedy="Solve or give one.")
        return self.marker_line

    def edges_at(self, station_m: FloatArray) -> tuple[FloatArray, FloatArray] | None:
        """Offsets of the left and right edge at stations of any shape, metres; None without edges."""
        return None if self.edges is None else self.edges.along(self.reference, station_m)

    def corner(self, name: str | int) -> Corner:
        """The corner of that name, or of that number where corners are numbered.

        Raises:
            OptionError: there is none; the nearest is named.
        """
        return named("corner", str(name), {corner.name: corner for corner in self.corners})
