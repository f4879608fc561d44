"""The course that riders' own logs show, and the line that the coach's laps do."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lapkit.course import place, read_track
from lapkit.course.found import MOST_PATHS
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import Recorded, WalkFile
from lapkit.course_source import find_course, with_coach_line, with_walked_laps
from lapkit.errors import PathError
from lapkit.importer import Log, read_log
from lapkit.importer.event_folder import Entry
from lapkit.options import Options
from lapkit.sample import sample_event


def log(minutes):
    """Straight on at 20 m/s, a fix a second with a metre of noise."""
    time = np.arange(60.0 * minutes)
    north = 20.0 * time + np.random.default_rng(minutes).normal(0.0, 1.0, len(time))
    return Log(f"{minutes}", "", time, 50.0 + north / 111_195.0, np.zeros(len(time)))


def test_of_many_logs_only_the_longest_are_made_paths_of(monkeypatch):
    minutes = np.random.default_rng(1).permutation(np.arange(3, 3 + MOST_PATHS + 5)).tolist()
    entries = tuple(Entry("Ada", str(m), str(m), Path(str(m))) for m in minutes)
    ridden = []

    def ride(log, *_, **__):
        ridden.append(int(log.source))
        raise PathError("not here")

    monkeypatch.setattr("lapkit.runs.read_logs", lambda path, **_: (log(int(path.name)),))
    monkeypatch.setattr("lapkit.course_source.ride_path", ride)
    with pytest.raises(PathError, match="not here"):
        find_course(entries, Options())
    assert ridden == [m for m in minutes if m in sorted(minutes)[-MOST_PATHS:]]


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
    assert remark == "coach lap: measured as a log is, its whole laps taken together"
    course = place(track)
    own = with_coach_line(course, coach_log).marker_line
    # Known from places alone, without speed and heading; drawn through them it is that of the antenna, which
    # leans in by half a metre.
    station = np.arange(0.0, own.length_m, 20.0)
    beside = np.abs(course.marker_line.project(*own.at(station))[1])
    assert np.sqrt(np.mean(np.square(beside))) < 0.15
    antenna = np.abs(place(drawn).marker_line.project(*own.at(station))[1])
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
        patched.setattr("lapkit.course_source.ride_path", ride)
        _, remark = with_walked_laps(track_of_walk(walk).track, walk)
    assert "seen enough" in remark
    assert longest == [pytest.approx(lap.time_s[-1] - lap.time_s[0])]
