from dataclasses import replace

import pytest

from lapkit.reporter.course_words import (
    camber_size_deg,
    corner_facts,
    course_rows,
    is_tilted,
    line_name,
    line_note,
    seams_count_from_inside,
)
from lapkit.units import Units


def test_the_road_s_fall_is_told_from_the_least_of_its_cones_to_the_most(event):
    corner = event.course.corners[0]
    markers = [
        replace(m, camber_deg=deg) for m, deg in zip(corner.markers, (-2.0, -3.0), strict=False)
    ]
    falling = replace(corner, camber_deg=-2.0, markers=tuple(markers))
    assert corner_facts(falling, float("nan"), Units.METRIC) == [
        "off camber, the road falls away by 2 to 3°"
    ]
    even = replace(falling, markers=())
    assert corner_facts(even, float("nan"), Units.METRIC) == [
        "off camber, the road falls away by 2°"
    ]


@pytest.mark.parametrize(
    ("camber_deg", "tilted", "size_deg"),
    [(0.4, False, 0), (0.5, True, 1), (-0.5, True, 1), (-2.5, True, 3)],
)
def test_a_camber_of_half_a_degree_is_worth_a_word_and_is_not_told_as_none(
    camber_deg, tilted, size_deg
):
    assert (is_tilted(camber_deg), camber_size_deg(camber_deg)) == (tilted, size_deg)


def test_half_a_degree_at_all_cones_is_told_as_one(event):
    corner = event.course.corners[0]
    markers = tuple(replace(m, camber_deg=0.5) for m in corner.markers)
    banked = replace(corner, camber_deg=1.0, markers=markers)
    assert "banked by 1°" in corner_facts(banked, float("nan"), Units.METRIC)


@pytest.mark.parametrize(
    ("names", "counted"),
    [
        (("1", "seam 2"), True),
        (("first seam", "second seam"), True),
        (("2", "1"), False),  # counted from the outside
        (("A", "B"), False),
        (("1", "kerb"), False),
        ((), False),
    ],
)
def test_whether_seams_are_counted_from_the_inside(event, names, counted):
    seam = next(seam for corner in event.course.corners for seam in corner.seams)
    seams = tuple(replace(seam, name=name) for name in names)
    bare, *others = (replace(c, seams=()) for c in event.course.corners)
    course = replace(event.course, corners=(replace(bare, seams=seams), *others))
    assert seams_count_from_inside(course) is counted


def test_what_the_track_file_asks_for_is_a_fact_of_its_corner(event):
    corner = replace(event.course.corners[0], camber_deg=0.0, target_lane=2)
    assert corner_facts(corner, 30.0, Units.US) == [
        "lane 2 is the one to be in",
        "the marker line’s exit keeps 98 ft radius",
    ]
    assert corner_facts(replace(corner, target_lane=None), float("nan"), Units.US) == []


def test_every_corner_has_a_row_if_only_with_a_dash(event):
    flat = [
        replace(c, camber_deg=0.0, target_lane=None, apexes_m=c.apexes_m[:1])
        for c in event.course.corners
    ]
    bare = replace(event.course, corners=tuple(flat), marker_line=None, marker_line_from="none")
    rows = course_rows(bare, Units.METRIC)
    assert [name for name, _, _ in rows] == [c.name for c in flat]
    assert {what for _, _, what in rows} == {"–"}


@pytest.mark.parametrize(
    ("source", "begins"),
    [
        ("solved", "The marker line was solved"),
        ("ridden", "The marker line is the mean of the coach’s own laps."),
        ("given", "The marker line is the one drawn"),
        ("none", ""),
    ],
)
def test_where_the_marker_line_came_from_is_said(event, source, begins):
    course = replace(event.course, marker_line_from=source, marker_line_sd_m=0.5)
    note = line_note(course, Units.METRIC)
    assert note.startswith(begins)
    assert bool(note) == bool(begins)
    assert ("within about 1.0 m" in note) == (source == "ridden")
    assert line_note(replace(course, marker_line=None), Units.METRIC) == ""


def test_a_road_whose_width_was_assumed_is_said_to_be(event):
    """The marker line's radii rest on it: "within the edges" was said where there are none."""
    course = replace(event.course, marker_line_from="solved")
    assert "within the edges, past" in line_note(course, Units.METRIC)
    bare = replace(course, edges=None)
    assert "taken to be 12 m wide (the track file has no edges)" in line_note(bare, Units.METRIC)
    assert "taken to be 39 ft wide" in line_note(bare, Units.US)


def test_a_line_goes_by_what_a_rider_would_call_it():
    assert line_name("one lane in") == "one lane further in"
    assert line_name("a new one") == "a new one"
