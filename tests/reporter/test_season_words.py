"""A season's answers in words: what is told where little is known, and what where nothing changed."""

from dataclasses import replace

from lapkit.reporter.season_page import season_page
from lapkit.reporter.season_terminal import season_text
from lapkit.reporter.season_words import season_words
from lapkit.season.answers import Median, SeamCalls
from lapkit.units import Units


def test_the_heading_names_who_and_what_was_asked_for(answers):
    assert season_words(answers, Units.METRIC).heading == "Season: Tove"
    both = replace(answers, corner="Larch")
    assert season_words(both, Units.METRIC).heading == "Season: Tove, Larch"
    third = replace(answers, rider=None, corner="3")
    assert season_words(third, Units.METRIC).heading == "Season: Corner 3"
    assert season_words(replace(answers, rider=None), Units.METRIC).heading == "Season"


def test_courses_are_numbered_only_where_there_are_several(answers):
    one = season_words(answers, Units.METRIC)
    assert one.events_head == ("event", "riders")
    assert one.events[0] == ("1 April 2031, spring", "2")
    assert one.trouble[0][0] == "Larch"
    events = (answers.events[0], replace(answers.events[1], course=2))
    two = season_words(replace(answers, events=events), Units.METRIC)
    assert two.events_head == ("event", "riders", "course")
    assert [row[2] for row in two.events] == ["1", "2"]
    assert two.trouble[0][0] == "Larch (course 1)"


def test_another_marker_line_stands_beside_its_event(answers):
    first, second = answers.events
    events = (first, replace(second, other_line=("2", "Larch")))
    words = season_words(replace(answers, events=events), Units.METRIC)
    assert words.events_head[-1] == "another marker line at"
    assert [row[-1] for row in words.events] == ["–", "Corner 2 and Larch"]
    assert "may come of the cones" in words.line_note
    for told in (season_text, season_page):
        assert "another marker line at" in told(replace(answers, events=events), units=Units.METRIC)
    assert season_words(answers, Units.METRIC).line_note == ""


def test_what_is_not_known_of_a_corner_is_a_dash(answers):
    (corner,) = season_words(answers, Units.METRIC).corners
    known, unknown = corner.rows
    assert known[2:6] == ("60 ± 2 m", "40° ± 1°", "5 of 6", "turning in early")
    assert unknown[2:] == ("–", "–", "–", "none", "–")
    bare = replace(answers.ridden[0], radius_m=Median(60.0, None, None))
    (corner,) = season_words(replace(answers, ridden=(bare,)), Units.METRIC).corners
    assert corner.rows[0][2] == "60 m"


def test_only_the_counted_seam_is_told_where_there_is_one(answers):
    (corner,) = season_words(answers, Units.METRIC).corners
    assert corner.rows[0][-1] == "s: inside 4 of 6, unclear 1"
    inside = replace(answers.ridden[0], seams=(SeamCalls("s", 4, 2, 0, False),))
    (corner,) = season_words(replace(answers, ridden=(inside,)), Units.METRIC).corners
    assert corner.rows[0][-1] == "s (the marker line is inside): inside 4 of 6"


def test_whether_it_was_so_at_his_last_event_is_a_word(answers):
    def lately(**more):
        trouble = replace(answers.trouble[0], **more)
        words = season_words(replace(answers, trouble=(trouble,)), Units.METRIC)
        return words.trouble[0][4]

    assert lately(lately=True, events=3) == "still so"
    assert lately(lately=True, events=1) == "yes"
    assert lately(lately=None, events=3) == "cannot be told"


def test_who_is_over_it_stands_in_a_sentence_and_in_no_row(answers):
    over = replace(answers.trouble[0], lately=False)
    at_anvil = replace(over, corner="Anvil")
    iska = replace(over, rider="Iska")
    words = season_words(replace(answers, trouble=(over, at_anvil, iska)), Units.METRIC)
    assert words.trouble == ()
    assert words.over == (
        "So over the season, but no more at the last event: Tove at Larch and Anvil; Iska at Larch."
    )
    assert season_words(answers, Units.METRIC).over == ""


def test_that_nothing_changed_is_said_only_where_a_course_was_ridden_again(answers):
    def said(**more):
        told = replace(answers, changes=(), habit_changes=(), **more)
        return season_words(told, Units.METRIC).unchanged

    everybody = {"rider": None, "ridden": ()}
    first, second = answers.events
    assert said() == said(**everybody) == "Nothing clearly changed."
    alone = said(**everybody, events=(first,))
    assert alone == "One event so far: nothing to hold it against."
    assert said(corner="3", ridden=()) == "Tove has no timed lap at Corner 3 in this season."
    elsewhere = said(**everybody, events=(first, replace(second, course=2)))
    assert elsewhere.startswith("Nothing to hold against each other yet")
    # He rode the corner at one of two events on the same course.
    assert said(ridden=answers.ridden[:1]) == elsewhere
