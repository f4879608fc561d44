"""A track as a GeoJSON document, everything that lapkit does not know included."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.types import GeoCorner, GeoLine, GeoMarker, GeoPoint, Hazard, Track


def document_of(track: Track) -> dict[str, Any]:
    """The FeatureCollection of a track: features of known roles first, then those that were kept."""
    listed = [
        *(
            _line(role, line, track.centre_width_m if role == "centre" else None)
            for role, line in track.lines().items()
        ),
        *(_corner(corner) for corner in track.corners),
        *(_marker(marker) for marker in track.markers),
        *(_line("seam", seam) for seam in track.seams),
        *(_spot("hold_point", point) for point in track.hold_points),
        *(_spot("base_point", point) for point in track.base_points),
        *(_hazard(hazard) for hazard in track.hazards),
        *track.pit_lanes,
        *track.unknown,
    ]
    # A bounding box that came with the file may no longer be right.
    members = {name: value for name, value in track.members.items() if name != "bbox"}
    return {"type": "FeatureCollection", **members, "features": listed}


def _feature(
    role: str,
    geometry: dict[str, Any] | None,
    known: dict[str, Any],
    kept: GeoCorner | GeoLine | GeoMarker | GeoPoint | Hazard,
) -> dict[str, Any]:
    """A feature of a role: the properties that lapkit knows, where they say something, and whatever was kept."""
    given = {name: value for name, value in known.items() if value not in (None, "", [])}
    return {
        "type": "Feature",
        **{name: value for name, value in kept.members.items() if name != "bbox"},
        "properties": {"role": role, **given, **kept.properties},
        "geometry": geometry,
    }


def _line(role: str, line: GeoLine, width_m: float | None = None) -> dict[str, Any]:
    known = {"name": line.name, "corner": line.corner, "width_m": width_m}
    return _feature(role, line_geometry(line), known, line)


def _corner(corner: GeoCorner) -> dict[str, Any]:
    known = {
        "name": corner.name,
        "turn": corner.turn.value,
        "camber_deg": corner.camber_deg,
        "target_lane": corner.target_lane,
        "cues": list(corner.cues),
    }
    return _feature("corner", None, known, corner)


def _marker(marker: GeoMarker) -> dict[str, Any]:
    known = {
        "corner": marker.corner,
        "name": marker.name,
        "kind": marker.kind.value,
        "side": marker.side.value,
        "camber_deg": marker.camber_deg,
        "pass_within_m": marker.pass_within_m,
    }
    geometry = _point(marker.lon, marker.lat, marker.height_m)
    return _feature("marker", geometry, known, marker)


def _spot(role: str, point: GeoPoint) -> dict[str, Any]:
    geometry = _point(point.lon, point.lat, point.height_m)
    return _feature(role, geometry, {"name": point.name}, point)


def _hazard(hazard: Hazard) -> dict[str, Any]:
    known = {"text": hazard.text, "corner": hazard.corner}
    return _feature("hazard", hazard.geometry, known, hazard)


def _point(lon: float, lat: float, height_m: float | None) -> dict[str, Any]:
    height = [] if height_m is None else [float(height_m)]
    return {"type": "Point", "coordinates": [float(lon), float(lat), *height]}


def line_geometry(line: GeoLine) -> dict[str, Any]:
    """A LineString, or a MultiLineString cut at the antimeridian (RFC 7946, section 3.1.9)."""
    points = np.asarray(line.lon_lat)
    if line.height_m is not None:
        points = np.column_stack([points, line.height_m])
    written = [[_position(point) for point in part] for part in cut(points)]
    if len(written) == 1:
        return {"type": "LineString", "coordinates": written[0]}
    return {"type": "MultiLineString", "coordinates": written}


def _position(point: FloatArray) -> list[float]:
    """Longitude, latitude and, where it is known, height."""
    return [float(value) for value in point if np.isfinite(value)]


def cut(points: FloatArray) -> list[FloatArray]:
    """Positions (longitude first, shape ``(n, k)``) in parts that do not cross the antimeridian.

    Each part has two positions or more (RFC 7946, section 3.1.4).
    """
    parts, part = [], [points[0]]
    for here, there in pairwise(points):
        if abs(there[0] - here[0]) > 180.0:
            edge = np.copysign(180.0, here[0])
            way = there[0] + 2.0 * edge - here[0]
            share = (edge - here[0]) / way if way else 0.0
            crossing = here + share * (there - here)
            crossing[0] = edge
            parts.append([*part, crossing] if share > 0.0 else part)
            crossing = crossing.copy()
            crossing[0] = -edge
            part = [crossing] if share < 1.0 else []
        part.append(there)
    return [np.array(p) for p in (*parts, part) if len(p) > 1]
