"""The corridor of a line: between the edges, and past every cone on its proper side.

Offsets are from the reference, left positive, as everywhere on a course.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind, Turn
from lapkit.errors import TrackError

EDGE_ROOM_M = 0.5
"""Room left between the line and an edge for the tyres, metres (our choice)."""

CONE_ROOM_M = 0.2
"""Room left between the line and a cone's middle, metres: half a cone's base (our choice)."""

VERGE_M = 5.0
"""How far outside the edge a cone may stand and still be passed along it, metres (our choice).

A cone that stands on the edge and an edge walked with a handheld receiver may come out that far apart. The
line stays inside the edge all the same; ``pass_within_m`` then counts from the edge.
"""

DEFAULT_HALF_WIDTH_M = 6.0
"""Half the track's width where the file gives neither edges nor width, metres (our choice)."""

_TAPER_M = 40.0  # from a cone beyond the assumed width to where it holds again (our choice)


@dataclass(frozen=True)
class Window:
    """The offsets from the reference at which a line passes a cone as asked: ``low_m`` ≤ offset ≤ ``high_m``."""

    marker: CourseMarker
    corner: str
    low_m: float
    high_m: float

    @property
    def where(self) -> str:
        """The cone, as error messages name it."""
        return f"corner {self.corner!r}, marker {self.marker.name!r}"


def edges_or_assumed(course: Course, station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Offsets of the left and the right edge at stations ``(n,)``, metres, each of shape ``(n,)``.

    A course without edges is assumed to be 12 m wide, and wider wherever a cone stands further out;
    :meth:`Course.edges_at <lapkit.course.course.Course.edges_at>` assumes nothing.
    """
    known = course.edges_at(station_m)
    if known is not None:
        return known
    left = np.full(len(station_m), DEFAULT_HALF_WIDTH_M)
    right = -left
    for corner in course.corners:
        for marker in corner.markers:
            way = course.reference.way(station_m - marker.station_m)
            # The cone's whole offset over the nearer half of the taper, none of it at the end.
            share = np.clip(2.0 - 2.0 * np.abs(way) / _TAPER_M, 0.0, 1.0)
            reach = share * marker.offset_m
            left, right = np.maximum(left, reach), np.minimum(right, reach)
    return left, right


def window(course: Course, corner: Corner, marker: CourseMarker) -> Window:
    """The offsets that pass a cone on its proper side and within its distance.

    A cone on the verge is passed along the edge. A sight marker is looked at, not passed closely.

    Raises:
        TrackError: no line between the edges can pass the cone so; the error names it.
    """
    edges = edges_or_assumed(course, np.array([marker.station_m]))
    left, right = float(edges[0][0]), float(edges[1][0])
    stands = float(np.clip(marker.offset_m, right, left))
    sight = marker.kind is MarkerKind.SIGHT
    reach = left - right + VERGE_M if sight else marker.pass_within_m
    room = min(CONE_ROOM_M, 0.25 * reach)
    on_left = marker.side is Turn.LEFT
    low, high = (stands - reach, stands - room) if on_left else (stands + room, stands + reach)
    found = Window(
        marker, corner.name, max(low, right + EDGE_ROOM_M), min(high, left - EDGE_ROOM_M)
    )
    beyond = abs(marker.offset_m - stands)
    if beyond > VERGE_M and not sight:
        raise TrackError(
            f"the cone stands {beyond:.1f} m outside the track's edge",
            where=found.where,
            remedy="Move it to the edge, or correct the edge.",
        )
    if found.low_m >= found.high_m:
        raise TrackError(
            f"no line can leave {EDGE_ROOM_M:g} m to the edges and pass this cone, "
            f"{marker.side} of the rider, within {marker.pass_within_m:g} m",
            where=found.where,
            remedy="Check the cone's place and side, or raise its pass_within_m.",
        )
    return found
