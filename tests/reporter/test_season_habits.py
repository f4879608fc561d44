from dataclasses import replace

import pytest

from lapkit.reporter.season_habits import season_habits
from lapkit.reporter.season_page import season_page
from lapkit.reporter.season_terminal import season_text
from lapkit.season.answers import Answers, Event, Fate, HabitChange
from lapkit.units import Units

EVENTS = tuple(
    Event(i, name, f"2031-0{i + 3}-01", 1, 2)
    for i, name in enumerate(("spring", "<summer>", "late"), 1)
)
EARLY, INSIDE = "turning in early", "inside the first seam at the exit"


@pytest.fixture
def answers():
    changes = (
        HabitChange("Ann", "Larch", 1, 2, EARLY, Fate.LEFT_OFF),
        HabitChange("Dora", "Larch", 1, 2, INSIDE, Fate.LEFT_OFF),
        HabitChange("Dora", "4", 1, 2, INSIDE, Fate.LEFT_OFF),
        HabitChange("Ann", "Anvil", 1, 2, EARLY, Fate.KEPT),
        HabitChange("Cy", "Larch", 2, 3, INSIDE, Fate.BEGUN),
    )
    return Answers(None, None, EVENTS, (), (), (), changes)


def test_what_became_of_habits_stands_under_its_own_head_event_by_event(answers):
    first, second = season_habits(answers)
    assert first.title == "From 1 April 2031, spring to 1 May 2031, <summer>"
    assert first.groups == (
        ("No longer told of", (f"Dora: {INSIDE} at Larch and Corner 4", f"Ann: {EARLY} at Larch")),
        ("Still told of", (f"Ann: {EARLY} at Anvil",)),
    )
    assert second.groups == (("New", (f"Cy: {INSIDE} at Larch",)),)


def test_who_or_what_was_asked_for_is_not_named_again(answers):
    (ann,) = season_habits(replace(answers, rider="Ann", habit_changes=answers.habit_changes[:1]))
    assert ann.groups == (("No longer told of", ("Turning in early at Larch",)),)
    (larch,) = season_habits(
        replace(answers, corner="Larch", habit_changes=answers.habit_changes[:1])
    )
    assert larch.groups == (("No longer told of", (f"Ann: {EARLY}",)),)


def test_of_very_many_those_of_most_corners_are_named_and_the_rest_counted(answers):
    many = tuple(
        HabitChange(f"R{i}", corner, 1, 2, EARLY, Fate.KEPT)
        for i in range(15)
        for corner in ("Larch", "Anvil")[: 2 if i == 14 else 1]
    )
    ((head, lines),) = season_habits(replace(answers, habit_changes=many))[0].groups
    assert (head, len(lines)) == ("Still told of", 13)
    assert lines[0] == f"R14: {EARLY} at Larch and Anvil"
    assert lines[-1].startswith("and 3 more")
    ((_, lines),) = season_habits(replace(answers, corner="Larch", habit_changes=many))[0].groups
    assert len(lines) == 15


def test_terminal_and_page_have_it_before_the_figures(answers):
    text, page = (show(answers, units=Units.METRIC) for show in (season_text, season_page))
    assert "    No longer told of\n      Dora: inside" in text
    assert text.index("What became of habits") < text.index("What changed")
    assert page.index('id="habits"') < page.index('id="changes"')
    assert "good news and no proof" in page and "&lt;summer&gt;" in page
    quiet = replace(answers, habit_changes=())
    assert "What became" not in season_text(quiet, units=Units.METRIC)
    assert 'id="habits"' not in season_page(quiet, units=Units.METRIC)
