"""The line that the coach rode: of his log, and of his laps recorded on a walk."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from lapkit.course import place, read_track
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import Recorded, WalkFile
from lapkit.errors import PathError
from lapkit.importer import read_log
from lapkit.measuring.coach_line import with_coach_line, with_walked_laps
from lapkit.sample import sample_event

CHANNELS = ("lat_deg", "lon_deg", "height_m", "time_s")


@pytest.fixture(scope="module")
def coach_log():
    return read_log(sample_event() / "logs/tove-1.gpx.gz")


def walk_with(log, every=1, timed=True):
    """The walk of the sample event's centre, with a log's places beside it as the coach's laps."""
    course = place(read_track(sample_event() / "track.geojson"))
    x, y = course.reference.at(np.arange(0.0, course.reference.length_m, 2.0))
    lat, lon = course.plane.to_lat_lon(x, y)
    nothing = np.full(len(lat), np.nan)
    centre = Recorded("centre", lat, lon, nothing, nothing)
    part = slice(None, None, every)
    time = log.time_s[part] if timed else np.full(len(log.time_s[part]), np.nan)
    lap = Recorded("coach lap", log.lat_deg[part], log.lon_deg[part], np.full(len(time), 5.0), time)
    return WalkFile("walk.gpx", (), (centre, lap))


def test_a_coach_s_laps_on_a_walk_are_measured_as_his_log_is(coach_log):
    walk = walk_with(coach_log)
    drawn = track_of_walk(walk).track
    track, remark = with_walked_laps(drawn, walk)
    assert remark == "coach lap: measured as a log is, the mean of 7 whole laps"
    course = place(track)
    own = with_coach_line(course, coach_log).marker_line
    # Known from places alone, without speed and heading; drawn through them it is that of the antenna, which
    # leans in by half a metre.
    station = np.arange(0.0, own.length_m, 20.0)
    beside, antenna = (
        np.abs(line.project(*own.at(station))[1])
        for line in (course.marker_line, place(drawn).marker_line)
    )
    assert np.sqrt(np.mean(np.square(beside))) < 0.5 * np.sqrt(np.mean(np.square(antenna)))
    assert np.max(antenna) > 2.0 * np.max(beside)
    assert track.marker_line.height_m == pytest.approx(5.0)


def test_laps_too_seldom_logged_are_drawn_and_called_rough(coach_log):
    walk = walk_with(coach_log, every=10)
    drawn = track_of_walk(walk).track
    track, remark = with_walked_laps(drawn, walk)
    assert track is drawn
    assert "its radii are rough (the coach's log tells lap times only" in remark
    assert remark.endswith("give his log to lapkit track with --line")


def test_laps_without_times_are_taken_as_drawn(coach_log):
    walk = walk_with(coach_log, timed=False)
    drawn = track_of_walk(walk).track
    assert with_walked_laps(drawn, walk) == (drawn, "")


def test_laps_recorded_on_two_days_are_no_log_of_a_day_and_a_night(coach_log):
    walk = walk_with(coach_log)
    centre, lap = walk.tracks
    later = replace(lap, time_s=lap.time_s + 40.0 * 86400.0)
    longest = []

    def ride(log, *_, **__):
        longest.append(log.time_s[-1] - log.time_s[0])
        raise PathError("seen enough")

    walk = replace(walk, tracks=(centre, lap, later))
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("lapkit.measuring.coach_line.ride_path", ride)
        _, remark = with_walked_laps(track_of_walk(walk).track, walk)
    assert "seen enough" in remark
    assert longest == [pytest.approx(lap.time_s[-1] - lap.time_s[0])]


def parts(lap, *ends):
    """A recording in pieces, each to an index."""
    return tuple(
        replace(lap, **{name: getattr(lap, name)[first:stop] for name in CHANNELS})
        for first, stop in pairwise((0, *ends, len(lap.time_s)))
    )


def test_laps_recorded_in_pieces_are_measured_together_whatever_their_order(coach_log):
    walk = walk_with(coach_log)
    centre, lap = walk.tracks
    third = len(lap.time_s) // 3
    first, second, third = parts(lap, third, 2 * third)
    whole, _ = with_walked_laps(track_of_walk(walk).track, walk)
    pieces = replace(walk, tracks=(centre, third, first, second))
    track, remark = with_walked_laps(track_of_walk(pieces).track, pieces)
    assert remark == (
        "coach lap: its recordings were measured together as a log is, the mean of 7 whole laps"
    )
    # To the last digit written: the plane's middle is that of all recordings, and one has become three.
    np.testing.assert_allclose(
        track.marker_line.lon_lat, whole.marker_line.lon_lat, rtol=0.0, atol=1.5e-9
    )


def test_what_was_recorded_without_times_or_on_another_day_is_left_out_and_said(coach_log):
    walk = walk_with(coach_log)
    centre, lap = walk.tracks
    (short, _) = parts(lap, 2000)
    another_day = replace(short, time_s=short.time_s + 86400.0)
    untimed = replace(short, time_s=np.full(len(short.time_s), np.nan))
    told = replace(walk, tracks=(centre, another_day, lap, untimed))
    track, remark = with_walked_laps(track_of_walk(told).track, told)
    assert remark.endswith(
        "the mean of 7 whole laps; of recordings of several days or receivers the longest was taken; "
        "what has no times was left out"
    )
    alone, _ = with_walked_laps(track_of_walk(walk).track, walk)
    assert len(track.marker_line.lon_lat) == len(alone.marker_line.lon_lat)
