"""A small invented course to draw, break and read: a stadium of two left-hand bends."""

import json

import numpy as np
import pytest

from lapkit.course.plane import Plane

ORIGIN = Plane(47.0, 8.0)
STRAIGHT_M = 300.0
RADIUS_M = 40.0
HALF_WIDTH_M = 6.0
LAP_M = 2.0 * STRAIGHT_M + 2.0 * np.pi * RADIUS_M


def stadium(station_m, offset_m=0.0):
    """Points of the stadium ridden counter-clockwise, from the middle of its southern straight."""
    s = np.mod(np.asarray(station_m, dtype=float) + STRAIGHT_M / 2, LAP_M)
    half = STRAIGHT_M + np.pi * RADIUS_M
    second = s >= half
    s = np.where(second, s - half, s)
    angle = np.clip((s - STRAIGHT_M) / RADIUS_M, 0.0, np.pi)
    along = np.minimum(s, STRAIGHT_M) - STRAIGHT_M / 2
    out = RADIUS_M - np.asarray(offset_m, dtype=float)
    x = along + out * np.sin(angle)
    y = -out * np.cos(angle)
    sign = np.where(second, -1.0, 1.0)
    return sign * x, sign * y


def positions(station_m, offset_m=0.0, height_m=None):
    """GeoJSON positions along the stadium."""
    lat, lon = ORIGIN.to_lat_lon(*stadium(station_m, offset_m))
    rows = np.stack([np.atleast_1d(lon), np.atleast_1d(lat)], axis=-1)
    if height_m is not None:
        rows = np.column_stack([rows, np.broadcast_to(height_m, len(rows))])
    return rows.tolist()


def feature(role, kind=None, coordinates=None, /, **properties):
    """A GeoJSON feature."""
    geometry = None if kind is None else {"type": kind, "coordinates": coordinates}
    return {
        "type": "Feature",
        "properties": {"role": role, **properties},
        "geometry": geometry,
    }


def line(role, station_m, offset_m=0.0, height_m=None, **properties):
    """A line along the stadium."""
    return feature(role, "LineString", positions(station_m, offset_m, height_m), **properties)


def cone(corner, kind, station_m, offset_m, side, **properties):
    """A marker beside the stadium."""
    place = positions(station_m, offset_m)[0]
    return feature("marker", "Point", place, corner=corner, kind=kind, side=side, **properties)


BEND_AT = {"1": STRAIGHT_M / 2, "2": 1.5 * STRAIGHT_M + np.pi * RADIUS_M}


def corner_features(name):
    """A corner with cones at turn-in, apex and exit."""
    begin, arc = BEND_AT[name], np.pi * RADIUS_M
    return [
        feature("corner", name=name, turn="left", camber_deg=2.0, cues=["look to the exit cone"]),
        cone(name, "turn_in", begin - 10.0, -5.5, "right", name="turn-in"),
        cone(name, "apex", begin + 0.55 * arc, 5.5, "left", name="apex"),
        cone(name, "exit", begin + arc + 15.0, -5.5, "right", name="exit"),
    ]


@pytest.fixture
def features():
    """The features of a complete and sound track file, as a list to change at will."""
    at = np.linspace(0.0, LAP_M, 141)
    lap = np.mod(at, LAP_M)
    start = positions([0.0], 8.0) + positions([0.0], -8.0)
    hold = positions([20.0], -12.0)[0]
    return [
        feature("start_line", "LineString", start),
        line("centre", lap, width_m=12.0),
        line("left_edge", lap, HALF_WIDTH_M),
        line("right_edge", lap, -HALF_WIDTH_M),
        *corner_features("1"),
        *corner_features("2"),
        line("seam", lap, 2.0, name="first seam"),
        line("seam", lap, -2.0, name="second seam"),
        feature("hold_point", "Point", hold),
        feature("hazard", "Point", positions([160.0], -7.0)[0], text="kerb sticks out", corner="1"),
        line("pit_lane", np.linspace(-100.0, 100.0, 11), -20.0),
    ]


@pytest.fixture
def write(tmp_path):
    """Write features as a track file and return its path."""

    def write_features(features, **members):
        document = {"type": "FeatureCollection", **members, "features": features}
        path = tmp_path / "track.geojson"
        path.write_text(json.dumps(document), encoding="utf-8")
        return path

    return write_features


@pytest.fixture
def draw():
    """The means to draw more features: ``draw.line``, ``draw.cone``, ``draw.feature``, ..."""

    class Draw:
        lap_m = LAP_M
        bend_at = BEND_AT
        plane = ORIGIN
        line = staticmethod(line)
        cone = staticmethod(cone)
        feature = staticmethod(feature)
        positions = staticmethod(positions)
        stadium = staticmethod(stadium)

    return Draw
