"""Track files that are refused, and what is said of them."""

import json
import socket

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lapkit.course import read_track, write_track
from lapkit.course.track_file import LARGEST_FILE_BYTES, MOST_FEATURES, ROLES
from lapkit.errors import LapkitError, TrackError

BROKEN = [
    ({"camber_deg": "2"}, "corner", 'property "camber_deg" is not a number'),
    ({"camber_deg": True}, "corner", 'property "camber_deg" is not a number'),
    ({"camber_deg": 10**400}, "corner", 'property "camber_deg" is not a number'),
    ({"turn": "port"}, "corner", "property \"turn\" is 'port'. Use one of: left, right"),
    ({"turn": None}, "corner", 'property "turn" is missing'),
    ({"turn": 3}, "corner", "Use one of: left, right"),
    ({"name": ["1"]}, "corner", 'property "name" is not text'),
    ({"name": ""}, "corner", 'property "name" is missing'),
    ({"name": "a\u0000b"}, "corner", "cannot be printed"),
    ({"name": "x" * 3000}, "corner", "longer than 2000"),
    ({"cues": 5}, "corner", "not a list of sentences"),
    ({"cues": [5]}, "corner", 'property "cues" is not text'),
    ({"target_lane": 1.5}, "corner", "Lanes count 1, 2, 3"),
    ({"target_lane": 0}, "corner", "not above 0"),
    ({"kind": "apx"}, "marker", "Use one of: turn_in, apex, exit, sight"),
    ({"side": "inside"}, "marker", "Use one of: left, right"),
    ({"corner": "12"}, "marker", "belongs to corner '12', which the file does not have"),
    ({"corner": None}, "marker", 'property "corner" is missing'),
    ({"pass_within_m": -1}, "marker", "not above 0"),
    ({"name": "apex"}, "marker", "2 markers named 'apex'"),
    ({"width_m": 0}, "centre", "not above 0"),
    ({"text": ""}, "hazard", 'property "text" is missing'),
    ({"corner": "12"}, "hazard", "belongs to corner '12'"),
    ({"corner": "12"}, "seam", "belongs to corner '12'"),
]


@pytest.mark.parametrize(("change", "role", "message"), BROKEN)
def test_a_bad_property_is_named_with_its_feature(write, features, change, role, message):
    broken = next(f for f in features if f["properties"]["role"] == role)
    broken["properties"] |= change
    path = write(features)
    with pytest.raises(TrackError) as caught:
        read_track(path)
    assert message in str(caught.value)
    assert str(path) in caught.value.where and caught.value.remedy


GEOMETRY = [
    (None, "its geometry is null. A centre needs a LineString"),
    ({"type": "Point", "coordinates": [8, 47]}, "its geometry is Point"),
    ({"type": {"a": 1}, "coordinates": []}, "A centre needs a LineString"),
    ({"type": "LineString"}, "at least two positions"),
    ({"type": "LineString", "coordinates": {}}, "at least two positions"),
    ({"type": "LineString", "coordinates": [[8, 47]]}, "at least two positions"),
    ({"type": "LineString", "coordinates": [[8, 47], [8]]}, "not made of numbers"),
    ({"type": "LineString", "coordinates": [[8, 47], "8,47"]}, "not made of numbers"),
    ({"type": "LineString", "coordinates": [[8, 47], [8, None]]}, "not made of numbers"),
    ({"type": "LineString", "coordinates": [[8, 47], [8, 47, "x"]]}, "not made of numbers"),
    ({"type": "LineString", "coordinates": [[8, 47], [8, True]]}, "not made of numbers"),
    ({"type": "LineString", "coordinates": [[8, 47], [8, 10**30]]}, "not made of numbers"),
    ({"type": "LineString", "coordinates": [[8, 47], [8, 97]]}, "not on the Earth"),
    ({"type": "LineString", "coordinates": [[8, 47], [47, 120]]}, "these look swapped"),
    ({"type": "MultiLineString", "coordinates": []}, "no pieces"),
    ({"type": "MultiLineString", "coordinates": 3}, "no pieces"),
    ({"type": "MultiLineString", "coordinates": [[]]}, "at least two positions"),
    (
        {"type": "MultiLineString", "coordinates": [[[8, 47], [8, 48]], [[9, 47], [9, 48]]]},
        "in several pieces",
    ),
]


@pytest.mark.parametrize(("geometry", "message"), GEOMETRY)
def test_a_bad_geometry_is_named_with_its_feature(write, features, geometry, message):
    features[1]["geometry"] = geometry
    with pytest.raises(TrackError) as caught:
        read_track(write(features))
    assert message in str(caught.value) and "feature 2 (centre)" in caught.value.where


@pytest.mark.parametrize(
    ("geometry", "message"),
    [
        ({"type": "Polygon", "coordinates": []}, "no rings"),
        ({"type": "Polygon", "coordinates": [[[8, 47], [8, 48], [9, 48], [9, 47]]]}, "not closed"),
        ({"type": "Polygon", "coordinates": [3]}, "not closed"),
        ({"type": "GeometryCollection"}, "needs a Point or LineString or Polygon"),
    ],
)
def test_a_bad_hazard_outline_is_refused(write, features, geometry, message, only):
    only(features, role="hazard")["geometry"] = geometry
    with pytest.raises(TrackError, match=message):
        read_track(write(features))


