"""The line along which a course is measured, and the edges as offsets from it."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.coordinates import one_turn_deg
from lapkit.course.edges import Edges
from lapkit.course.jitter import rounding_m, without_jitter
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import EDGE_ROLES, GeoLine, Track
from lapkit.errors import TrackError

MEETS_M = 8.0
"""A line whose ends are no further apart than this is closed, metres (our choice)."""

MEETS_SPACINGS = 1.5
"""A line is closed too when its ends are no further apart than this many times its own usual spacing."""

# Two roads of one direction are never so near each other for so long (our choice).
_SAME_ROAD_M = 4.0
_SAME_WAY_M = 100.0
_FURTHER_ON_M = 60.0
_ALIKE = float(np.cos(np.radians(30.0)))
_LOOKED_AT_M = 6.0
_MOST_NEIGHBOURS = 60  # a lap gives six

_UNCOVERED_M = 30.0  # a longer gap between points of an edge was not drawn (our choice)


def plane_of(track: Track) -> Plane:
    """A plane with its origin in the middle of whatever the track file holds.

    Raises:
        TrackError: the file holds no line at all.
    """
    lines = (track.centre, track.left_edge, track.right_edge, track.marker_line)
    for line in lines:
        if line is not None:
            lon, lat = line.lon_lat.T
            around = np.angle(np.exp(1j * np.radians(lon - lon[0])).mean(), deg=True)
            return Plane(float(lat.mean()), float(one_turn_deg(lon[0] + around)))
    raise _no_line(track)


def _no_line(track: Track) -> TrackError:
    return TrackError(
        "it has neither a centre, nor an edge, nor a marker line to measure along",
        where=track.source,
        remedy="Walk or ride a lap and record it as `centre`; see `lapkit walk`.",
    )


def on_plane(plane: Plane, line: GeoLine) -> tuple[FloatArray, FloatArray]:
    """A line's vertices, metres east and north; each ``(n,)``."""
    return plane.to_xy(line.lon_lat[:, 1], line.lon_lat[:, 0])


def meets(x_m: FloatArray, y_m: FloatArray) -> bool:
    """Whether the ends of a line, metres, ``(n,)`` each, meet, so that it is a loop."""
    if len(x_m) < 4:
        return False
    steps = np.hypot(np.diff(x_m), np.diff(y_m))
    apart = np.hypot(x_m[-1] - x_m[0], y_m[-1] - y_m[0])
    near = max(MEETS_M, MEETS_SPACINGS * float(np.median(steps)))
    return bool(apart <= near and steps.sum() > 4.0 * near)


def station_line(plane: Plane, line: GeoLine, source: str, role: str) -> StationLine:
    """A line of the track file on the plane, closed when its ends meet, without jitter.

    Raises:
        TrackError: the line has too few different points.
    """
    x, y = on_plane(plane, line)
    closed = meets(x, y)
    try:
        return without_jitter(x, y, StationLine.through(x, y, closed), rounding_m(line.lon_lat))
    except TrackError as error:
        raise TrackError(error.what, where=f"{source}, {role}", remedy=error.remedy) from error


def reference_roles(track: Track) -> tuple[str, ...]:
    """Roles of the lines that the reference is made of: the centre; else both edges; else the marker line; else an edge.

    Empty when the file holds none of them.
    """
    if track.centre is not None:
        return ("centre",)
    if track.left_edge is not None and track.right_edge is not None:
        return EDGE_ROLES
    return tuple(track.lines("marker_line", *EDGE_ROLES))[:1]


def reference_of(track: Track, plane: Plane) -> StationLine:
    """The line of :func:`reference_roles`, or the middle between the edges.

    Raises:
        TrackError: the file holds none of them, or what it holds goes round more than once.
    """
    roles = reference_roles(track)
    if not roles:
        raise _no_line(track)
    lines = track.lines(*roles).items()
    drawn = [station_line(plane, line, track.source, role) for role, line in lines]
    reference = middle_of(*drawn) if len(drawn) == 2 else drawn[0]
    _refuse_second_lap(reference, f"{track.source}, {' and '.join(roles)}")
    return reference


