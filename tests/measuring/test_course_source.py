"""The course that riders' own logs show, and the line that the coach's laps do."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lapkit.course.found import MOST_PATHS
from lapkit.course.track_file import read_track, write_track
from lapkit.course.types import Turn
from lapkit.errors import PathError
from lapkit.importer import Log
from lapkit.importer.riders_file import Entry
from lapkit.measuring.course_source import course_of, find_course
from lapkit.measuring.options import Options
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

    monkeypatch.setattr("lapkit.measuring.runs.read_logs", lambda path, **_: (log(int(path.name)),))
    monkeypatch.setattr("lapkit.measuring.course_source.ride_path", ride)
    with pytest.raises(PathError, match="not here"):
        find_course(entries, Options())
    assert ridden == [m for m in minutes if m in sorted(minutes)[-MOST_PATHS:]]


def test_a_course_without_corners_or_with_cones_that_no_line_meets_has_no_marker_line(tmp_path):
    track = read_track(sample_event() / "track.geojson")
    none = replace(track, corners=(), markers=(), seams=(), hazards=())
    # Two cones of one corner that ask for opposite sides of the road at one place.
    apex = next(m for m in track.markers if m.kind == "apex")
    across = Turn.LEFT if apex.side is Turn.RIGHT else Turn.RIGHT
    other = replace(apex, name="other", side=across)
    torn = replace(track, markers=(*track.markers, replace(other, pass_within_m=0.3)))
    for number, odd in enumerate((none, torn)):
        path = tmp_path / f"{number}.geojson"
        write_track(odd, path)
        course = course_of(path)
        assert (course.marker_line, course.marker_line_from) == (None, "none")
    assert course_of(sample_event() / "track.geojson").marker_line_from == "solved"
