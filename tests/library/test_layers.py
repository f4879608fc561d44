"""Layers for a GIS, held to the rules of GeoJSON, RFC 7946 (read), and to shapely as a reader."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely.geometry

import lapkit
from lapkit.course.plane import Plane

POSITION_LISTS = {"Point": 0, "LineString": 1, "MultiLineString": 2, "Polygon": 2}


def positions(geometry):
    flat = [geometry["coordinates"]]
    for _ in range(POSITION_LISTS[geometry["type"]]):
        flat = [p for part in flat for p in part]
    return flat


def check_rules(layer):
    """The rules that can be broken here, by section of RFC 7946."""
    again = json.loads(json.dumps(layer, allow_nan=False))  # 1: it is JSON, without NaN
    assert again["type"] == "FeatureCollection"  # 3.3
    assert isinstance(again["features"], list)
    assert "crs" not in again  # 4: WGS 84 and no other
    for feature in again["features"]:
        assert set(feature) == {"type", "properties", "geometry"}  # 3.2, 7.1
        assert feature["type"] == "Feature"
        geometry = feature["geometry"]
        for position in positions(geometry):
            assert len(position) == 2  # 3.1.1
            assert abs(position[0]) <= 180.0 and abs(position[1]) <= 90.0
        if geometry["type"] == "LineString":
            assert len(geometry["coordinates"]) >= 2  # 3.1.4
        if geometry["type"] in ("LineString", "MultiLineString"):  # 3.1.9
            lines = geometry["coordinates"]
            lines = [lines] if geometry["type"] == "LineString" else lines
            for line in lines:
                assert np.abs(np.diff(np.array(line)[:, 0])).max() <= 180.0
        if geometry["type"] == "Polygon":
            ring = geometry["coordinates"][0]
            assert len(ring) >= 4 and ring[0] == ring[-1]  # 3.1.6
            shape = shapely.geometry.shape(geometry)
            assert shape.exterior.is_ccw  # 3.1.6: exterior rings are counter-clockwise
            assert shape.is_valid
    return again["features"]


def test_every_layer_keeps_the_rules(run, course):
    layers = (
        lapkit.laps_layer(run),
        lapkit.marker_line_layer(course),
        lapkit.corners_layer(course),
        lapkit.cones_layer(course),
    )
    counts = [len(check_rules(layer)) for layer in layers]
    cones = sum(len(c.markers) for c in course.corners)
    assert counts == [len(run.laps), 1, len(course.corners), cones]


def test_a_corner_is_the_road_and_its_apex_cone_lies_within_a_metre_of_it(course):
    areas = {
        f["properties"]["name"]: shapely.geometry.shape(f["geometry"])
        for f in lapkit.corners_layer(course)["features"]
    }
    metre = 1.0 / 111_000.0
    apexes = [
        f for f in lapkit.cones_layer(course)["features"] if f["properties"]["kind"] == "apex"
    ]
    assert len(apexes) >= len(course.corners)
    for cone in apexes:
        where = shapely.geometry.shape(cone["geometry"])
        assert areas[cone["properties"]["corner"]].distance(where) < metre


def test_a_lap_carries_its_row_and_its_length(run):
    features = lapkit.laps_layer(run)["features"]
    timed = [f for f in features if f["properties"]["kind"] == "timed"]
    for feature in timed:
        lon_lat = np.array(feature["geometry"]["coordinates"])
        x, y = run.course.plane.to_xy(lon_lat[:, 1], lon_lat[:, 0])
        length = np.hypot(np.diff(x), np.diff(y)).sum()
        assert length == pytest.approx(feature["properties"]["distance_m"], rel=2e-3)
    out_lap = features[0]["properties"]
    assert out_lap["kind"] == "out" and out_lap["time_s"] is None
    times = [feature["properties"]["time_s"] for feature in timed]
    assert times == pytest.approx(run.laps.query("kind == 'timed'")["time_s"], abs=1e-6)


def test_layers_across_the_antimeridian_are_cut(run):
    """Section 3.1.9; the same course moved to where longitude jumps from 180 to -180."""
    at = Plane(run.course.plane.lat_deg, 180.0)
    course = replace(run.course, plane=at)
    moved = replace(run, course=course)
    for layer in (
        lapkit.laps_layer(moved),
        lapkit.marker_line_layer(course),
        lapkit.corners_layer(course),
        lapkit.cones_layer(course),
    ):
        check_rules(layer)
    assert lapkit.marker_line_layer(course)["features"][0]["geometry"]["type"] == "MultiLineString"


def test_a_course_without_edges_or_line_still_has_its_corners(course):
    bare = replace(course, edges=None)
    kinds = {f["geometry"]["type"] for f in check_rules(lapkit.corners_layer(bare))}
    assert kinds == {"LineString"}
    assert lapkit.marker_line_layer(replace(course, marker_line=None))["features"] == []
