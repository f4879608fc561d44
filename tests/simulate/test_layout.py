from __future__ import annotations

import numpy as np
import pytest

from lapkit.course.checks import check_track
from lapkit.course.track_file import read_track, write_track
from lapkit.course.types import MarkerKind
from lapkit.errors import OptionError, TrackError
from lapkit.simulate.courses import LAYOUTS, built_in, course_named
from lapkit.simulate.layout import Bend, CornerPlan, Straight, centre_of, closed_loop
from lapkit.simulate.layout_track import track_of

OVAL = (
    CornerPlan("East", (Bend(40.0, 180.0, 0.5),)),
    Straight(80.0, fitted=True),
    CornerPlan("West", (Bend(40.0, 180.0, 0.5),)),
    Straight(80.0),
)


def test_an_oval_has_the_length_of_two_straights_and_a_circle():
    sections = (OVAL[0], Straight(80.0), OVAL[2], Straight(80.0))
    centre = centre_of(sections)
    # derived: 2π · 40 + 2 · 80, and half an easing more at each end of a bend
    assert centre.length_m == pytest.approx(2.0 * np.pi * 40.0 + 160.0 + 1.0)
    assert np.hypot(centre.x_m[-1] - centre.x_m[0], centre.y_m[-1] - centre.y_m[0]) < 1e-6


def test_a_clothoid_ends_where_it_should():
    # Bend of two easings of 30 m to a radius of 50 m: the first ends at X 29.73112, Y 2.98077.
    # derived from Fresnel integrals (A² = R L)
    turned = np.degrees(30.0 / 50.0)
    centre = centre_of((CornerPlan("One", (Bend(50.0, turned, 30.0),)),))
    assert np.interp(30.0, centre.station_m, centre.x_m) == pytest.approx(29.73112, abs=1e-4)
    assert np.interp(30.0, centre.station_m, centre.y_m) == pytest.approx(2.98077, abs=1e-4)


def test_fitted_straights_close_the_loop():
    square = tuple(
        part
        for i in range(4)
        for part in (
            Straight(100.0, fitted=i in (0, 1)) if i < 2 else Straight(130.0 + 20.0 * i),
            CornerPlan(f"C{i}", (Bend(30.0, 90.0),)),
        )
    )
    closed = closed_loop(square)
    assert [s.length_m for s in closed if isinstance(s, Straight)] == pytest.approx(
        [170.0, 190.0, 170.0, 190.0]
    )


@pytest.mark.parametrize(
    "sections",
    [
        (CornerPlan("Half", (Bend(40.0, 180.0),)), Straight(1.0, True), Straight(1.0, True)),
        OVAL,
    ],
    ids=["half a turn", "one fitted straight"],
)
def test_what_cannot_close_is_refused(sections):
    with pytest.raises(TrackError, match="360"):
        closed_loop(sections)


@pytest.mark.parametrize("name", LAYOUTS)
def test_built_in_courses_are_faultless_track_files(name, tmp_path):
    track = track_of(LAYOUTS[name])
    write_track(track, tmp_path / "track.geojson")
    again = read_track(tmp_path / "track.geojson")
    assert not check_track(again)
    assert again.corners == track.corners
    assert again.markers == track.markers


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
