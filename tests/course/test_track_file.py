"""Track files read and written."""

import hashlib
import json

import numpy as np
import pytest

from lapkit.course import read_track, write_track
from lapkit.course.track_file import ROLES
from lapkit.course.types import MarkerKind, Turn
from lapkit.errors import OutputError


def test_every_part_is_read(write, features):
    path = write(features)
    track = read_track(path)
    assert track.source == str(path)
    assert track.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert track.centre_width_m == 12.0 and track.centre.height_m is None
    assert track.centre.lon_lat.shape == (141, 2) and track.start_line.lon_lat.shape == (2, 2)
    assert [c.name for c in track.corners] == ["1", "2"]
    corner = track.corners[0]
    assert corner.turn is Turn.LEFT and corner.camber_deg == 2.0 and corner.target_lane is None
    assert corner.cues == ("look to the exit cone",)
    assert [m.kind for m in track.markers[:3]] == [
        MarkerKind.TURN_IN,
        MarkerKind.APEX,
        MarkerKind.EXIT,
    ]
    assert track.markers[1].side is Turn.LEFT and track.markers[1].pass_within_m is None
    assert [s.name for s in track.seams] == ["first seam", "second seam"]
    assert len(track.hold_points) == len(track.hazards) == len(track.pit_lanes) == 1
    assert track.hazards[0].text == "kerb sticks out"


def test_what_is_written_reads_back_the_same(write, features, tmp_path, only):
    features[1]["geometry"]["coordinates"][3].append(412.5)
    features[4]["members"] = {"surveyed": "by foot"}
    only(features, name="apex", corner="1")["properties"] |= {
        "colour": "none",
        "pass_within_m": 0.5,
    }
    features.append({"type": "Feature", "id": 7, "properties": None, "geometry": None, "tag": [1]})
    path = write(features, title="Süd → Nord", bbox=[8.0, 46.0, 9.0, 48.0])
    track = read_track(path)
    copy, again = tmp_path / "copy.geojson", tmp_path / "again.geojson"
    write_track(track, copy)
    write_track(read_track(copy), again)
    assert copy.read_bytes() == again.read_bytes()
    written = json.loads(copy.read_text(encoding="utf-8"))
    assert written["title"] == "Süd → Nord" and "bbox" not in written
    before = sorted(json.dumps(f, sort_keys=True) for f in features if f["properties"] is not None)
    after = [f for f in written["features"] if f["properties"] is not None]
    assert sorted(json.dumps(f, sort_keys=True) for f in after) == before
    assert {
        "type": "Feature",
        "id": 7,
        "properties": None,
        "geometry": None,
        "tag": [1],
    } in written["features"]


def test_a_feature_stands_on_a_line_of_its_own(write, features, tmp_path):
    write_track(read_track(write(features)), tmp_path / "copy.geojson")
    lines = (tmp_path / "copy.geojson").read_text(encoding="utf-8").splitlines()
    assert len(lines) == len(features) + 2


def test_words_and_numbers_may_be_written_loosely(write, features, only):
    marker = only(features, name="apex", corner="1")["properties"]
    marker |= {"kind": "Turn-In", "side": " LEFT ", "corner": 1}
    only(features, role="corner", name="1")["properties"] |= {"name": 1, "cues": "look  up\nearly"}
    track = read_track(write(features))
    assert track.markers[1].kind is MarkerKind.TURN_IN and track.markers[1].corner == "1"
    assert track.corners[0].cues == ("look up early",)


def test_a_byte_order_mark_does_no_harm(write, features):
    path = write(features)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert len(read_track(path).corners) == 2


def test_a_marker_without_name_is_called_after_its_kind(write, features, only):
    del only(features, name="turn-in", corner="1")["properties"]["name"]
    assert read_track(write(features)).markers[0].name == "turn in"


def test_a_line_cut_at_the_antimeridian_is_one_line(write, draw):
    parts = [[[179.999, -17.0], [180.0, -17.0]], [[-180.0, -17.0], [-179.999, -17.001]]]
    track = read_track(write([draw.feature("centre", "MultiLineString", parts)]))
    assert track.centre.lon_lat[:, 0].tolist() == [179.999, 180.0, -179.999]


def test_half_a_surrogate_survives_rewriting(write, features, tmp_path):
    features.append(
        {"type": "Feature", "properties": {"role": "x", "t": "\ud800"}, "geometry": None}
    )
    write_track(read_track(write(features)), tmp_path / "copy.geojson")
    again = read_track(tmp_path / "copy.geojson")
    assert again.unknown[0]["properties"]["t"] == "\ud800"


def test_a_file_where_a_folder_should_be(write, features, tmp_path):
    (tmp_path / "notes").write_text("mine")
    with pytest.raises(OutputError, match="cannot be written"):
        write_track(read_track(write(features)), tmp_path / "notes" / "track.geojson")


def test_a_failed_write_leaves_the_old_file(write, features, tmp_path):
    target = tmp_path / "kept.geojson"
    target.mkdir()
    with pytest.raises(OutputError):
        write_track(read_track(write(features)), target)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["kept.geojson", "track.geojson"]


def test_roles_are_those_that_track_files_may_have():
    assert set(ROLES) == {
        "start_line", "centre", "left_edge", "right_edge", "corner", "marker", "seam",
        "marker_line", "hold_point", "base_point", "hazard", "pit_lane",
    }  # fmt: skip


def test_arrays_cannot_be_written_to(write, features):
    track = read_track(write(features))
    with pytest.raises(ValueError, match="read-only"):
        track.centre.lon_lat[0, 0] = np.nan
