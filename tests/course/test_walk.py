import gzip
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import gpxpy.gpx
import numpy as np
import pytest

from lapkit.course import place, read_track, write_track
from lapkit.course.checks import check_track
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.track_merge import merge, with_known_corners
from lapkit.course.types import GeoCorner, GeoMarker, MarkerKind, Track, Turn
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk
from lapkit.course.walk_lines import Pass, averaged
from lapkit.course.walk_spots import gather
from lapkit.errors import TrackError

ARC = np.pi * 40.0


class Recorder:
    """A coach's receiver on the stadium: marks, records, and errs as told."""

    def __init__(self, draw, noise_m=0.0, seed=0):
        self.draw = draw
        self.noise_m = noise_m
        self.rng = np.random.default_rng(seed)
        self.gpx = gpxpy.gpx.GPX()

    def degrees(self, station_m, offset_m):
        xy = np.stack(self.draw.stadium(np.atleast_1d(station_m), offset_m))
        return self.draw.plane.to_lat_lon(*(xy + self.rng.normal(0.0, self.noise_m, xy.shape)))

    def mark(self, name, station_m, offset_m, said=None, comment=None):
        lat, lon = self.degrees(station_m, offset_m)
        point = gpxpy.gpx.GPXWaypoint(lat[0], lon[0], name=name, description=said, comment=comment)
        self.gpx.waypoints.append(point)
        return point

    def record(self, name, station_m, offset_m, height_m=None):
        lat, lon = self.degrees(station_m, offset_m)
        track = gpxpy.gpx.GPXTrack(name=name)
        track.segments.append(gpxpy.gpx.GPXTrackSegment())
        heights = np.broadcast_to(np.nan if height_m is None else height_m, len(lat))
        for a, o, h in zip(lat, lon, heights, strict=True):
            high = None if np.isnan(h) else float(h)
            track.segments[0].points.append(gpxpy.gpx.GPXTrackPoint(a, o, elevation=high))
        self.gpx.tracks.append(track)

    def cones(self, corner, **said):
        begin = self.draw.bend_at[corner]
        self.mark(f"{corner} turn-in", begin - 10.0, -5.5, said.get("turn_in"))
        self.mark(f"{corner} apex", begin + 0.55 * ARC, 5.5, said.get("apex"))
        self.mark(f"{corner} exit", begin + ARC + 15.0, -5.5, said.get("exit"))

    def lap(self, over_m=30.0):
        return np.arange(0.0, self.draw.lap_m + over_m, 1.4)


@pytest.fixture
def recorder(draw):
    return Recorder(draw)


@pytest.fixture
def made(tmp_path):
    """Turn a recorder's walk into what was made of it."""

    def make(recorder, centre=None):
        path = tmp_path / "walk.gpx"
        path.write_text(recorder.gpx.to_xml(), encoding="utf-8")
        return track_of_walk(read_walk(path), centre)

    return make


def full(recorder):
    """A walk that marks everything once."""
    lap = recorder.lap()
    recorder.record("centre", lap, 0.0)
    recorder.record("left edge", lap, 6.0)
    recorder.record("Right Edge", lap, -6.0)
    recorder.record("seam 1", lap, 2.0)
    recorder.record("pit lane", np.arange(-100.0, 100.0, 1.4), -20.0)
    recorder.cones("1", turn_in="camber -3; pass within 1.0", exit="cue: look to the exit cone")
    recorder.cones("2", apex="note: polished in the wet")
    recorder.mark("start left", 0.0, 8.0)
    recorder.mark("start right", 0.0, -8.0)
    recorder.mark("hold point", 20.0, -12.0)
    recorder.mark("base", 0.0, -30.0)
    recorder.mark("1 hazard kerb sticks out", 170.0, -7.0)
    return recorder


def test_everything_recorded_becomes_what_it_is(recorder, made, draw):
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


def test_what_was_walked_reads_back_the_same(recorder, made, tmp_path):
    track = made(full(recorder)).track
    write_track(track, tmp_path / "track.geojson")
    again = read_track(tmp_path / "track.geojson")
    assert [m.name for m in again.markers] == [m.name for m in track.markers]
    assert again.centre.lon_lat == pytest.approx(track.centre.lon_lat, abs=1e-12)


def test_three_visits_with_noise_come_within_a_metre(draw, made):
    """1.5 m per axis at every visit: the mean of three errs 1.5/√3 = 0.87 m per axis."""
    errors = []
    for seed in range(12):
        recorder = Recorder(draw, noise_m=1.5, seed=seed)
        for _ in range(3):
            recorder.cones("1")
            recorder.cones("2")
        recorder.noise_m = 0.3
        recorder.record("centre", recorder.lap(), 0.0)
        track = made(recorder).track
        clean = Recorder(draw)
        clean.cones("1")
        clean.cones("2")
        for marker, point in zip(track.markers, clean.gpx.waypoints, strict=True):
            x, y = draw.plane.to_xy([marker.lat, point.latitude], [marker.lon, point.longitude])
            errors.append((x[0] - x[1], y[0] - y[1]))
            assert marker.properties["visits"] == 3
    rms = np.sqrt(np.mean(np.square(errors)))
    assert 0.6 < rms < 1.0


