"""From a track file to the course: everything on one plane and measured along one line."""

from __future__ import annotations

from typing import Any

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.corner_place import PlacedCorner, place_corner
from lapkit.course.course import Corner, Course, Profile
from lapkit.course.plane import Plane
from lapkit.course.profile import profile_of
from lapkit.course.reference import edges_of, on_plane, plane_of, reference_of, station_line
from lapkit.course.seams import PlacedSeam, place_seams, seams_of
from lapkit.course.start import found_start_line, given_start_line
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoPoint, LineSource, Track
from lapkit.errors import TrackError


def place(track: Track) -> Course:
    """Place a track file on the plane and measure it along stations.

    The reference is the centre, else the middle of the edges, else the marker line, else the one edge there is. A start
    line or the phases of a corner that the file lacks are estimated; anything else that it lacks is left out.
    :func:`lapkit.course.checks.check_track` lists both.

    Raises:
        TrackError: there is no line to measure along, or a corner's cones are out of order.
    """
    plane = plane_of(track)
    reference = reference_of(track, plane)
    edges = edges_of(track, plane, reference)
    line, line_from = None, LineSource.NONE
    if track.marker_line is not None:
        line = station_line(plane, track.marker_line, track.source, "marker_line")
        line_from = LineSource.GIVEN
    if track.start_line is None:
        start = found_start_line(reference, edges)
    else:
        start = given_start_line(reference, on_plane(plane, track.start_line))
    return Course(
        plane=plane,
        reference=reference,
        start_line=start,
        corners=_corners(track, plane, reference),
        edges=edges,
        marker_line=line,
        marker_line_from=line_from,
        profile=_profile(track, plane, reference),
        hold_points=_spots(plane, track.hold_points),
        base_points=_spots(plane, track.base_points),
        pit_lanes=tuple(_outline(plane, feature["geometry"]) for feature in track.pit_lanes),
        hazards=track.hazards,
        track=track,
    )


def _corners(track: Track, plane: Plane, reference: StationLine) -> tuple[Corner, ...]:
    """Every corner that has cones, in the order they are ridden."""
    seams = place_seams(track, plane, reference)
    found = []
    for given in track.corners:
        placed = place_corner(track, given, plane, reference)
        if placed is None:
            continue
        if not placed.ordered:
            raise TrackError(
                "its cones are not in the order turn-in, apex, exit along the direction of riding",
                where=f"{track.source}, corner {given.name!r}",
                remedy="Check the kind and place of each, and the direction of the centre.",
            )
        found.append(_corner(track, placed, seams, reference))
    return tuple(sorted(found, key=lambda corner: corner.turn_in_m))


def _corner(
    track: Track, placed: PlacedCorner, seams: tuple[PlacedSeam, ...], reference: StationLine
) -> Corner:
    """A placed corner with its seams and hazards."""
    given = placed.corner
    return Corner(
        name=given.name,
        turn=given.turn,
        turn_in_m=placed.turn_in_m,
        apexes_m=placed.apexes_m,
        exit_m=placed.exit_m,
        markers=placed.markers,
        seams=seams_of(placed, seams, reference),
        camber_deg=0.0 if given.camber_deg is None else given.camber_deg,
        target_lane=given.target_lane,
        cues=given.cues,
        hazards=tuple(h.text for h in track.hazards if h.corner == given.name),
    )


def _profile(track: Track, plane: Plane, reference: StationLine) -> Profile | None:
    """Grade and vertical curvature from the centre's heights, else the edges', else the line's."""
    for lines in ((track.centre,), (track.left_edge, track.right_edge), (track.marker_line,)):
        station, height = [], []
        for line in lines:
            if line is not None and line.height_m is not None:
                station.append(reference.follow(*on_plane(plane, line))[0])
                height.append(line.height_m)
        if station:
            return profile_of(reference, np.concatenate(station), np.concatenate(height))
    return None


def _spots(plane: Plane, points: tuple[GeoPoint, ...]) -> FloatArray | None:
    """Known spots on the plane, metres, ``(n, 2)``; None without any."""
    if not points:
        return None
    x, y = plane.to_xy([p.lat for p in points], [p.lon for p in points])
    return read_only(np.stack([x, y], axis=-1))


def _outline(plane: Plane, geometry: dict[str, Any]) -> FloatArray:
    """A line, or a polygon's outer ring, on the plane, shape ``(n, 2)``."""
    positions = geometry["coordinates"]
    if geometry["type"] == "Polygon":
        positions = positions[0]
    lon_lat = np.array([position[:2] for position in positions], dtype=np.float64)
    return read_only(np.stack(plane.to_xy(lon_lat[:, 1], lon_lat[:, 0]), axis=-1))
