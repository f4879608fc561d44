"""The GPX file of a walk: what is read of it and what is refused."""

import gzip
import math

import pytest

from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import LARGEST_WALK_BYTES, read_walk
from lapkit.errors import TrackError

HEAD = (
    '<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
)

NOWHERE = '<trk><trkseg><trkpt lat="97" lon="8"/><trkpt lat="98" lon="8"/></trkseg></trk>'


@pytest.fixture
def walk(tmp_path):
    def write(body, head=HEAD):
        path = tmp_path / "walk.gpx"
        path.write_text(head + body + "</gpx>", encoding="utf-8")
        return read_walk(path)

    return write


def test_waypoints_tracks_and_routes_are_read(walk):
    found = walk(
        '<wpt lat="47" lon="8"><ele>410</ele><time>2024-05-04T08:00:00Z</time>'
        "<name> 3  apex </name>"
        "<cmt>cue: wait</cmt><desc>camber 2</desc></wpt>"
        '<rte><name>seam 1</name><rtept lat="47" lon="8"/><rtept lat="47.1" lon="8"/></rte>'
        '<trk><name>centre</name><trkseg><trkpt lat="47" lon="8"><ele>1</ele></trkpt></trkseg>'
        '<trkseg><trkpt lat="47.1" lon="8"/></trkseg></trk>'
    )
    (waypoint,) = found.waypoints
    assert (waypoint.name, waypoint.description) == ("3 apex", "camber 2\ncue: wait")
    assert waypoint.time_s == 1714809600.0
    assert [t.name for t in found.tracks] == ["centre", "seam 1"]
    assert found.tracks[0].lat_deg.tolist() == [47.0, 47.1]
    assert found.tracks[0].height_m[0] == 1.0 and math.isnan(found.tracks[0].height_m[1])


def test_the_same_words_twice_count_once(walk):
    found = walk('<wpt lat="47" lon="8"><cmt>camber 2</cmt><desc>camber 2</desc></wpt>')
    assert found.waypoints[0].description == "camber 2" and found.waypoints[0].name == ""


def test_characters_that_nobody_can_see_are_dropped(walk):
    found = walk('<wpt lat="47" lon="8"><name>3\u200b apex\u0085</name></wpt>')
    assert found.waypoints[0].name == "3 apex"


def test_places_that_are_not_on_the_earth_are_dropped(walk):
    body = '<wpt lat="97" lon="8"><name>a</name></wpt><wpt lat="47" lon="8"><name>b</name></wpt>'
    assert [w.name for w in walk(body).waypoints] == ["b"]


@pytest.mark.parametrize(
    ("head", "body", "message"),
    [
        (HEAD, "", "neither waypoints nor tracks"),
        (HEAD, NOWHERE, "neither waypoints nor tracks"),
        (HEAD, "<wpt>", "not sound XML"),
        (HEAD, '<wpt lat="x" lon="8"/>', "lat='x' is no number of degrees"),
        (HEAD, '<wpt lon="8"/>', "not GPX that can be read"),
        ("", "", "not sound XML"),
        ('<!DOCTYPE gpx [<!ENTITY a "b">]>' + HEAD[21:], "&a;", "a DOCTYPE"),
        ('<!DOCTYPE gpx SYSTEM "file:///etc/hostname">' + HEAD[21:], "", "a DOCTYPE"),
    ],
)
def test_what_is_no_walk_gets_one_clear_error(walk, head, body, message):
    with pytest.raises(TrackError) as caught:
        walk(body, head)
    assert message in str(caught.value) and "walk.gpx" in caught.value.where
    assert "\n" not in str(caught.value) and caught.value.remedy


def test_other_xml_is_no_walk(tmp_path):
    path = tmp_path / "walk.gpx"
    path.write_text("<html><body/></html>")
    with pytest.raises(TrackError, match=r"walk\.gpx"):
        read_walk(path)


@pytest.mark.parametrize("data", [b"\x00\x01\x02", b"<" * 100_000])
def test_a_walk_that_is_no_xml_is_refused(tmp_path, data):
    path = tmp_path / "walk.gpx"
    path.write_bytes(data)
    with pytest.raises(TrackError, match="not sound XML"):
        read_walk(path)


def test_a_track_file_in_place_of_a_walk_is_told_as_one(tmp_path):
    path = tmp_path / "track.geojson"
    path.write_text('\n{"type": "FeatureCollection", "features": []}')
    with pytest.raises(TrackError, match="this is JSON, as track files are, and no walk"):
        read_walk(path)


