"""Rules of GeoJSON, RFC 7946 (read), each with the number of its section."""

import json

import numpy as np
import pytest

from lapkit.course import read_track, write_track
from lapkit.course.track_writer import cut
from lapkit.course.types import GeoLine, Track
from lapkit.errors import TrackError


def collection(*features, **members):
    return {"type": "FeatureCollection", "features": list(features), **members}


def feature(role, geometry, **properties):
    return {"type": "Feature", "properties": {"role": role, **properties}, "geometry": geometry}


@pytest.fixture
def read(tmp_path):
    def read_document(document):
        path = tmp_path / "track.geojson"
        path.write_text(json.dumps(document), encoding="utf-8")
        return read_track(path)

    return read_document


@pytest.fixture
def written(tmp_path):
    def write_document(track):
        write_track(track, tmp_path / "out.geojson")
        return json.loads((tmp_path / "out.geojson").read_text(encoding="utf-8"))

    return write_document


LINE = {"type": "LineString", "coordinates": [[8.0, 47.0], [8.001, 47.002], [8.002, 47.002]]}


def test_3_1_1_longitude_comes_first_then_latitude_then_height(read):
    drawn = {"type": "LineString", "coordinates": [[8.0, 47.0, 410.0], [8.001, 47.002, 411.0]]}
    track = read(collection(feature("centre", drawn)))
    assert track.centre.lon_lat.tolist() == [[8.0, 47.0], [8.001, 47.002]]
    assert track.centre.height_m.tolist() == [410.0, 411.0]


def test_3_1_1_what_follows_the_third_number_is_ignored(read):
    drawn = {"type": "LineString", "coordinates": [[8.0, 47.0, 1.0, 99.0], [8.001, 47.002, 2.0]]}
    assert read(collection(feature("centre", drawn))).centre.height_m.tolist() == [1.0, 2.0]


def test_3_1_1_a_position_has_two_numbers_at_least(read):
    with pytest.raises(TrackError, match="not made of numbers"):
        read(collection(feature("hold_point", {"type": "Point", "coordinates": [8.0]})))


def test_3_1_4_a_line_has_two_positions_at_least(read):
    with pytest.raises(TrackError, match="at least two positions"):
        read(collection(feature("centre", {"type": "LineString", "coordinates": [[8.0, 47.0]]})))


def test_3_1_6_a_ring_has_four_positions_and_ends_where_it_began(read):
    ring = [[8.0, 47.0], [8.1, 47.0], [8.1, 47.1], [8.0, 47.0]]
    for outline, sound in ((ring, True), (ring[:3], False), ([*ring[:3], [8.0, 47.1]], False)):
        document = collection(feature("pit_lane", {"type": "Polygon", "coordinates": [outline]}))
        if sound:
            assert len(read(document).pit_lanes) == 1
        else:
            with pytest.raises(TrackError, match="not closed"):
                read(document)


def test_3_1_6_rings_of_either_direction_are_accepted(read):
    ring = [[8.0, 47.0], [8.1, 47.0], [8.1, 47.1], [8.0, 47.0]]
    for outline in (ring, ring[::-1]):
        document = collection(
            feature("hazard", {"type": "Polygon", "coordinates": [outline]}, text="x")
        )
        assert len(read(document).hazards) == 1


def test_3_1_9_a_line_across_the_antimeridian_is_cut_on_writing(written):
    line = GeoLine(np.array([[179.9, -17.0], [-179.9, -17.2], [-179.8, -17.2]]))
    (feature,) = written(Track("x", "", centre=line))["features"]
    assert feature["geometry"]["type"] == "MultiLineString"
    first, second = feature["geometry"]["coordinates"]
    assert first == [[179.9, -17.0], [180.0, pytest.approx(-17.1)]]
    assert second == [[-180.0, pytest.approx(-17.1)], [-179.9, -17.2], [-179.8, -17.2]]


