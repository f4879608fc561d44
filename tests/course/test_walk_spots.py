"""Visits of one spot: their mean, their spread, and those far off."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from lapkit.course.walk_file import Recorded, Waypoint
from lapkit.course.walk_spots import gather, standing


def test_three_visits_with_noise_come_within_a_metre(draw, made, recorder_of):
    """1.5 m per axis at every visit: the mean of three errs 1.5/√3 = 0.87 m per axis."""
    errors = []
    for seed in range(12):
        recorder = recorder_of(draw, noise_m=1.5, seed=seed)
        for _ in range(3):
            recorder.cones("1")
            recorder.cones("2")
        recorder.noise_m = 0.3
        recorder.record("centre", recorder.lap(), 0.0)
        track = made(recorder).track
        clean = recorder_of(draw)
        clean.cones("1")
        clean.cones("2")
        for marker, point in zip(track.markers, clean.gpx.waypoints, strict=True):
            x, y = draw.plane.to_xy([marker.lat, point.latitude], [marker.lon, point.longitude])
            errors.append((x[0] - x[1], y[0] - y[1]))
            assert marker.properties["visits"] == 3
    rms = np.sqrt(np.mean(np.square(errors)))
    assert 0.6 < rms < 1.0


def test_spread_is_that_of_the_visits(draw, made, recorder_of):
    recorder = recorder_of(draw, noise_m=1.5, seed=4)
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
    assert any("1 of 4 visits lay far" in line for line in walked.remarks)


def test_two_visits_far_apart_are_both_kept():
    spot = gather(np.array([[0.0, 0.0], [30.0, 0.0]]))
    assert (spot.x_m, spot.visits, spot.strays) == (15.0, 2, 0)


def test_fixes_recorded_while_standing_count(draw, made, recorder_of):
    recorder = recorder_of(draw, noise_m=0.0)
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


def stood(draw, moved_m, time_s=50.0, seconds=100):
    """Where a waypoint marked at 50 s is, while a recording drifts east by so much within sixteen seconds."""
    at = np.arange(float(seconds))
    x = moved_m * (at - 50.0) / 16.0
    lat, lon = draw.plane.to_lat_lon(x + 4.0, np.zeros(seconds))
    track = Recorded("walk", lat, lon, np.full(seconds, np.nan), at)
    lat, lon = draw.plane.to_lat_lon(0.0, 0.0)
    waypoint = Waypoint("1 apex", "", float(lat), float(lon), time_s)
    return standing(draw.plane, waypoint, [track])


def test_a_waypoint_marked_while_standing_is_where_the_fixes_are(draw):
    assert stood(draw, 3.0) == pytest.approx((4.0, 0.0), abs=1e-6)


def test_one_marked_in_passing_is_where_it_says(draw):
    assert stood(draw, 20.0) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_so_is_one_without_a_time_or_with_hardly_any_fixes(draw):
    assert stood(draw, 0.0, time_s=np.nan) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert stood(draw, 0.0, time_s=103.0) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_of_three_visits_one_far_from_their_median_is_left_out():
    spot = gather(np.array([[0.0, 0.0], [2.0, 0.0], [1.0, 8.5]]))
    assert (spot.x_m, spot.y_m, spot.visits, spot.strays) == (1.0, 0.0, 2, 1)
    assert spot.spread_m == pytest.approx(np.sqrt(2.0))
