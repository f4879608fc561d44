"""The built-in courses, and how a course is asked for by name or file."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.course.track_file import write_track
from lapkit.course.types import MarkerKind
from lapkit.errors import OptionError, TrackError
from lapkit.simulate.courses import LAYOUTS, built_in, course_named


def test_the_sample_course_is_what_it_is_described_as():
    course = built_in("sample")
    assert 2500.0 < course.reference.length_m < 4000.0
    assert 7 <= len(course.corners) <= 9
    square = course.corner("Kiln Square")
    assert len(square.apexes_m) == 2
    drop = course.corner("Ravens Drop")
    assert drop.camber_at(np.array(drop.apexes_m))[0] < 0.0
    assert course.profile.at(np.array(drop.apexes_m))[0][0] < -0.02  # downhill
    before = np.arange(drop.turn_in_m - 40.0, drop.apexes_m[0])
    assert course.profile.at(before)[1].min() < -2e-4  # over a crest
    turned = np.ptp(course.reference.heading_at(np.array([950.0, 1150.0])))
    assert turned > np.radians(150.0)  # the hairpin
    wharf, weir = course.corner("Wharf"), course.corner("Weir")
    assert wharf.turn is not weir.turn
    assert weir.turn_in_m - wharf.exit_m < 90.0
    for corner in course.corners:
        assert len(corner.seams) == 2
        assert corner.cues
        for marker in corner.markers:
            inside = marker.kind is MarkerKind.APEX
            assert (marker.side is corner.turn) == inside
            assert marker.offset_m * marker.side.sign > 0.0


def test_marker_lines_turn_smoothly_and_leave_room():
    for name in LAYOUTS:
        course = built_in(name)
        assert course.marker_line_from == "solved"
        x, y = course.marker_line.x_m, course.marker_line.y_m
        station, offset = course.reference.project(x, y)
        left, right = course.edges_at(station)
        assert np.all(offset < left - 0.3)
        assert np.all(offset > right + 0.3)


def test_a_course_by_name_or_file(tmp_path):
    course = course_named("twisty")
    assert course is built_in("twisty")
    write_track(course.track, tmp_path / "mine.geojson")
    mine = course_named(tmp_path / "mine.geojson")
    assert [c.name for c in mine.corners] == [c.name for c in course.corners]
    assert mine.marker_line_from == "solved"
    with pytest.raises(OptionError, match="sample, flowing, twisty"):
        built_in("sideways")
    with pytest.raises(TrackError):
        course_named(tmp_path / "none.geojson")
