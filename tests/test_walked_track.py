"""A track file from a walk: a new one, or one brought up to date."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course import read_track, write_track
from lapkit.course.types import GeoCorner, GeoLine, Track, Turn
from lapkit.course.walk_file import Recorded, WalkFile, Waypoint
from lapkit.walked_track import write_walked_track


@pytest.fixture
def walk(monkeypatch):
    """A walk of an oval 400 m long, with a corner of two cones; it stands in no file."""
    angle = np.linspace(0.0, 2.0 * np.pi, 201)
    lat, lon = 50.0 + 5e-4 * np.sin(angle), 8.0 + 1e-3 * np.cos(angle)
    nothing = np.full(len(angle), np.nan)
    cones = (
        Waypoint("1 turn-in", "", lat[10], lon[10], np.nan),
        Waypoint("1 exit", "", lat[60], lon[60], np.nan),
        Waypoint("toilets", "", lat[0], lon[0], np.nan),
    )
    recorded = WalkFile("walk.gpx", cones, (Recorded("centre", lat, lon, nothing, nothing),))
    monkeypatch.setattr("lapkit.walked_track.read_walk", lambda _: recorded)
    return recorded


def test_a_new_track_file_holds_what_was_walked(walk, tmp_path):
    out = tmp_path / "track.geojson"
    made = write_walked_track("walk.gpx", out)
    assert [m.name for m in read_track(out).markers] == ["turn-in", "exit"]
    assert made.track.source == str(out)
    assert made.unread == ("waypoint 'toilets'",)
    assert made.kept == made.freed == ()
    assert "corner 1, left: turn-in, exit" in made.remarks


def test_one_cone_that_was_moved_is_enough(walk, tmp_path, monkeypatch):
    out = tmp_path / "track.geojson"
    before = write_walked_track("walk.gpx", out).track
    cone = replace(walk.waypoints[1], lat_deg=walk.waypoints[1].lat_deg + 2e-5)
    moved = WalkFile("moved.gpx", (cone,), ())
    monkeypatch.setattr("lapkit.walked_track.read_walk", lambda _: moved)
    made = write_walked_track("moved.gpx", out)
    assert made.unread == ()
    assert made.remarks[0] == "no line was walked; that of the earlier track file serves"
    assert made.kept == ("1 turn-in",)
    turn_in, leave = made.track.markers
    assert (turn_in, made.track.corners[0].turn) == (before.markers[0], Turn.LEFT)
    assert leave.lat == pytest.approx(before.markers[1].lat + 2e-5, abs=1e-8)
    assert leave.side == before.markers[1].side


def test_a_corner_known_before_needs_no_word_on_which_way_it_turns(walk, tmp_path, monkeypatch):
    out = tmp_path / "track.geojson"
    write_walked_track("walk.gpx", out)
    word = replace(walk.waypoints[1], name="corner 1", description="cue: wait")
    monkeypatch.setattr("lapkit.walked_track.read_walk", lambda _: WalkFile("x.gpx", (word,), ()))
    (corner,) = write_walked_track("x.gpx", out).track.corners
    assert (corner.turn, corner.cues) == (Turn.LEFT, ("wait",))


def test_an_earlier_track_file_keeps_what_the_walk_does_not_name(walk, tmp_path):
    out = tmp_path / "track.geojson"
    seam = GeoLine(np.array([[8.0, 50.0], [8.001, 50.0]]), name="first", corner="Far")
    earlier = Track("", "", corners=(GeoCorner("Far", Turn.RIGHT, cues=("wait",)),), seams=(seam,))
    write_track(earlier, out)
    made = write_walked_track("walk.gpx", out)
    assert made.kept == ("corner Far",)
    again = read_track(out)
    assert {c.name: c.cues for c in again.corners} == {"Far": ("wait",), "1": ()}
    assert [s.corner for s in again.seams] == ["Far"]