def _refuse_second_lap(line: StationLine, where: str) -> None:
    """Refuse a line that goes round more than once: every place of it would have two stations.

    Raises:
        TrackError: for some way it lies over itself, in the same direction.
    """
    points = np.stack([line.x_m, line.y_m], axis=-1)
    tree = line.tree
    # Asked first, as lists of all that is near would take gigabytes.
    if tree.count_neighbors(tree, _SAME_ROAD_M) > _MOST_NEIGHBOURS * tree.n:
        raise TrackError(
            "it lies over itself again and again", where=where, remedy="Keep one lap of it."
        )
    here = np.arange(0, len(points), max(1, round(_LOOKED_AT_M / line.step_m)))
    near = tree.query_ball_point(points[here], _SAME_ROAD_M, return_sorted=True)
    again = []
    for station, found in zip(line.station_m[here], near, strict=True):
        before = line.station_m[found[0]]
        apart = station - before
        if line.closed:
            apart = min(apart, line.length_m - apart)
        turned = line.heading_at(station) - line.heading_at(before)
        if apart > _FURTHER_ON_M and np.cos(turned) > _ALIKE:
            again.append(float(station))
    if len(again) * _LOOKED_AT_M > _SAME_WAY_M:
        raise TrackError(
            f"it goes round more than once: from {again[0]:.0f} m on it lies over itself",
            where=where,
            remedy="Keep one lap of it.",
        )


def middle_of(left: StationLine, right: StationLine) -> StationLine:
    """The line midway between two edges, measured square to itself, in the direction of the left one."""
    middle = left
    for _ in range(3):
        at = middle.station_m[:-1] if middle.closed else middle.station_m
        to_left, _ = offsets_along(middle, left, at)
        to_right, _ = offsets_along(middle, right, at)
        x, y = middle.offset_points(at, 0.5 * (to_left + to_right))
        # Every other point only, because normals crowd together on the inside of a bend.
        middle = StationLine.through(x[::2], y[::2], middle.closed)
    return middle


def edges_of(track: Track, plane: Plane, reference: StationLine) -> Edges | None:
    """The edges as offsets from the reference; None when the file has neither an edge nor a width.

    A single edge is mirrored about the centre. Without edges they run beside the centre at half its ``width_m``.

    Raises:
        TrackError: an edge has too few different points.
    """
    drawn = {}
    at = reference.station_m[:-1] if reference.closed else reference.station_m
    for role, line in track.lines(*EDGE_ROLES).items():
        edge = station_line(plane, line, track.source, role)
        drawn[role] = offsets_along(reference, edge, at)
    if not drawn and track.centre_width_m:
        half = np.full(len(at), 0.5 * track.centre_width_m)
        return Edges(read_only(at), read_only(half), read_only(-half))
    if not drawn or (len(drawn) == 1 and track.centre is None):
        return None
    if "left_edge" not in drawn:
        drawn["left_edge"] = (-drawn["right_edge"][0], 0.0)
    elif "right_edge" not in drawn:
        drawn["right_edge"] = (-drawn["left_edge"][0], 0.0)
    left, missing_left = drawn["left_edge"]
    right, missing_right = drawn["right_edge"]
    return Edges(read_only(at), read_only(left), read_only(right), missing_left, missing_right)


def along(reference: StationLine, line: StationLine) -> tuple[FloatArray, FloatArray]:
    """A line's unwrapped stations and offsets along the reference, metres, ``(n,)`` each.

    A line drawn against the direction of riding is reversed.
    """
    station, offset, _ = reference.follow_either_way(line.x_m, line.y_m)
    return station, offset


def offsets_along(
    reference: StationLine, line: StationLine, at: FloatArray
) -> tuple[FloatArray, float]:
    """Offsets of a line at stations ``(n,)``, metres, and the length of the reference that it does not cover, metres.

    Where the line was not drawn the offset is its median.
    """
    station, offset = along(reference, line)
    period = reference.period_m
    order = np.argsort(reference.wrap(station), kind="stable")
    known, offset = reference.wrap(station)[order], offset[order]
    found = np.interp(at, known, offset, period=period)
    after = np.searchsorted(known, at)
    if reference.closed:
        gap = known[after % len(known)] - known[after - 1]
        gap = np.where(gap < 0.0, gap + reference.length_m, gap)
    else:
        padded = np.concatenate([[-np.inf], known, [np.inf]])
        gap = padded[after + 1] - padded[after]
        gap[(at < known[0]) & (known[0] < _UNCOVERED_M)] = 0.0
        gap[(at > known[-1]) & (known[-1] > reference.length_m - _UNCOVERED_M)] = 0.0
    missing = gap > _UNCOVERED_M
    found[missing] = np.median(offset)
    return found, float(np.count_nonzero(missing) * reference.step_m)
