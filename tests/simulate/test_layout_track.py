"""A layout drawn as a track file: where its cones, seams, edges and heights come to stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course import place
from lapkit.course.checks import check_track
from lapkit.course.track_file import read_track, write_track
from lapkit.course.types import MarkerKind, Turn
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.layout import Bend, CornerPlan, Layout, Straight
from lapkit.simulate.layout_track import track_of

LEFT = CornerPlan(
    "Left",
    (Bend(40.0, 90.0, 10.0),),
    turn_in_before_m=12.0,
    exit_after_m=18.0,
    exit_out_m=3.0,
    apex_share=0.25,
    camber_deg=2.0,
    apex_camber_deg=-1.0,
    cues=("Wait.",),
    hazard="Oil",
)
DOUBLE = CornerPlan("Double", (Bend(40.0, 90.0, 10.0), Straight(180.0), Bend(40.0, 90.0, 10.0)))
LAYOUT = Layout(
    "Four Bends",
    (
        Straight(80.0, fitted=True),
        LEFT,
        Straight(90.0, fitted=True),
        DOUBLE,
        Straight(150.0),
        CornerPlan("Last", (Bend(40.0, 90.0, 10.0),)),
        Straight(100.0),
    ),
    heights=((0.0, 10.0), (0.5, 16.0), (1.0, 10.0)),
    half_width_m=5.0,
    pit_reach_m=95.0,
)


@pytest.fixture(scope="module")
def course():
    return place(track_of(LAYOUT))


def mirrored(plan):
    """The corner turning the other way."""
    legs = [
        replace(leg, angle_deg=-leg.angle_deg) if isinstance(leg, Bend) else leg
        for leg in plan.legs
    ]
    return replace(plan, legs=tuple(legs))


def test_cones_stand_on_their_side_as_far_out_as_the_layout_says(course):
    offsets = {m.name: m.offset_m for m in course.corner("Left").markers}
    # Left is positive: the apex of a left-hander is on the left edge, its other cones right of the centre.
    assert offsets == pytest.approx({"turn-in": -5.0, "apex": 5.0, "exit": -3.0}, abs=0.05)
    assert [m.side for m in course.corner("Left").markers] == [Turn.RIGHT, Turn.LEFT, Turn.RIGHT]


def test_cones_stand_as_far_along_as_the_layout_says(course):
    corner = course.corner("Left")
    turn_in, apex, leave = (m.station_m for m in corner.markers)
    assert apex - turn_in == pytest.approx(12.0 + 0.25 * LEFT.length_m, abs=0.1)
    assert leave - turn_in == pytest.approx(12.0 + LEFT.length_m + 18.0, abs=0.1)


def test_a_corner_of_two_bends_has_an_apex_in_each(course):
    names = [m.name for m in course.corner("Double").markers]
    assert names == ["turn-in", "apex 1", "apex 2", "exit"]
    one, two = course.corner("Double").apexes_m
    assert two - one == pytest.approx(DOUBLE.legs[0].length_m + 180.0, abs=0.1)


def test_seams_part_the_corner_into_three_lanes_the_first_one_inside(course):
    corner = course.corner("Left")
    at = np.array([corner.turn_in_m, corner.exit_m])
    assert [seam.name for seam in corner.seams] == ["first seam", "second seam"]
    assert corner.seams[0].offset_at(at) == pytest.approx([2.0, 2.0], abs=0.05)
    assert corner.seams[1].offset_at(at) == pytest.approx([-2.0, -2.0], abs=0.05)


def test_turned_the_other_way_everything_stands_on_the_other_side(course):
    parts = tuple(mirrored(s) if isinstance(s, CornerPlan) else s for s in LAYOUT.sections)
    other = place(track_of(replace(LAYOUT, sections=parts)))
    for corner, mirror in zip(course.corners, other.corners, strict=True):
        assert mirror.turn is not corner.turn
        for cone, image in zip(corner.markers, mirror.markers, strict=True):
            assert image.offset_m == pytest.approx(-cone.offset_m, abs=0.05)
        for seam, image in zip(corner.seams, mirror.seams, strict=True):
            middle = np.array(corner.apexes_m)
            assert image.name == seam.name
            assert image.offset_at(middle) == pytest.approx(-seam.offset_at(middle), abs=0.05)


def test_camber_and_cues_are_the_layout_s_and_an_apex_may_have_its_own():
    track = track_of(LAYOUT)
    left = next(c for c in track.corners if c.name == "Left")
    assert (left.turn, left.camber_deg, left.cues) == (Turn.LEFT, 2.0, ("Wait.",))
    camber = {m.kind: m.camber_deg for m in track.markers if m.corner == "Left"}
    assert camber == {MarkerKind.TURN_IN: None, MarkerKind.APEX: -1.0, MarkerKind.EXIT: None}


def test_a_hazard_lies_beyond_the_outer_edge_and_only_where_there_is_one(course):
    (hazard,) = course.track.hazards
    assert (hazard.text, hazard.corner) == ("Oil", "Left")
    lon, lat = hazard.geometry["coordinates"]
    x, y = course.plane.to_xy(np.array([lat]), np.array([lon]))
    _, offset = course.reference.project(x, y)
    assert offset[0] == pytest.approx(-11.0, abs=0.1)


def test_heights_run_through_those_of_the_layout():
    height = track_of(LAYOUT).centre.height_m
    assert height[0] == height[-1] == 10.0
    assert height[len(height) // 2] == pytest.approx(16.0, abs=0.01)


def test_the_pit_lane_leaves_the_track_and_comes_back_past_the_hold_point(course):
    (lane,) = course.pit_lanes
    _, offset = course.reference.follow(*lane.T)
    # It begins and ends on the track, 1.5 m from its edge.
    assert offset[[0, -1]] == pytest.approx([-3.5, -3.5], abs=0.05)
    assert offset.min() == pytest.approx(LAYOUT.pit_out_m, abs=0.1)
    assert np.min(np.hypot(*(lane - course.hold_points[0]).T)) < 3.0


@pytest.mark.parametrize("name", LAYOUTS)
def test_built_in_courses_are_faultless_track_files(name, tmp_path):
    track = track_of(LAYOUTS[name])
    write_track(track, tmp_path / "track.geojson")
    again = read_track(tmp_path / "track.geojson")
    assert not check_track(again)
    assert again.corners == track.corners
    assert again.markers == track.markers
