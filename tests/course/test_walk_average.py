"""Passes of a line of a walk brought together, and what becomes of their heights."""

import numpy as np
import pytest

from lapkit.course import place
from lapkit.course.checks import check_track
from lapkit.course.stations import StationLine
from lapkit.course.walk_average import averaged
from lapkit.course.walk_lines import Pass
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


STRAIGHT = StationLine.through([0.0, 200.0, 400.0], [0.0, 0.0, 0.0], False)


def walked(from_m, to_m, offset_m, height_m=np.nan):
    """Along the straight, a place every two metres, backward where it ends before it begins."""
    x = np.arange(from_m, to_m, 2.0 if to_m > from_m else -2.0)
    return Pass(x, np.full(len(x), offset_m), np.full(len(x), height_m))


def test_passes_either_way_have_their_mean_and_spread():
    line = averaged(STRAIGHT, [walked(0.0, 402.0, 1.0), walked(400.0, -2.0, 3.0)])
    assert line.offset_m == pytest.approx(2.0, abs=1e-6)
    # Of two passes a metre from their mean each, with one degree of freedom.
    assert line.spread_m == pytest.approx(np.sqrt(2.0))
    assert line.filled_m == 0.0 and not line.closed


def test_a_single_pass_has_no_spread():
    assert np.isnan(averaged(STRAIGHT, [walked(0.0, 402.0, 1.0)]).spread_m)


@pytest.mark.parametrize(("gap_m", "filled"), [(20.0, False), (100.0, True)])
def test_only_long_gaps_count_as_filled(gap_m, filled):
    parts = [walked(0.0, 150.0, 1.0), walked(150.0 + gap_m, 402.0, 1.0)]
    line = averaged(STRAIGHT, parts)
    assert (line.filled_m > 0.0) == filled
    assert line.filled_m == pytest.approx(gap_m if filled else 0.0, abs=11.0)
    assert line.station_m[[0, -1]] == pytest.approx([0.0, 400.0], abs=0.1)


def test_what_lies_far_from_the_reference_is_left_out():
    stray = Pass(np.arange(0.0, 400.0, 2.0), np.full(200, 60.0), np.full(200, np.nan))
    line = averaged(STRAIGHT, [walked(0.0, 402.0, 1.0), stray])
    assert line.offset_m == pytest.approx(1.0, abs=1e-6)


def test_heights_of_a_pass_walked_backward_come_in_riding_order():
    back = walked(400.0, -2.0, 1.0)
    sloped = Pass(back.x_m, back.y_m, 0.05 * back.x_m)
    assert averaged(STRAIGHT, [sloped]).height_m[[0, -1]] == pytest.approx([0.0, 20.0], abs=0.3)