@pytest.mark.parametrize("role", ["start_line", "centre", "left_edge", "right_edge"])
def test_a_second_line_of_its_kind(write, features, role, only):
    features.append(only(features, role=role))
    with pytest.raises(TrackError, match=f"there is a second {role}"):
        read_track(write(features))


def test_a_start_line_has_two_ends(write, features, only):
    start = only(features, role="start_line")["geometry"]["coordinates"]
    start[1] = list(start[0])
    with pytest.raises(TrackError, match="start line begins and ends at one point"):
        read_track(write(features))


def test_a_start_line_has_two_points(write, features, only):
    start = only(features, role="start_line")["geometry"]["coordinates"]
    start.append(start[0])
    with pytest.raises(TrackError, match="start line has 3 points"):
        read_track(write(features))


def test_two_corners_of_one_name(write, features, only):
    only(features, role="corner", name="2")["properties"]["name"] = "1"
    with pytest.raises(TrackError, match="2 corners named '1'"):
        read_track(write(features))


HOSTILE = [
    (b"", "the file is empty"),
    (b"not json", "line 1"),
    (b'{"type": "FeatureCollection",\n "features": [}', "line 2"),
    (b"[]", "not a GeoJSON FeatureCollection"),
    (b'"FeatureCollection"', "not a GeoJSON FeatureCollection"),
    (b'{"type": "Feature"}', "not a GeoJSON FeatureCollection"),
    (b'{"type": "FeatureCollection"}', 'no list "features"'),
    (b'{"type": "FeatureCollection", "features": {}}', 'no list "features"'),
    (b'{"type": "FeatureCollection", "features": [1]}', "feature 1: this is not a GeoJSON feature"),
    (b'{"type": "FeatureCollection", "features": [{"type": "Point"}]}', "not a GeoJSON feature"),
    (
        b'{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": 1}]}',
        '"properties" is neither',
    ),
    (
        b'{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": []}]}',
        '"geometry" is neither',
    ),
    (b'{"type": NaN}', "NaN is not allowed"),
    (b'{"type": -Infinity}', "Infinity is not allowed"),
    (b"\xff\xfe\x00", "not UTF-8"),
    (b"[" * 1_000_000, "nested too deeply"),
    (b'{"a":' * 1_000_000, "nested too deeply"),
    (b"1" * 6000, "number that cannot be used"),
]


@pytest.mark.parametrize(("data", "message"), HOSTILE)
def test_hostile_files_get_one_clear_error(tmp_path, data, message):
    path = tmp_path / "hostile.geojson"
    path.write_bytes(data)
    with pytest.raises(TrackError) as caught:
        read_track(path)
    assert message in str(caught.value) and str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_infinite_coordinates_are_no_coordinates(tmp_path):
    path = tmp_path / "track.geojson"
    path.write_text(
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": '
        '{"role": "centre"}, "geometry": {"type": "LineString", '
        '"coordinates": [[8, 47], [8, 1e999]]}}]}'
    )
    with pytest.raises(TrackError, match="not made of numbers"):
        read_track(path)


def test_a_file_too_large_is_not_read(tmp_path):
    path = tmp_path / "large.geojson"
    with path.open("wb") as file:
        file.truncate(LARGEST_FILE_BYTES + 1)
    with pytest.raises(TrackError, match="the file has 34 MB"):
        read_track(path)


def test_more_cones_than_any_course_has_are_refused_quickly(write, features):
    cone = '{"type": "Feature", "properties": {"role": "hold_point"}, "geometry": {"type": "Point", "coordinates": [8, 47]}}'
    path = write([*features, *[json.loads(cone)] * MOST_FEATURES])
    with pytest.raises(TrackError, match="cones, seams and the like"):
        read_track(path)


@pytest.mark.parametrize(("name", "message"), [("none.geojson", "no such file"), (".", "a folder")])
def test_files_that_are_not_there(tmp_path, name, message):
    with pytest.raises(TrackError, match=message):
        read_track(tmp_path / name)


def test_a_name_that_is_no_file_name():
    with pytest.raises(TrackError, match="cannot be read"):
        read_track("bad\0name")


def test_what_is_no_regular_file_is_never_opened(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with socket.socket(socket.AF_UNIX) as there:
        there.bind("here")
        with pytest.raises(TrackError, match="not a regular file"):
            read_track("here")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4)
    ),
    max_leaves=8,
)


KEYS = ("name", "corner", "kind", "side", "turn", "cues", "camber_deg", "width_m", "text")


FEATURES = st.fixed_dictionaries(
    {
        "type": st.just("Feature"),
        "properties": st.fixed_dictionaries(
            {"role": st.sampled_from(ROLES) | JSON},
            optional={key: JSON | st.sampled_from(["left", "apex", "1"]) for key in KEYS},
        ),
        "geometry": st.none()
        | st.fixed_dictionaries(
            {
                "type": st.sampled_from(["Point", "LineString", "MultiLineString", "Polygon"])
                | JSON,
                "coordinates": JSON
                | st.lists(st.floats(-90, 90), min_size=2, max_size=3)
                | st.lists(st.lists(st.floats(-90, 90), min_size=2, max_size=3), max_size=5),
            }
        ),
    }
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(FEATURES, max_size=4))
def test_whatever_stands_in_a_file_it_is_read_or_refused(tmp_path, features):
    path = tmp_path / "any.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    try:
        track = read_track(path)
    except LapkitError as error:
        assert str(error).isprintable()
        return
    write_track(track, tmp_path / "copy.geojson")
    assert len(read_track(tmp_path / "copy.geojson").unknown) == len(track.unknown)
