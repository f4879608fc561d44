"""The line along which a walk is measured: what serves for it, which way round, and where it begins."""

import numpy as np
import pytest

from lapkit.course import place
from lapkit.course.types import Turn
from lapkit.course.walk_file import read_walk
from lapkit.course.walk_reference import reference_of_walk
from lapkit.course.walk_sort import sort_walk


@pytest.fixture
def measured(tmp_path):
    """Gives the line along which a recorder's walk is measured, and the sorted walk."""

    def of(recorder, centre=None):
        path = tmp_path / "walk.gpx"
        path.write_text(recorder.gpx.to_xml(), encoding="utf-8")
        found = sort_walk(read_walk(path))
        return reference_of_walk(found, centre), found

    return of


def test_a_walked_centre_goes_before_edges_and_these_before_a_coach_s_lap(recorder, measured, draw):
    """Each is longer than the one before it, by which they are told apart."""
    lap = recorder.lap()
    recorder.record("coach lap", lap, -4.0)
    assert measured(recorder)[0].length_m == pytest.approx(draw.lap_m + 8.0 * np.pi, abs=2.0)
    recorder.record("left edge", lap, 6.0)
    recorder.record("right edge", lap, -10.0)
    line, found = measured(recorder)
    assert line.length_m == pytest.approx(draw.lap_m + 4.0 * np.pi, abs=2.0)
    assert found.remarks == ["no centre was walked; the middle of the edges serves"]
    recorder.record("centre", lap, 0.0)
    line, found = measured(recorder)
    assert line.length_m == pytest.approx(draw.lap_m, abs=2.0)
    assert found.remarks == []


def test_stations_begin_at_the_middle_of_the_start_line(recorder, measured, draw):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.mark("start left", 200.0, 8.0)
    recorder.mark("start right", 204.0, -8.0)
    line, found = measured(recorder)
    middle = found.plane.to_xy(*draw.plane.to_lat_lon(*draw.stadium([202.0])))
    station, offset = line.project(*middle)
    assert float(line.way(station[0])) == pytest.approx(0.0, abs=0.3)
    assert abs(offset[0]) < 0.3


def test_of_a_walk_without_any_line_there_is_none(recorder, measured):
    recorder.cones("1")
    line, found = measured(recorder)
    assert line is None
    assert found.remarks[0].startswith("nothing was recorded to measure along")


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


def test_a_riders_log_can_supply_the_centre(recorder, made, draw, recorder_of):
    recorder.cones("1")
    drawn = recorder_of(draw)
    drawn.record("centre", drawn.lap(), 0.5)
    centre = made(drawn).track.centre
    walked = made(recorder, centre)
    assert any("taken from the riders' logs" in line for line in walked.remarks)
    assert place(walked.track).reference.length_m == pytest.approx(draw.lap_m - np.pi, abs=2.0)
    assert walked.track.corners[0].turn is Turn.LEFT