def test_3_1_9_and_joined_again_on_reading(read, written):
    line = GeoLine(np.array([[179.9, -17.0], [-179.9, -17.2], [-179.8, -17.2]]))
    document = written(Track("x", "", centre=line))
    again = read(document)
    assert again.centre.lon_lat[:, 0].tolist() == [179.9, 180.0, -179.9, -179.8]
    assert written(again) == document


@pytest.mark.parametrize("start", [179.9, -179.9])
def test_3_1_9_no_part_crosses_and_nothing_is_lost(start):
    lon = np.mod(start + np.linspace(-0.5, 0.5, 41) + 180.0, 360.0) - 180.0
    points = np.stack([lon, np.linspace(10.0, 11.0, 41)], axis=-1)
    parts = cut(points)
    assert len(parts) == 2
    for part in parts:
        assert np.max(np.abs(np.diff(part[:, 0]))) < 1.0
    inner = np.concatenate([p[np.abs(p[:, 0]) < 180.0] for p in parts])
    assert inner == pytest.approx(points[np.abs(points[:, 0]) < 180.0])


@pytest.mark.parametrize(
    ("lon", "parts"),
    [
        ([180.0, -179.9, -179.8], [[-180.0, -179.9, -179.8]]),
        ([-180.0, 179.9, 179.8], [[180.0, 179.9, 179.8]]),
        ([179.8, 179.9, -180.0], [[179.8, 179.9, 180.0]]),
        ([179.9, 180.0, -179.9], [[179.9, 180.0], [-180.0, -179.9]]),
        ([179.9, -180.0, -179.9], [[179.9, 180.0], [-180.0, -179.9]]),
        ([180.0, -180.0], [[-180.0, -180.0]]),
        ([179.9, -180.0, 179.8], [[179.9, 180.0], [180.0, 179.8]]),
    ],
)
def test_3_1_4_a_line_that_meets_the_antimeridian_keeps_two_places_in_each_part(lon, parts):
    points = np.stack([np.array(lon), np.arange(len(lon)) - 17.0], axis=-1)
    assert [part[:, 0].tolist() for part in cut(points)] == parts


def test_3_2_a_geometry_may_be_null(read):
    track = read(collection(feature("corner", None, name="1", turn="left")))
    assert track.corners[0].name == "1"


def test_3_2_properties_may_be_null_and_an_id_may_be_text_or_number(read, written):
    plain = [{"type": "Feature", "id": i, "properties": None, "geometry": None} for i in ("a", 7)]
    assert written(read(collection(*plain)))["features"] == plain


def test_3_3_a_collection_may_be_empty(read, written):
    assert written(read(collection())) == collection()


def test_4_coordinates_of_another_system_are_refused(read):
    with pytest.raises(TrackError, match="not on the Earth"):
        read(collection(feature("hold_point", {"type": "Point", "coordinates": [687000, 248000]})))


def test_4_another_system_named_the_old_way_is_refused(read):
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::21781"}}
    with pytest.raises(TrackError, match="another coordinate system"):
        read(collection(crs=crs))
    for name in ("urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326"):
        assert read(collection(crs={"type": "name", "properties": {"name": name}})).members


def test_5_a_bounding_box_is_allowed_and_not_kept_when_it_may_be_stale(read, written):
    track = read(collection(feature("centre", LINE), bbox=[8.0, 47.0, 8.002, 47.002]))
    assert "bbox" not in written(track)


def test_6_1_foreign_members_are_kept(read, written):
    odd = {**feature("centre", LINE, paint="white"), "surveyor": {"name": "nobody", "year": 1}}
    document = collection(odd, title="a ring", licence=None)
    assert written(read(document)) == document


def test_7_1_a_geometry_keeps_to_its_own_members(read):
    with pytest.raises(TrackError, match="not a GeoJSON FeatureCollection"):
        read({"type": "LineString", "coordinates": [[8.0, 47.0], [8.1, 47.0]]})


def test_11_the_file_is_utf_8(read, written, tmp_path):
    track = read(collection(feature("corner", None, name="Südkurve 北", turn="left")))
    written(track)
    assert "Südkurve 北".encode() in (tmp_path / "out.geojson").read_bytes()
