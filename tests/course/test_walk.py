"""What a walk's waypoints and recordings become."""

import numpy as np
import pytest

from lapkit.course import place, read_track, write_track
from lapkit.course.checks import check_track
from lapkit.course.plane import Plane
from lapkit.course.types import MarkerKind, Turn


def test_everything_recorded_becomes_what_it_is(recorder, made, draw, full):
    walked = made(full(recorder))
    assert walked.unread == ()
    track = walked.track
    assert [c.name for c in track.corners] == ["1", "2"]
    assert {c.turn for c in track.corners} == {Turn.LEFT}
    assert track.corners[0].cues == ("look to the exit cone",)
    kinds = [(m.corner, m.kind, m.side) for m in track.markers]
    assert kinds[:3] == [
        ("1", MarkerKind.TURN_IN, Turn.RIGHT),
        ("1", MarkerKind.APEX, Turn.LEFT),
        ("1", MarkerKind.EXIT, Turn.RIGHT),
    ]
    assert track.markers[0].camber_deg == -3.0 and track.markers[0].pass_within_m == 1.0
    assert track.markers[4].properties["note"] == "polished in the wet"
    assert [s.name for s in track.seams] == ["seam 1"]
    assert len(track.hold_points) == len(track.base_points) == len(track.pit_lanes) == 1
    assert (track.hazards[0].text, track.hazards[0].corner) == ("kerb sticks out", "1")
    assert check_track(track) == ()
    course = place(track)
    assert course.reference.length_m == pytest.approx(draw.lap_m, abs=1.0)
    at = np.arange(0.0, draw.lap_m, 10.0)
    left, right = course.edges_at(at)
    assert left == pytest.approx(6.0, abs=0.3) and right == pytest.approx(-6.0, abs=0.3)
    assert course.start_line.mean(axis=0) == pytest.approx(course.reference.at(0.0), abs=0.7)


def test_what_was_walked_reads_back_the_same(recorder, made, tmp_path, full):
    track = made(full(recorder)).track
    write_track(track, tmp_path / "track.geojson")
    again = read_track(tmp_path / "track.geojson")
    assert [m.name for m in again.markers] == [m.name for m in track.markers]
    assert again.centre.lon_lat == pytest.approx(track.centre.lon_lat, abs=1e-12)


def test_with_nothing_to_measure_along_cones_still_tell_the_turn(recorder, made):
    recorder.cones("1")
    walked = made(recorder)
    assert any("nothing was recorded to measure along" in line for line in walked.remarks)
    assert walked.track.corners[0].turn is Turn.LEFT
    assert [m.side for m in walked.track.markers] == [Turn.RIGHT, Turn.LEFT, Turn.RIGHT]


def test_a_corner_whose_turn_nobody_can_know_is_listed(recorder, made):
    recorder.mark("4 apex", 0.0, 0.0)
    recorder.mark("5 apex", 100.0, 0.0, "left-hander")
    walked = made(recorder)
    assert [c.name for c in walked.track.corners] == ["5"]
    assert any("corner 4: which way it turns" in line for line in walked.unread)


def test_words_outweigh_places(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.cones("1")
    recorder.mark("corner 1 right", 150.0, 0.0, "lane 2; camber 1.5; cue: wait")
    recorder.mark("1 apex 2 right", 230.0, 5.5)
    track = made(recorder).track
    corner = track.corners[0]
    assert (corner.turn, corner.target_lane, corner.camber_deg) == (Turn.RIGHT, 2, 1.5)
    assert corner.cues == ("wait",)
    assert next(m for m in track.markers if m.name == "apex 2").side is Turn.RIGHT


def test_a_corner_is_spelt_as_the_first_time(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.mark("Kiln Square apex", 200.0, 5.5)
    recorder.mark("kiln square exit", 290.0, -5.5)
    track = made(recorder).track
    assert [c.name for c in track.corners] == ["Kiln Square"]
    assert {m.corner for m in track.markers} == {"Kiln Square"}


def test_a_seam_of_lettered_waypoints(recorder, made, draw):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.cones("1")
    for letter, station in (("b", 220.0), ("a", 150.0), ("c", 290.0)):
        recorder.mark(f"1 seam 1 {letter}", station, 2.0)
    recorder.mark("1 seam 2 a", 150.0, -2.0)
    walked = made(recorder)
    (seam,) = walked.track.seams
    assert (seam.name, seam.corner) == ("seam 1", "1")
    at = np.linspace(160.0, 280.0, 10)
    assert place(walked.track).corners[0].seams[0].offset_at(at) == pytest.approx(2.0, abs=0.3)
    assert any("1 seam 2: a line needs two waypoints" in line for line in walked.unread)
    assert not any("filled" in line for line in walked.remarks)


def test_a_walk_across_the_antimeridian(draw, made, recorder_of):
    """A cone on either side of it, recorded without any line."""
    draw.plane = Plane(-17.0, 180.0)
    recorder = recorder_of(draw)
    begin = draw.bend_at["1"]
    recorder.mark("1 turn-in", -20.0, -5.5, "left-hander")
    recorder.mark("1 exit", begin, -5.5)
    assert recorder.gpx.waypoints[0].longitude * recorder.gpx.waypoints[1].longitude < 0.0
    assert [m.name for m in made(recorder).track.markers] == ["turn-in", "exit"]


def test_one_end_of_the_start_line_is_enough(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.mark("start left", 5.0, 7.0)
    walked = made(recorder)
    x, y = place(walked.track).start_line.T
    assert np.hypot(np.diff(x), np.diff(y)) == pytest.approx(15.0, abs=0.3)
    assert any("only one end of the start line" in line for line in walked.remarks)
