"""Layers for a GIS, held to the rules of GeoJSON, RFC 7946 (read), and to shapely as a reader."""

import json
from dataclasses import replace

import gpxpy
import numpy as np
import pandas as pd
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


def test_layers_across_the_antimeridian_are_cut(run):
    """Section 3.1.9; the same course moved to where longitude jumps."""
    # A right turn of 90° in the sea at 180° east, a course that only has to be drawn.
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


@pytest.fixture(scope="module")
def written(run, tmp_path_factory):
    out = tmp_path_factory.mktemp("export") / "out"
    files = lapkit.export([run, replace(run, session="2")], out, parquet=True, trace=True)
    return out, [f.name for f in files]


def test_export_writes_every_file_it_names(written):
    out, names = written
    assert {p.name for p in out.iterdir() if not p.name.startswith(".")} == set(names)
    assert {"laps.csv", "corners.parquet", "trace.csv.gz", "laps.gpx", "cones.geojson"} <= set(
        names
    )


def test_exported_tables_hold_both_runs(written, run):
    out, _ = written
    csv = pd.read_csv(out / "corners.csv")
    parquet = pd.read_parquet(out / "corners.parquet")
    assert len(csv) == len(parquet) == 2 * len(run.corners)
    assert list(csv.columns) == list(run.corners.columns)
    np.testing.assert_allclose(
        csv["radius_min_m"][: len(run.corners)], run.corners["radius_min_m"], atol=6e-4
    )


def test_exported_gpx_has_a_track_a_lap_with_times(written, run):
    out, _ = written
    read = gpxpy.parse((out / "laps.gpx").read_text(encoding="utf-8"))
    assert len(read.tracks) == 2 * len(run.laps)
    third = read.tracks[3]
    points = third.segments[0].points
    lap = run.lap(3)
    assert points[0].time.timestamp() == pytest.approx(lap.start_s, abs=2e-3)
    assert points[-1].time.timestamp() == pytest.approx(lap.end_s, abs=2e-3)
    assert third.length_2d() == pytest.approx(lap.distance_m, rel=5e-3)


def test_a_log_without_a_calendar_is_exported_without_times(run, tmp_path):
    clockless = replace(run, log=replace(run.log, has_clock=False))
    lapkit.write_gpx(clockless, tmp_path / "laps.gpx")
    read = gpxpy.parse((tmp_path / "laps.gpx").read_text(encoding="utf-8"))
    assert read.tracks[1].segments[0].points[0].time is None


@pytest.mark.parametrize("place", ["none/laps", "file/laps", "."])
def test_a_file_that_cannot_be_written_is_an_error_of_the_family(run, tmp_path, monkeypatch, place):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(lapkit.OutputError, match="cannot be written"):
        lapkit.write_gpx(run, place)
    with pytest.raises(lapkit.OutputError, match="cannot be written"):
        lapkit.write_geojson(lapkit.laps_layer(run), place)
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_exporting_nothing_says_so(tmp_path):
    with pytest.raises(lapkit.OptionError, match="no run to write"):
        lapkit.export([], tmp_path / "out")
