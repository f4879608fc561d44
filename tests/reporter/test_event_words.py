from dataclasses import replace

from lapkit.course.types import Track
from lapkit.findings import EventCode, EventFinding
from lapkit.reporter.event_words import event_sentences, event_title


def test_an_event_is_called_by_its_course_or_else_by_its_folder(event):
    bare = replace(event, title="2031-06_spring_day", course=replace(event.course, track=None))
    assert event_title(bare) == "2031-06 spring day"
    assert event_title(replace(bare, title="sample_data")) == "Sample data"
    track = Track("t", "", members={"name": " Salt Ring "})
    assert event_title(replace(bare, course=replace(bare.course, track=track))) == "Salt Ring"
    odd = Track("t", "", members={"name": 7})
    assert event_title(replace(bare, title="x", course=replace(bare.course, track=odd))) == "X"


def test_sentences_about_an_event_are_picked_by_their_code(event):
    found = (
        EventFinding(EventCode.APART, "One."),
        EventFinding(EventCode.CONE_MISSED, "Two."),
        EventFinding(EventCode.APART, "Three."),
    )
    assert event_sentences(replace(event, findings=found), EventCode.APART) == ["One.", "Three."]
