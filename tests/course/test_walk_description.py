"""What the description of a waypoint says, clause by clause."""

import pytest

from lapkit.course.types import Turn
from lapkit.course.walk_description import merged, read_description


def test_a_description_is_read_clause_by_clause():
    said = read_description(
        "Camber -3; pass within 1.0; cue: look to the exit cone\nlane 2; on the left; oil once"
    )
    assert said.camber_deg == -3.0 and said.pass_within_m == 1.0 and said.target_lane == 2
    assert said.cues == ("look to the exit cone",) and said.side is Turn.LEFT
    assert said.notes == ("oil once",) and said.unread == ()


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("camber -3", -3.0),
        ("camber: +2.5 deg", 2.5),
        ("camber −4°", -4.0),
        ("camber 2,5", 2.5),
        ("off camber 3", -3.0),
        ("off-camber -3", -3.0),
        ("camber 5 %", 2.862405),
    ],
)
def test_camber_is_read_in_degrees_and_percent(text, degrees):
    assert read_description(text).camber_deg == pytest.approx(degrees, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("pass within 0.5 m", 0.5),
        ("pass 80 cm", 0.8),
        ("within 1.5m", 1.5),
        ("pass within 3 ft", 0.9144),
        ("pass 1", 1.0),
    ],
)
def test_pass_within_is_read_in_metres_centimetres_and_feet(text, metres):
    assert read_description(text).pass_within_m == pytest.approx(metres)


@pytest.mark.parametrize(
    "text", ["camber minus three", "pass close", "pass within 0", "lane two", "side"]
)
def test_what_begins_well_and_cannot_be_used_is_told(text):
    said = read_description(text)
    assert said.unread == (text,) and said.notes == ()


def test_a_description_may_say_which_way_the_corner_turns():
    assert read_description("left-hander").turn is Turn.LEFT
    assert read_description("turns right").turn is Turn.RIGHT


def test_free_text_is_a_note():
    assert read_description("12-MAY-25 10:31:22").notes == ("12-MAY-25 10:31:22",)
    assert read_description("") == read_description(" ;\n ")


def test_cues_and_notes_are_kept_without_their_word_and_without_repeats():
    said = read_description("cue: wait; Cue - wait; note: wet paint; cue:; note")
    assert said.cues == ("wait",)
    assert said.notes == ("wet paint",)


def test_of_two_values_for_one_place_the_later_one_holds():
    texts = ["camber -3; lane 1; cue: wait", "camber 2; cue: look", "on the left; cue: wait"]
    said = merged([read_description(text) for text in texts])
    assert (said.camber_deg, said.target_lane, said.side) == (2.0, 1, Turn.LEFT)
    assert said.cues == ("wait", "look")


def test_of_a_cue_or_a_note_the_plural_and_other_words_that_begin_so_are_told_apart():
    said = read_description("Cues: look to the exit; notes - wet paint; noted at noon")
    assert said.cues == ("look to the exit",)
    assert said.notes == ("wet paint", "noted at noon")