def test_spread_is_that_of_the_visits(draw, made):
    recorder = Recorder(draw, noise_m=1.5, seed=4)
    recorder.record("centre", recorder.lap(), 0.0)
    for _ in range(200):
        recorder.mark("1 apex", 200.0, 5.5)
    marker = made(recorder).track.markers[0]
    assert marker.properties["spread_m"] == pytest.approx(1.5 * np.sqrt(2.0), rel=0.15)


def test_a_visit_far_from_the_others_is_left_out(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    for offset in (5.5, 5.4, 30.0, 5.6):
        recorder.mark("1 apex", 200.0, offset)
    walked = made(recorder)
    assert walked.track.markers[0].properties == {"visits": 3, "spread_m": 0.1}
    assert any("1 of 4 visits lay far" in line for line in walked.told)


def test_two_visits_far_apart_are_both_kept():
    spot = gather(np.array([[0.0, 0.0], [30.0, 0.0]]))
    assert (spot.x_m, spot.visits, spot.strays) == (15.0, 2, 0)


def test_fixes_recorded_while_standing_count(draw, made):
    recorder = Recorder(draw, noise_m=0.0)
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.noise_m = 1.5
    recorder.record("walk", np.full(17, 200.0), 5.5)
    start = datetime(2024, 5, 4, 8, tzinfo=UTC)
    for second, point in enumerate(recorder.gpx.tracks[-1].segments[0].points):
        point.time = start + timedelta(seconds=second)
    waypoint = recorder.mark("1 apex", 200.0, 5.5)
    waypoint.time = start + timedelta(seconds=8)
    walked = made(recorder)
    assert walked.unread == ()
    fixes = recorder.gpx.tracks[-1].segments[0].points
    marker = walked.track.markers[0]
    assert marker.lat == pytest.approx(np.mean([p.latitude for p in fixes]), abs=1e-8)
    assert marker.lon == pytest.approx(np.mean([p.longitude for p in fixes]), abs=1e-8)


def test_passes_of_a_line_are_averaged_with_their_spread(draw, made):
    recorder = Recorder(draw)
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.record("left edge", recorder.lap(), 5.0)
    recorder.record("left edge 2", recorder.lap()[::-1], 7.0)
    walked = made(recorder)
    left, _ = place(walked.track).edges_at(np.arange(0.0, draw.lap_m, 7.0))
    assert left == pytest.approx(6.0, abs=0.2)
    assert walked.track.left_edge.properties["spread_m"] == pytest.approx(np.sqrt(2.0), abs=0.1)
    assert any(line == "left edge: 2 recorded, 1.4 m apart" for line in walked.told)


def test_a_line_walked_in_pieces_is_joined_and_gaps_are_told(draw, made):
    recorder = Recorder(draw)
    lap = recorder.lap()
    recorder.record("centre", lap, 0.0)
    recorder.record("left edge", lap[lap < 300.0], 6.0)
    recorder.record("left edge", lap[(lap > 350.0) & (lap < 500.0)], 6.0)
    recorder.record("left edge", lap[(lap > 580.0) & (lap < draw.lap_m)], 6.0)
    walked = made(recorder)
    left, _ = place(walked.track).edges_at(np.arange(0.0, draw.lap_m, 7.0))
    assert left == pytest.approx(6.0, abs=0.3)
    assert walked.told[-1].startswith("left edge: 3 recorded")
    assert walked.told[-1].endswith("; 55 m between its parts were filled in")
    told = [str(p) for p in check_track(walked.track) if p.code == "edge in part"]
    assert len(told) == 1 and "85 m of the course have no such edge" in told[0]


def test_walked_the_wrong_way_round_it_is_turned(recorder, made, draw):
    lap = recorder.lap()
    recorder.record("centre", lap[::-1], 0.0)
    recorder.record("left edge", lap, 6.0)
    recorder.cones("1")
    walked = made(recorder)
    assert any("turned round" in line for line in walked.told)
    assert walked.track.corners[0].turn is Turn.LEFT
    course = place(walked.track)
    assert course.reference.heading_at(course.reference.length_m) > 6.0
    assert course.corners[0].apexes_m[0] > course.corners[0].turn_in_m


def test_without_cones_the_edges_tell_the_direction(recorder, made):
    lap = recorder.lap()
    recorder.record("centre", lap[::-1], 0.0)
    recorder.record("left edge", lap, 6.0)
    course = place(made(recorder).track)
    assert course.reference.heading_at(course.reference.length_m) > 6.0


def test_without_a_centre_the_edges_serve(recorder, made, draw):
    lap = recorder.lap()
    recorder.record("left edge", lap, 6.0)
    recorder.record("right edge", lap[::-1], -6.0)
    recorder.cones("1")
    walked = made(recorder)
    assert walked.track.centre is None
    assert any("middle of the edges" in line for line in walked.told)
    assert place(walked.track).reference.length_m == pytest.approx(draw.lap_m, abs=2.0)


def test_coach_laps_become_the_marker_line(recorder, made, draw):
    recorder.record("coach lap", np.arange(-60.0, 3.4 * draw.lap_m, 2.5), -2.0)
    recorder.cones("1")
    walked = made(recorder)
    course = place(walked.track)
    assert course.marker_line_from == "given"
    assert course.marker_line.length_m == pytest.approx(draw.lap_m + 4.0 * np.pi, abs=2.0)
    assert any("coach's lap serves" in line for line in walked.told)


def test_a_riders_log_can_supply_the_centre(recorder, made, draw):
    recorder.cones("1")
    drawn = Recorder(draw)
    drawn.record("centre", drawn.lap(), 0.5)
    centre = made(drawn).track.centre
    walked = made(recorder, centre)
    assert any("taken from the riders' logs" in line for line in walked.told)
    assert place(walked.track).reference.length_m == pytest.approx(draw.lap_m - np.pi, abs=2.0)
    assert walked.track.corners[0].turn is Turn.LEFT


def test_with_nothing_to_measure_along_cones_still_tell_the_turn(recorder, made):
    recorder.cones("1")
    walked = made(recorder)
    assert any("nothing was recorded to measure along" in line for line in walked.told)
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
    assert not any("filled" in line for line in walked.told)


def test_a_walk_across_the_antimeridian(draw, made):
    """A cone on either side of it, recorded without any line."""
    draw.plane = Plane(-17.0, 180.0)
    recorder = Recorder(draw)
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
    assert any("only one end of the start line" in line for line in walked.told)


def test_everything_that_was_not_read_is_listed(recorder, made):
    full(recorder)
    recorder.mark("toilets", 0.0, -40.0)
    recorder.mark("seam 3", 0.0, 0.0)
    recorder.mark("1 apex", 200.0, 5.5, "camber much")
    recorder.record("ACTIVE LOG", recorder.lap(), 0.0)
    assert set(made(recorder).unread) == {
        "waypoint 'toilets'",
        "waypoint 'seam 3'",
        "in '1 apex': camber much",
        "track 'ACTIVE LOG'",
    }


def test_a_walk_in_which_nothing_is_named(recorder, made):
    recorder.mark("toilets", 0.0, -40.0)
    with pytest.raises(TrackError, match=r"none of its 1 names could be read \('toilets'\)"):
        made(recorder)


def test_walked_heights_keep_long_waves_only(draw, made):
    lap = np.arange(0.0, draw.lap_m, 1.4)
    slow = 400.0 + 4.0 * np.sin(2.0 * np.pi * lap / draw.lap_m)
    recorder = Recorder(draw)
    recorder.record("centre", lap, 0.0, slow + 0.5 * np.sin(lap / 8.0))
    profile = place(made(recorder).track).profile
    wave = 2.0 * np.pi / draw.lap_m
    assert np.max(np.abs(profile.grade)) == pytest.approx(4.0 * wave, rel=0.1)
    assert np.max(np.abs(profile.vertical_curvature_1pm)) < 3.0 * 4.0 * wave**2


def test_an_open_hill_whose_last_heights_are_missing_does_not_fall_back_to_its_start():
    x = np.arange(0.0, 1000.0, 2.0)
    climb = np.where(x < 940.0, 100.0 + 0.1 * x, np.nan)
    hill = StationLine.through([0.0, 500.0, 1000.0], [0.0, 0.0, 0.0], False)
    walked = averaged(hill, [Pass(x, np.zeros_like(x), climb)])
    assert not walked.closed
    assert walked.height_m[-1] == pytest.approx(194.0, abs=1.0)


def test_a_new_walk_keeps_what_the_old_file_knew(recorder, made, draw):
    old = made(full(recorder)).track
    kept = {"type": "Feature", "properties": {"role": "grandstand"}, "geometry": None}
    old.markers[0].properties["paint"] = "two stripes"
    old = type(old)(**{**vars(old), "unknown": (kept,), "members": {"title": "ours"}})
    again = Recorder(draw)
    again.record("centre", again.lap(), 0.0)
    begin = draw.bend_at["1"]
    again.mark("1 turn-in", begin - 5.0, -5.5)
    again.mark("3 apex", 400.0, 5.5)
    merged = merge(old, made(again).track)
    assert merged.unknown == (kept,) and merged.members == {"title": "ours"}
    assert [c.name for c in merged.corners] == ["1", "2", "3"]
    assert merged.corners[0].cues == ("look to the exit cone",)
    first = merged.markers[0]
    assert first.camber_deg == -3.0 and first.properties["paint"] == "two stripes"
    assert [first.lon, first.lat] == pytest.approx(draw.positions([begin - 5.0], -5.5)[0])
    assert len(merged.seams) == 1 and len(merged.hazards) == 1 and merged.left_edge is not None


KNOWN = Track(
    "old.geojson",
    "",
    centre_width_m=11.0,
    corners=(GeoCorner("1", Turn.LEFT, camber_deg=2.0, target_lane=2, cues=("wait",)),),
    markers=(GeoMarker("1", "apex", MarkerKind.APEX, Turn.LEFT, 8.0, 47.0, -3.0, 0.5),),
    pit_lanes=({"type": "Feature", "properties": {"role": "pit_lane"}, "geometry": None},),
)


def test_what_a_new_walk_does_not_say_stays_and_what_it_says_holds():
    silent = replace(
        KNOWN,
        centre_width_m=None,
        corners=(GeoCorner("1", Turn.RIGHT),),
        markers=(GeoMarker("1", "apex", MarkerKind.APEX, Turn.RIGHT, 8.1, 47.1),),
        pit_lanes=(),
    )
    kept = merge(KNOWN, silent)
    assert kept.corners[0] == replace(KNOWN.corners[0], turn=Turn.RIGHT)
    assert kept.markers[0] == replace(KNOWN.markers[0], side=Turn.RIGHT, lon=8.1, lat=47.1)
    assert (kept.centre_width_m, kept.pit_lanes) == (11.0, KNOWN.pit_lanes)
    spoken = replace(
        KNOWN,
        centre_width_m=9.0,
        corners=(GeoCorner("1", Turn.LEFT, camber_deg=0.0, target_lane=3, cues=("look",)),),
        markers=(replace(KNOWN.markers[0], camber_deg=0.0, pass_within_m=1.5),),
        pit_lanes=({"type": "Feature"},),
    )
    changed = merge(KNOWN, spoken)
    assert changed.corners == spoken.corners and changed.markers == spoken.markers
    assert (changed.centre_width_m, changed.pit_lanes) == (9.0, spoken.pit_lanes)


def test_a_seam_of_a_corner_without_cones_is_freed(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.record("7 seam 1", np.arange(100.0, 200.0, 1.4), 2.0)
    recorder.mark("7 hazard post", 150.0, 9.0)
    track, freed = with_known_corners(made(recorder).track)
    assert track.seams[0].corner == track.hazards[0].corner == ""
    assert freed == (
        "corner 7 of seam 1, which has no cones",
        "corner 7 of hazard 'post', which has no cones",
    )


def test_a_line_far_from_the_course_is_refused(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.record("left edge", np.arange(0.0, 100.0, 1.4), 300.0)
    with pytest.raises(TrackError, match="does not run along the course"):
        made(recorder)


def test_a_short_recording_is_refused(recorder, made):
    recorder.record("centre", np.array([0.0, 4.0, 8.0]), 0.0)
    with pytest.raises(TrackError, match="only 8 m long"):
        made(recorder)


def test_all_that_was_made_is_told(recorder, made):
    told = made(full(recorder)).told
    for line in (
        "start line",
        "hold point",
        "hazard at 1: kerb sticks out",
        "pit lane: 1 recorded",
    ):
        assert line in told, line
    assert any(line.startswith("base") for line in told)


def test_a_mistyped_name_is_told_once_with_what_it_may_mean(recorder, made):
    for _ in range(3):
        recorder.mark("2 aplex", 400.0, 5.0)
    recorder.mark("quite another thing", 400.0, 5.0)
    unread = made(full(recorder)).unread
    assert unread == (
        "waypoint '2 aplex', 3 times. Did you mean '2 apex'?",
        "waypoint 'quite another thing'",
    )


def test_a_mistyped_corner_is_asked_about(recorder, made):
    lap = recorder.lap()
    recorder.record("centre", lap, 0.0)
    for name, kind, at in (
        ("Weir", "turn-in", 130.0), ("Weir", "apex", 170.0), ("Weer", "exit", 210.0),
    ):  # fmt: skip
        recorder.mark(f"{name} {kind}", at, 5.0)
    asked = [line for line in made(recorder).told if "was meant" in line]
    assert len(asked) == 1
    assert asked[0].startswith("corner Weer was made one of its own; if Weir was meant")


def test_a_packed_walk_is_called_packed(tmp_path):
    path = tmp_path / "walk.gpx.gz"
    path.write_bytes(gzip.compress(b"<gpx/>"))
    with pytest.raises(TrackError, match="packed"):
        read_walk(path)
