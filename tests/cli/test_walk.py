"""``lapkit walk``: a track file from a walk, and what is said of it."""

import json
from datetime import UTC, datetime

import gpxpy
import pandas as pd
import pytest

from lapkit.course import place, read_track
from lapkit.errors import TrackError
from lapkit.importer import read_log
from lapkit.sample import sample_event
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.layout_track import track_of
from lapkit.simulate.track_walk import walk_of


def test_a_second_walk_keeps_what_was_known(walk_file, tmp_path, run):
    track = tmp_path / "track.geojson"
    kept = {"type": "Feature", "properties": {"role": "grandstand"}, "geometry": None}
    old = {"role": "corner", "name": "Old", "turn": "left"}
    old = {"type": "Feature", "properties": old, "geometry": None}
    track.write_text(
        json.dumps({"type": "FeatureCollection", "title": "ours", "features": [kept, old]})
    )
    told = run("walk", walk_file, "--out", track).stdout
    assert f"Kept from the earlier {track}, as this walk does not name them: corner Old. " in told
    assert "Kept from" not in run("walk", walk_file, "--out", tmp_path / "new/new.geojson").stdout
    document = json.loads(track.read_text(encoding="utf-8"))
    assert document["title"] == "ours" and kept in document["features"]
    assert len(document["features"]) > 30


def test_a_file_that_is_no_track_is_not_overwritten(walk_file, tmp_path, run):
    precious = tmp_path / "letter.txt"
    precious.write_text("dear coach")
    with pytest.raises(TrackError, match="not JSON"):
        run("walk", walk_file, "--out", precious)
    assert precious.read_text() == "dear coach"


def test_a_riders_log_supplies_the_centre(tmp_path, run):
    course = place(track_of(LAYOUTS["twisty"]))
    gpx = walk_of(course, seed=1, visits=1)
    gpx.tracks = [t for t in gpx.tracks if "edge" not in t.name and t.name != "centre"]
    lap = gpxpy.gpx.GPXTrack(name="a rider")
    lap.segments.append(gpxpy.gpx.GPXTrackSegment())
    for second in range(400):
        lat, lon = course.plane.to_lat_lon(*course.reference.at(12.0 * second))
        when = pd.Timestamp(1714809600 + second, unit="s", tz="UTC").to_pydatetime()
        lap.segments[0].points.append(gpxpy.gpx.GPXTrackPoint(lat, lon, time=when))
    rider = gpxpy.gpx.GPX()
    rider.tracks.append(lap)
    (tmp_path / "walk.gpx").write_text(gpx.to_xml(), encoding="utf-8")
    (tmp_path / "rider.gpx").write_text(rider.to_xml(), encoding="utf-8")
    out = tmp_path / "track.geojson"
    done = run("walk", tmp_path / "walk.gpx", "--out", out, "--riders", tmp_path / "rider.gpx")
    assert "it was taken from the riders' logs" in done.stdout
    made = place(read_track(out))
    assert made.closed and made.reference.length_m == pytest.approx(
        course.reference.length_m, rel=0.02
    )
    assert [c.turn for c in made.corners] == [c.turn for c in course.corners]


def test_a_walk_with_the_coach_s_laps_says_how_they_were_taken(tmp_path, run):
    log = read_log(sample_event() / "logs/tove-1.gpx.gz")
    walk = gpxpy.parse((sample_event() / "walk.gpx").read_text(encoding="utf-8"))
    lap = gpxpy.gpx.GPXTrackSegment()
    for lat, lon, time in zip(log.lat_deg, log.lon_deg, log.time_s, strict=True):
        at = datetime.fromtimestamp(time, UTC)
        lap.points.append(gpxpy.gpx.GPXTrackPoint(lat, lon, time=at))
    walk.tracks.append(gpxpy.gpx.GPXTrack(name="coach lap"))
    walk.tracks[-1].segments.append(lap)
    path, out = tmp_path / "walk.gpx", tmp_path / "track.geojson"
    path.write_text(walk.to_xml(), encoding="utf-8")
    done = run("walk", path, "--out", out)
    assert "coach lap: measured as a log is, the mean of 7 whole laps" in done.stdout
    assert len(read_track(out).marker_line.lon_lat) > 1000


def test_a_walk_that_is_not_there(tmp_path, run):
    with pytest.raises(TrackError, match="no such file"):
        run("walk", tmp_path / "none", "--out", tmp_path / "x.geojson")


def test_a_hazard_of_a_corner_without_cones_is_told_with_what_was_not_read(
    walk_file, tmp_path, run
):
    walk = gpxpy.parse(walk_file.read_text(encoding="utf-8"))
    here = walk.waypoints[0]
    point = gpxpy.gpx.GPXWaypoint(here.latitude, here.longitude, name="Nowhere hazard oil")
    walk.waypoints.append(point)
    (tmp_path / "walk.gpx").write_text(walk.to_xml(), encoding="utf-8")
    said = run("walk", tmp_path / "walk.gpx", "--out", tmp_path / "track.geojson").stderr
    assert "not read: corner Nowhere of hazard 'oil', which has no cones" in said
