"""Laps, marker line, corners and cones as layers for a GIS: GeoJSON by RFC 7946.

WGS 84, longitude first, degrees to seven decimals (a centimetre); polygons counter-clockwise; cut at the
antimeridian. Unknown numbers are null.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Corner, Course
from lapkit.course.track_writer import cut
from lapkit.library.run import Run

Layer = dict[str, Any]
"""A FeatureCollection, ready for :func:`json.dumps`."""

_DIGITS = 7  # a centimetre
_STEP_M = 2.0  # a bend of 10 m radius is drawn to 5 cm


def laps_layer(runs: Run | Iterable[Run]) -> Layer:
    """The ridden path (machine and rider's centre of mass) of each lap, with the lap's row as properties.

    Args:
        runs: a run or several; a point every 0.2 s.
    """
    features = []
    for run in [runs] if isinstance(runs, Run) else runs:
        rows = run.laps.to_dict("records")
        for lap, row in zip(run.laps_ridden, rows, strict=True):
            x, y = run.path.mean_xy(run.lap_times_s(lap))
            features.append(_feature(_line(_degrees(run.course, x, y)), {"role": "lap", **row}))
    return _collection(features)


def marker_line_layer(course: Course) -> Layer:
    """The marker line as one line, with its length in metres and where it came from; empty without one."""
    line = course.marker_line
    if line is None:
        return _collection([])
    along = np.linspace(0.0, line.length_m, max(int(line.length_m / _STEP_M), 1) + 1)
    known = {"role": "marker_line", "from": course.marker_line_from, "length_m": line.length_m}
    return _collection([_feature(_line(_degrees(course, *line.at(along))), known)])


def corners_layer(course: Course) -> Layer:
    """Every corner from turn-in to exit: the road between its edges, its middle where none are known.

    Properties: ``name``, ``turn``, stations in metres, ``camber_deg`` (positive banked to the inside),
    ``target_lane``, ``cues``.
    """
    return _collection([_corner(course, corner) for corner in course.corners])


def cones_layer(course: Course) -> Layer:
    """Every cone as a point: ``corner``, ``name``, ``kind``, ``side`` of the rider, station in metres."""
    features = []
    for corner in course.corners:
        for cone in corner.markers:
            lon, lat = _degrees(course, np.array([cone.x_m]), np.array([cone.y_m]))[0].tolist()
            known = {
                "role": "marker",
                "corner": corner.name,
                "name": cone.name,
                "kind": cone.kind.value,
                "side": cone.side.value,
                "station_m": cone.station_m,
            }
            features.append(_feature({"type": "Point", "coordinates": [lon, lat]}, known))
    return _collection(features)


def _corner(course: Course, corner: Corner) -> dict[str, Any]:
    known = {
        "role": "corner",
        "name": corner.name,
        "turn": corner.turn.value,
        "turn_in_m": corner.turn_in_m,
        "last_apex_m": corner.last_apex_m,
        "exit_m": corner.exit_m,
        "camber_deg": corner.camber_deg,
        "target_lane": corner.target_lane,
        "cues": list(corner.cues),
    }
    count = max(int((corner.exit_m - corner.turn_in_m) / _STEP_M), 2) + 1
    station = course.reference.wrap(np.linspace(corner.turn_in_m, corner.exit_m, count))
    edges = course.edges_at(station)
    if edges is None:
        return _feature(_line(_degrees(course, *course.reference.at(station))), known)
    left, right = (
        _degrees(course, *course.reference.offset_points(station, edge)) for edge in edges
    )
    return _feature(_area(right, left), known)


def _area(right: FloatArray, left: FloatArray) -> dict[str, Any]:
    """The ground between two edges, outer ring counter-clockwise: along the right edge, back on the left."""
    ring = np.concatenate([right, left[::-1], right[:1]])
    if np.ptp(ring[:, 0]) > 180.0:
        # Across the antimeridian a polygon would have to be cut; its two edges are given as lines instead.
        return {
            "type": "MultiLineString",
            "coordinates": [part.tolist() for edge in (right, left) for part in cut(edge)],
        }
    return {"type": "Polygon", "coordinates": [ring.tolist()]}


def _degrees(course: Course, x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Longitude and latitude of points on the plane, rounded, shape ``(n, 2)``."""
    lat, lon = course.plane.to_lat_lon(x_m, y_m)
    return np.stack([lon, lat], axis=-1).round(_DIGITS)


def _line(lon_lat: FloatArray) -> dict[str, Any]:
    parts = [part.tolist() for part in cut(lon_lat)]
    if len(parts) == 1:
        return {"type": "LineString", "coordinates": parts[0]}
    return {"type": "MultiLineString", "coordinates": parts}


def _feature(geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    known = {name: _plain(value) for name, value in properties.items()}
    return {"type": "Feature", "properties": known, "geometry": geometry}


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value


def _collection(features: list[dict[str, Any]]) -> Layer:
    return {"type": "FeatureCollection", "features": features}
