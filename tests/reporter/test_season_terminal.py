import re
from dataclasses import replace

from lapkit.reporter.season_terminal import season_text
from lapkit.season.answers import SeamCalls
from lapkit.units import Units


def test_terminal_tells_values_changes_and_trouble(answers):
    text = season_text(answers, units=Units.METRIC)
    assert "60 ± 2 m" in text
    assert "40° ± 1°" in text
    assert re.search(r"s: inside 4 of 6, unclear 1\n", text)
    heading, line = text.partition("What changed after which event\n")[2].splitlines()[:2]
    assert heading.startswith("  From 1 April 2031, spring to no date, ")
    assert line == (
        "    Larch: tightest radius about 6 m larger; largest lean about 3° less; exit tightened less often, "
        "5 of 6 laps before and 1 of 12 after; inside seam s more often, 1 of 6 laps before and 9 of 10 after."
    )
    assert re.search(r"Larch +Tove +5 of 6 +– +still so +turning in early \(2 of 3\)", text)
    assert re.search(r"40° ± 1° +5 of 6 +turning in early +s: ", text)
    assert "no date" in text


def test_a_season_is_told_in_feet_when_asked(answers):
    assert "198 ± 7 ft" in season_text(answers, units=Units.US)


def test_where_the_marker_line_is_inside_being_inside_is_no_fault(answers):
    ridden = replace(
        answers.ridden[0], seams=(SeamCalls("s", 6, 0, 0, False), SeamCalls("t", 5, 1, 0, False))
    )
    text = season_text(replace(answers, ridden=(ridden,)), units=Units.METRIC)
    assert (
        "s (the marker line is inside): inside 6 of 6; t (the marker line is inside): inside 5 of 6"
        in text
    )


def test_what_the_last_event_cannot_tell_is_not_said_to_be_over(answers):
    trouble = replace(answers.trouble[0], lately=None)
    text = season_text(replace(answers, trouble=(trouble,)), units=Units.METRIC)
    assert re.search(r"Larch +Tove +5 of 6 +– +cannot be told +turning in early", text)
    assert "no more" not in text
