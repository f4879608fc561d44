"""What is said of an event: who is named where, and which logs were not used."""

from dataclasses import replace

import pytest
from matplotlib.text import Text

from lapkit.compare.results import Unusable
from lapkit.findings.finding import Kind
from lapkit.reporter.event_page import event_page
from lapkit.reporter.event_sheet import event_sheets
from lapkit.reporter.event_summary import summary
from lapkit.reporter.event_words import NO_TRACK_FILE, Head
from lapkit.units import Units


def test_each_rider_is_named_once_by_whether_there_is_anything_to_talk_about(event):
    told = summary(event, Units.METRIC, {})
    assert [line.name for line in told.riders] == [event.riders[0].rider]
    assert [line.name for line in told.unremarked] == ["Bo"]
    assert told.left_off == []
    assert told.no_trouble == "No corner stands out."
    assert [(why, [one.name for one in who]) for why, who in told.untold] == [
        ("no log could be used.", ["Cy"])
    ]


def test_whoever_left_his_habit_off_is_no_more_among_those_without_a_remark(event):
    first = event.riders[0]
    habit = next(f for f in first.findings if f.kind is Kind.WORK)
    off = replace(habit, kind=Kind.OTHER, mended=True)
    told = summary(replace(event, riders=(replace(first, findings=(off,)),)), Units.METRIC, {})
    assert told.riders == told.unremarked == []
    (line,) = told.left_off
    assert line.left_off.startswith(f"in an earlier run it was {habit.in_short} at ")


def test_links_lead_to_the_riders_pages(event):
    told = summary(event, Units.METRIC, {"Bo": "rider-bo.html"})
    assert [line.link for line in told.unremarked] == ["rider-bo.html"]
    assert [row.link for row in told.seams.rows if row.rider == "Bo"] == ["rider-bo.html"]


def test_logs_that_were_not_used_are_told_in_the_readers_units(event):
    far = Unusable("Cy", "1", "cy.gpx", "it never comes nearer than 610 m to the course")
    told = summary(replace(event, unusable=(far,)), Units.US, {})
    assert told.unusable == [
        ("Cy", "1", "cy.gpx", "it never comes nearer than 2001 ft to the course")
    ]
    assert "feet and mph" in told.facts


def test_the_facts_are_when_who_and_how_many_laps(event):
    when, riders, laps, units = summary(event, Units.METRIC, {}).facts
    assert when == "28 May 2026"
    assert (riders, units) == ("2 riders", "metres and km/h")
    assert laps == f"{(event.tables['laps']['kind'] == 'timed').sum()} timed laps"


@pytest.mark.parametrize("found", [False, True])
def test_without_a_track_file_a_note_says_what_is_left_out(event, found_event, found):
    told = summary(found_event if found else event, Units.METRIC, {})
    assert (NO_TRACK_FILE in told.notes) == found
    assert (told.seams is None) == (told.exits is None) == found
    assert told.no_trouble.startswith("Whether a corner stands out") == found


def test_where_nobody_rode_twice_there_is_nothing_to_say_from_run_to_run(event):
    once = replace(event, riders=tuple(replace(r, runs=r.runs[:1]) for r in event.riders))
    for of, told in ((once, False), (event, True)):
        assert (summary(of, Units.METRIC, {}).changes is not None) == told
        page = event_page(of, units=Units.METRIC, links={})
        assert ('href="#runs"' in page) == (Head.RUNS in page) == told
        words = [t.get_text() for sheet in event_sheets(of) for t in sheet.findobj(Text)]
        assert (Head.RUNS in words) == told