def test_a_walk_exported_as_kml_is_told_as_that(tmp_path):
    path = tmp_path / "walk.kml"
    path.write_text('<kml xmlns="http://www.opengis.net/kml/2.2"><Document/></kml>')
    with pytest.raises(TrackError, match="this is KML, not GPX"):
        read_walk(path)


def test_deep_nesting_does_no_harm(tmp_path):
    path = tmp_path / "walk.gpx"
    path.write_text(HEAD + "<a>" * 100_000 + "</a>" * 100_000 + "</gpx>")
    with pytest.raises(TrackError):
        read_walk(path)


def test_a_file_too_large_is_not_read(tmp_path):
    path = tmp_path / "walk.gpx"
    with path.open("wb") as file:
        file.truncate(LARGEST_WALK_BYTES + 1)
    with pytest.raises(TrackError, match="50 MB"):
        read_walk(path)


def test_a_walk_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(TrackError, match="no such file"):
        read_walk(tmp_path / "none.gpx")
    with pytest.raises(TrackError, match="this is a folder"):
        read_walk(tmp_path)


def test_a_recording_of_absurd_length_is_refused_at_once_with_its_file(tmp_path):
    path = tmp_path / "far.gpx"
    points = "".join(f'<trkpt lat="50" lon="{2 + 5 * k}"/>' for k in range(8))
    path.write_text(
        f'<gpx version="1.1"><trk><name>centre</name><trkseg>{points}</trkseg></trk></gpx>'
    )
    with pytest.raises(TrackError, match=r"a recording is \d+ km long") as refused:
        track_of_walk(read_walk(path))
    assert "far.gpx" in refused.value.where


def test_a_cone_where_nobody_walks_to_is_refused_by_name(tmp_path):
    path = tmp_path / "far.gpx"
    cones = {"3 turn-in": 2.0, "3 apex": 2.001, "3 exit": 32.0}
    places = "".join(
        f'<wpt lat="50" lon="{lon}"><name>{name}</name></wpt>' for name, lon in cones.items()
    )
    path.write_text(f'<gpx version="1.1">{places}</gpx>')
    with pytest.raises(TrackError, match=r"'3 exit' is \d+ km from the rest") as refused:
        track_of_walk(read_walk(path))
    assert "far.gpx" in refused.value.where


def test_a_packed_walk_is_called_packed(tmp_path):
    path = tmp_path / "walk.gpx.gz"
    path.write_bytes(gzip.compress(b"<gpx/>"))
    with pytest.raises(TrackError, match="packed"):
        read_walk(path)


def test_what_has_no_place_on_the_earth_is_listed(walk):
    found = walk(
        '<wpt lat="90.5" lon="8"><name>3 apex</name></wpt><wpt lat="nan" lon="8"/>'
        '<wpt lat="47" lon="8"><name>3 exit</name></wpt>'
        '<trk><name>centre</name><trkseg><trkpt lat="47" lon="8"/><trkpt lat="47.001" lon="8"/>'
        '<trkpt lat="47" lon="181"/></trkseg></trk>'
    )
    assert found.left_out == (
        "waypoint '3 apex': latitude 90.5, longitude 8 is no place on the Earth",
        "waypoint '': latitude nan, longitude 8 is no place on the Earth",
        "1 point of track 'centre' with no place on the Earth",
    )
    assert track_of_walk(found).unread[:3] == found.left_out


@pytest.mark.parametrize("time", ["0001-01-01T00:00:00", "0001-01-01T00:00:00Z"])
def test_a_time_long_before_receivers_is_a_time(walk, time):
    (point,) = walk(f'<wpt lat="47" lon="8"><time>{time}</time></wpt>').waypoints
    assert point.time_s == -62135596800.0


@pytest.mark.parametrize(
    ("body", "line"),
    [
        ('<wpt lat="47°" lon="8"/>', 1),
        ('\n<trk><trkseg>\n<trkpt lat="47°" lon=""/></trkseg></trk>', 3),
    ],
)
def test_a_place_that_is_no_number_is_refused_with_its_line(walk, body, line):
    with pytest.raises(TrackError, match="lat='47°' is no number of degrees") as told:
        walk(body)
    assert told.value.where.endswith(f"walk.gpx, line {line}")
