"""The course as the coach laid it out: the parts of a track file, in degrees as he recorded them.

These classes mirror the roles of the track file one to one; :class:`lapkit.course.course.Course` is the same
placed on the local plane and measured along stations. ``properties`` holds those properties of a feature that
lapkit does not know, and ``members`` its foreign members, such as an ``id``. Both are kept when a file is
rewritten.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from lapkit.arrays import FloatArray
from lapkit.counting import counted
from lapkit.errors import printable


class Turn(StrEnum):
    """Which way a corner goes, as the rider sees it."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def sign(self) -> int:
        """+1 for left and −1 for right: the sign of curvature in this corner (ISO 8855)."""
        return 1 if self is Turn.LEFT else -1


class MarkerKind(StrEnum):
    """What a marker marks."""

    TURN_IN = "turn_in"
    APEX = "apex"
    EXIT = "exit"
    SIGHT = "sight"


class LineSource(StrEnum):
    """Where a course's marker line comes from."""

    GIVEN = "given"
    """Drawn in the track file."""

    RIDDEN = "ridden"
    """The mean of the coach's own laps."""

    SOLVED = "solved"
    """Solved from the cones."""

    NONE = "none"
    """The course has no marker line."""


RIDING_ORDER = (MarkerKind.TURN_IN, MarkerKind.APEX, MarkerKind.EXIT)
"""The cones that a corner is ridden past, in order; a sight cone is only looked at."""

LINE_ROLES = ("start_line", "centre", "left_edge", "right_edge", "marker_line")
"""Roles that a track file has at most one line of, in the order in which they are written."""

EDGE_ROLES = ("left_edge", "right_edge")
"""Roles of the two edges."""


@dataclass(frozen=True, eq=False)
class GeoLine:
    """A line on the ground in the direction of riding.

    Attributes:
        lon_lat: longitude and latitude of its points, degrees, ``(n, 2)``.
        height_m: heights of its points, metres, ``(n,)``, NaN where a point has none; None when no point has one.
        name: its name; may be empty.
        corner: the corner that it belongs to; empty for none.
        properties, members: see the module.
    """

    lon_lat: FloatArray
    height_m: FloatArray | None = None
    name: str = ""
    corner: str = ""
    properties: dict[str, Any] = field(default_factory=dict)
    members: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class GeoMarker:
    """A cone. ``side`` is the rider's side on which it stands as he passes."""

    corner: str
    name: str
    kind: MarkerKind
    side: Turn
    lon: float
    lat: float
    camber_deg: float | None = None
    pass_within_m: float | None = None
    height_m: float | None = None
    properties: dict[str, Any] = field(default_factory=dict)
    members: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class GeoCorner:
    """A corner as named by the coach; its markers and seams refer to it by ``name``."""

    name: str
    turn: Turn
    camber_deg: float | None = None
    target_lane: int | None = None
    cues: tuple[str, ...] = ()
    properties: dict[str, Any] = field(default_factory=dict)
    members: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class GeoPoint:
    """A known spot: hold point or base point."""

    lon: float
    lat: float
    name: str = ""
    height_m: float | None = None
    properties: dict[str, Any] = field(default_factory=dict)
    members: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Hazard:
    """Something to mind, with its text and its GeoJSON geometry."""

    text: str
    geometry: dict[str, Any]
    corner: str = ""
    properties: dict[str, Any] = field(default_factory=dict)
    members: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Track:
    """A track file read into memory.

    Attributes:
        source, sha256: the file's name and hash.
        start_line, centre, left_edge, right_edge, marker_line: lines, None where the file has none.
        centre_width_m: the centre's ``width_m``, metres, when given.
        corners, markers, seams, hold_points, base_points, hazards: in the order of the file.
        pit_lanes: whole features as they stand in the file.
        unknown: features whose role lapkit does not know, kept when the file is rewritten.
        members: foreign members of the collection, kept too.
    """

    source: str
    sha256: str
    start_line: GeoLine | None = None
    centre: GeoLine | None = None
    centre_width_m: float | None = None
    left_edge: GeoLine | None = None
    right_edge: GeoLine | None = None
    marker_line: GeoLine | None = None
    corners: tuple[GeoCorner, ...] = ()
    markers: tuple[GeoMarker, ...] = ()
    seams: tuple[GeoLine, ...] = ()
    hold_points: tuple[GeoPoint, ...] = ()
    base_points: tuple[GeoPoint, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    pit_lanes: tuple[dict[str, Any], ...] = ()
    unknown: tuple[dict[str, Any], ...] = ()
    members: dict[str, Any] = field(default_factory=dict)

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every position."""
        parts = [
            counted(len(self.corners), "corner"),
            counted(len(self.markers), "cone"),
            counted(len(self.seams), "seam"),
        ]
        return f"<Track {printable(self.source)}: {', '.join(parts)}>"

    def lines(self, *roles: str) -> dict[str, GeoLine]:
        """The lines that the file has, by role: those of the given :data:`LINE_ROLES`, or all when none is given."""
        by_role = {
            "start_line": self.start_line,
            "centre": self.centre,
            "left_edge": self.left_edge,
            "right_edge": self.right_edge,
            "marker_line": self.marker_line,
        }
        wanted = roles or LINE_ROLES
        return {role: line for role in wanted if (line := by_role[role]) is not None}
