from dataclasses import replace

import pytest

from lapkit.compare.results import Unusable
from lapkit.course.types import Track
from lapkit.findings.event import EventFinding
from lapkit.reporter import display, words
from lapkit.reporter.event_page import event_page
from lapkit.reporter.terminal import done_text
from lapkit.units import Units


@pytest.mark.parametrize(
    ("told", "sessions", "grey"),
    [
        (True, "1", ""),
        (True, "11", "Grey: your other lap."),
        (True, "112", "Grey: your other laps, those of run 1 in dashes."),
        (True, "1234", "Grey: your other laps, those of runs 1, 2 and 3 in dashes."),
        (True, "12", "Grey: your other lap, that of run 1 in dashes."),
        (False, "1", "Grey: your lap."),
        (False, "11", "Grey: your laps."),
    ],
)
def test_a_picture_s_caption_tells_of_other_laps_where_there_are_any(event, told, sessions, grey):
    rider = event.riders[0]
    laps = [replace(rider.runs[0].traces[0], session=session) for session in sessions]
    findings = rider.findings[:1] if told else ()
    caption = words.picture_caption(findings, laps, False)
    assert caption.removeprefix(words.thick_lap(findings[0]) if told else "").strip() == grey


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("At 76 km/h it tells a radius down to 7 m.", "At 47 mph it tells a radius down to 23 ft."),
        ("steps of 0.5 m", "steps of 1.6 ft"),
        ("10 fixes a second over 17.9 min, 3.1 s", "10 fixes a second over 17.9 min, 3.1 s"),
        (
            "it never comes nearer than 1 609 km to it",
            "it never comes nearer than 1,000 miles to it",
        ),
        # Names are the coach's own.
        (
            "5 m.geojson, corner '30 m dip': the rider's turn-in lies 10 m before corner \"5 m's\"",
            "5 m.geojson, corner '30 m dip': the rider's turn-in lies 33 ft before corner \"5 m's\"",
        ),
    ],
)
def test_sentences_are_put_in_the_reader_s_units(metric, us):
    assert display.in_units(metric, Units.US) == us
    assert display.in_units(metric, Units.METRIC) == metric


def test_log_quality_is_told_in_the_reader_s_units(event):
    row = event.tables["logs"].assign(note="At 76 km/h; steps of 2 m").iloc[0]
    assert "mph" in words.log_words(row, Units.US, event.course)
    assert "km/h" not in words.log_words(row, Units.US, event.course)
    assert "2 m" in words.log_words(row, Units.METRIC, event.course)


def test_why_a_log_was_not_used_is_told_in_the_reader_s_units(event, tmp_path):
    far = Unusable("Cy", "1", "cy 5 m.csv", "it never comes nearer than 610 m to the course")
    odd = replace(event, unusable=(far,))
    for said in (
        words.not_used(far, Units.US),
        event_page(odd, units=Units.US, links={}),
        done_text(odd, tmp_path, [], Units.US),
    ):
        assert "than 2001 ft to the course" in said.replace("\N{NO-BREAK SPACE}", " ")
        assert "cy 5 m.csv" in said.replace("\N{NO-BREAK SPACE}", " ")
    assert "than 610 m to" in done_text(odd, tmp_path, [])


def test_seams_are_spoken_of_where_the_course_has_some(event, found_event):
    row = event.tables["logs"].assign(offset_from="none").iloc[0]
    assert "so the side of a seam that laps ran on is mostly unclear" in words.log_words(
        row, Units.METRIC, event.course
    )
    bare = words.log_words(row, Units.METRIC, found_event.course)
    assert bare.endswith("Nothing tells how far off this receiver was.")


def test_an_event_is_called_by_its_course_or_else_by_its_folder(event):
    bare = replace(event, title="2031-06_spring_day", course=replace(event.course, track=None))
    assert words.heading(bare) == "2031-06 spring day"
    assert words.heading(replace(bare, title="sample_data")) == "Sample data"
    track = Track("t", "", members={"name": " Salt Ring "})
    assert words.heading(replace(bare, course=replace(bare.course, track=track))) == "Salt Ring"
    odd = Track("t", "", members={"name": 7})
    assert words.heading(replace(bare, title="x", course=replace(bare.course, track=odd))) == "X"


def test_laps_are_counted_run_by_run(event):
    laps = event.riders[0].runs[0].tables["laps"]
    timed = (laps["kind"] == "timed").sum()
    assert words.lap_count(laps) == f"Timed from line to line: {timed} in run 1."


def test_the_road_s_fall_is_told_from_the_least_of_its_cones_to_the_most(event):
    corner = event.course.corners[0]
    markers = [
        replace(m, camber_deg=deg) for m, deg in zip(corner.markers, (-2.0, -3.0), strict=False)
    ]
    falling = replace(corner, camber_deg=-2.0, markers=tuple(markers))
    assert words.corner_facts(falling, float("nan"), Units.METRIC) == [
        "off camber, the road falls away by 2 to 3°"
    ]
    even = replace(falling, markers=())
    assert words.corner_facts(even, float("nan"), Units.METRIC) == [
        "off camber, the road falls away by 2°"
    ]


def test_the_terminal_says_whom_of_several_to_talk_to_first(event, tmp_path):
    talk = tuple(EventFinding("talk_first", f"Talk to {name}.") for name in "ABCD")
    several = replace(event, findings=(*talk, EventFinding("changed", "Bo changed.")))
    said = done_text(several, tmp_path, [])
    assert [name for name in "ABCD" if f"Talk to {name}." in said] == ["A", "B", "C"]
    assert "Bo changed." not in said
    assert "Talk to" not in done_text(replace(several, riders=event.riders[:1]), tmp_path, [])
