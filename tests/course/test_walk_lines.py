"""Lines that were walked: several times, in pieces, the wrong way round."""

import numpy as np
import pytest

from lapkit.course import place
from lapkit.course.checks import check_track
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn
from lapkit.course.walk_lines import Pass, averaged
from lapkit.curvature import HELD_OVER_M, held_curvature
from lapkit.errors import TrackError


def test_passes_of_a_line_are_averaged_with_their_spread(draw, made, recorder_of):
    recorder = recorder_of(draw)
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.record("left edge", recorder.lap(), 5.0)
    recorder.record("left edge 2", recorder.lap()[::-1], 7.0)
    walked = made(recorder)
    left, _ = place(walked.track).edges_at(np.arange(0.0, draw.lap_m, 7.0))
    assert left == pytest.approx(6.0, abs=0.2)
    assert walked.track.left_edge.properties["spread_m"] == pytest.approx(np.sqrt(2.0), abs=0.1)
    assert any(line == "left edge: 2 recorded, 1.4 m apart" for line in walked.remarks)


def test_a_line_walked_in_pieces_is_joined_and_gaps_are_told(draw, made, recorder_of):
    recorder = recorder_of(draw)
    lap = recorder.lap()
    recorder.record("centre", lap, 0.0)
    recorder.record("left edge", lap[lap < 300.0], 6.0)
    recorder.record("left edge", lap[(lap > 350.0) & (lap < 500.0)], 6.0)
    recorder.record("left edge", lap[(lap > 580.0) & (lap < draw.lap_m)], 6.0)
    walked = made(recorder)
    left, _ = place(walked.track).edges_at(np.arange(0.0, draw.lap_m, 7.0))
    assert left == pytest.approx(6.0, abs=0.3)
    assert walked.remarks[-1].startswith("left edge: 3 recorded")
    assert walked.remarks[-1].endswith("; 55 m between its parts were filled in")
    told = [str(p) for p in check_track(walked.track) if p.code == "edge in part"]
    assert len(told) == 1 and "85 m of the course have no such edge" in told[0]


def test_walked_the_wrong_way_round_it_is_turned(recorder, made, draw):
    lap = recorder.lap()
    recorder.record("centre", lap[::-1], 0.0)
    recorder.record("left edge", lap, 6.0)
    recorder.cones("1")
    walked = made(recorder)
    assert any("turned round" in line for line in walked.remarks)
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
    assert any("middle of the edges" in line for line in walked.remarks)
    assert place(walked.track).reference.length_m == pytest.approx(draw.lap_m, abs=2.0)


def test_coach_laps_become_the_marker_line(recorder, made, draw):
    recorder.record("coach lap", np.arange(-60.0, 3.4 * draw.lap_m, 2.5), -2.0)
    recorder.cones("1")
    walked = made(recorder)
    course = place(walked.track)
    assert course.marker_line_from == "given"
    assert course.marker_line.length_m == pytest.approx(draw.lap_m + 4.0 * np.pi, abs=2.0)
    assert any("coach's lap serves" in line for line in walked.remarks)


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("laps", "every_m"), [(1.02, 2.5), (3.3, 2.5), (3.3, 1.0)])
def test_a_coach_s_lap_bends_as_he_rode_it_and_not_as_the_centre_was_walked(
    draw, made, recorder_of, laps, every_m, way
):
    recorder = recorder_of(draw, noise_m=0.8, seed=4)
    recorder.cones("1")
    for _ in range(2):
        recorder.record("centre", recorder.lap(), 0.0)
    recorder.noise_m = 0.0
    station = np.arange(-60.0, laps * draw.lap_m - 60.0, every_m)
    recorder.record("coach lap", station[::way], -2.0)
    line = place(made(recorder).track).marker_line
    # He rode two metres outside a centre of 40 m radius: what is held over 10 m is told within 4 %.
    start = np.arange(0.0, line.length_m - HELD_OVER_M, 0.5)
    tightest = np.max(held_curvature(line.heading_rad, line.station_m, start))
    assert 1.0 / tightest == pytest.approx(42.0, rel=0.04)
    assert line.length_m == pytest.approx(draw.lap_m + 4.0 * np.pi, abs=1.0)


def test_a_coach_s_lap_in_part_is_a_line_in_part(draw, made, recorder):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.cones("1")
    recorder.record("coach lap", np.arange(100.0, 320.0, 2.5), -2.0, 400.0)
    walked = made(recorder)
    line = place(walked.track).marker_line
    assert not line.closed
    assert line.length_m == pytest.approx(220.0 + 2.0 * np.pi, abs=6.0)
    assert walked.track.marker_line.height_m == pytest.approx(400.0)


def test_a_riders_log_can_supply_the_centre(recorder, made, draw, recorder_of):
    recorder.cones("1")
    drawn = recorder_of(draw)
    drawn.record("centre", drawn.lap(), 0.5)
    centre = made(drawn).track.centre
    walked = made(recorder, centre)
    assert any("taken from the riders' logs" in line for line in walked.remarks)
    assert place(walked.track).reference.length_m == pytest.approx(draw.lap_m - np.pi, abs=2.0)
    assert walked.track.corners[0].turn is Turn.LEFT


def test_walked_heights_keep_long_waves_only(draw, made, recorder_of):
    lap = np.arange(0.0, draw.lap_m, 1.4)
    slow = 400.0 + 4.0 * np.sin(2.0 * np.pi * lap / draw.lap_m)
    recorder = recorder_of(draw)
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


def test_a_line_far_from_the_course_is_refused(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.record("left edge", np.arange(0.0, 100.0, 1.4), 300.0)
    with pytest.raises(TrackError, match="does not run along the course"):
        made(recorder)


def test_a_short_recording_is_refused(recorder, made):
    recorder.record("centre", np.array([0.0, 4.0, 8.0]), 0.0)
    with pytest.raises(TrackError, match="only 8 m long"):
        made(recorder)
