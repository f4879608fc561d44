"""Lines that were walked: several times, in pieces, the wrong way round."""

import numpy as np
import pytest

from lapkit.course import place
from lapkit.course.walk_lines import Pass, first_line, strides
from lapkit.curvature import HELD_OVER_M, held_curvature
from lapkit.errors import TrackError


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


def test_a_short_recording_is_refused(recorder, made):
    recorder.record("centre", np.array([0.0, 4.0, 8.0]), 0.0)
    with pytest.raises(TrackError, match="only 8 m long"):
        made(recorder)


def test_standing_still_counts_as_one_place_a_stride():
    x = np.concatenate([np.full(100, 0.5), np.arange(1.0, 10.0)])
    walked = strides(x, np.zeros(len(x)), np.where(x > 5.0, 20.0, np.nan))
    assert walked.x_m == pytest.approx([(50.0 + 1.0 + 2.0 + 3.0) / 103.0, 5.0, 8.0])
    np.testing.assert_allclose(walked.height_m, [np.nan, 20.0, 20.0])


def ring(laps, noise_m=0.0):
    """A place every two metres round a ring of 300 m."""
    angle = 2.0 * np.pi * np.arange(0.0, laps * 300.0, 2.0) / 300.0
    radius = 300.0 / 2.0 / np.pi
    rng = np.random.default_rng(1)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    noise = rng.normal(0.0, noise_m, (2, len(x)))
    return Pass(x + noise[0], y + noise[1], np.full(len(x), np.nan))


@pytest.mark.parametrize("laps", [0.99, 1.3, 2.7])
def test_a_recording_that_comes_back_is_one_lap_of_a_loop(laps):
    line = first_line(ring(laps, 0.3))
    assert line.closed
    assert line.length_m == pytest.approx(300.0, abs=4.0)


def test_one_that_does_not_come_back_is_open():
    line = first_line(ring(0.7))
    assert not line.closed
    assert line.length_m == pytest.approx(210.0, abs=3.0)


def test_a_walker_s_wobble_is_smoothed():
    line = first_line(ring(2.0, 0.5))
    assert np.std(np.hypot(line.x_m, line.y_m)) < 0.25


def test_a_recording_with_a_wild_place_is_refused():
    x = np.array([0.0, 10.0, 40_000.0])
    with pytest.raises(TrackError, match="40 km long"):
        first_line(Pass(x, np.zeros(3), np.full(3, np.nan)))


def test_of_several_laps_one_without_the_detour_of_another_is_taken():
    """On the second of three laps he left the loop for sixty metres and came back."""
    whole = ring(3.3)
    angle = 2.0 * np.pi * 220.0 / 300.0
    away = np.concatenate([np.arange(0.0, 60.0, 2.0), np.arange(60.0, 0.0, -2.0)])
    x, y = (
        np.insert(v, 220, v[220] + away * f(angle))
        for v, f in ((whole.x_m, np.cos), (whole.y_m, np.sin))
    )
    line = first_line(Pass(x, y, np.full(len(x), np.nan)))
    assert line.length_m == pytest.approx(300.0, abs=6.0)
