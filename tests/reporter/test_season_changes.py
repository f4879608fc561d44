from dataclasses import replace

import pytest

from lapkit.reporter.season_changes import count_of, event_name, season_changes
from lapkit.reporter.season_terminal import season_text
from lapkit.season.answers import Answers, Changed, Event
from lapkit.units import Units


@pytest.mark.parametrize("many", [1, 3])
def test_without_a_name_few_changes_are_told_and_many_counted_by_event(answers, many):
    changes = answers.changes * many
    text = season_text(Answers(None, None, answers.events, (), changes, ()), units=Units.METRIC)
    counted = "".join(
        f"    {what} in {many}\n"
        for what in (
            "exit tightened: less often", "inside a seam: more often", "tightest radius: larger",
            "largest lean: less",
        )
    )  # fmt: skip
    assert (counted in text) is (many == 3)
    assert ("Tove, Larch: tightest radius about 6 m larger" in text) is (many == 1)
    assert "No corner stands out" in text


@pytest.mark.parametrize(
    ("seam", "told"),
    [("first seam", "the first seam"), ("Seam 2", "Seam 2"), ("A", "seam A")],
)
def test_a_seam_is_named_as_one_says_it(answers, seam, told):
    change = replace(answers.changes[-1], seam=seam)
    text = season_text(replace(answers, changes=(change,)), units=Units.METRIC)
    assert f"Larch: inside {told} more often" in text


def test_a_corner_asked_for_is_not_repeated_in_every_line(answers):
    text = season_text(replace(answers, rider=None, corner="Larch"), units=Units.METRIC)
    assert "\n    Tove: tightest radius" in text
    both = season_text(replace(answers, corner="Larch"), units=Units.METRIC)
    assert "\n    Larch: tightest radius" in both


@pytest.mark.parametrize(
    ("what", "before", "after", "told"),
    [
        (Changed.RADIUS, 60.0, 66.4, "tightest radius about 6 m larger"),
        (Changed.RADIUS, 66.4, 60.0, "tightest radius about 6 m smaller"),
        (Changed.LEAN, 40.0, 36.7, "largest lean about 3° less"),
        (Changed.LEAN, 36.7, 40.0, "largest lean about 3° more"),
        # One lap of six is a larger share than one of ten.
        (
            Changed.TIGHTENED,
            1,
            1,
            "exit tightened less often, 1 of 6 laps before and 1 of 10 after",
        ),
        (Changed.INSIDE, 1, 5, "inside seam s more often, 1 of 6 laps before and 5 of 10 after"),
    ],
)
def test_each_change_has_its_direction_in_a_word(answers, what, before, after, told):
    change = replace(
        answers.changes[-1], what=what, before=before, after=after, before_of=6, after_of=10
    )
    (between,) = season_changes(replace(answers, changes=(change,)), Units.METRIC)
    assert between.lines == (f"Larch: {told}.",)


def test_changes_are_told_pair_by_pair_of_events_and_counted_under_the_earlier(answers):
    later = replace(answers.changes[0], after_place=2, seen_place=3)
    events = (*answers.events, Event(3, "autumn", "2031-10-01", 1, 2))
    told = season_changes(
        replace(answers, events=events, changes=(later, answers.changes[1])), Units.METRIC
    )
    assert [between.title.partition(",")[0] for between in told] == [
        "From 1 April 2031",
        "From no date",
    ]
    many = Answers(None, None, events, (), (later,) * 11 + answers.changes, ())
    first, second = season_changes(many, Units.METRIC)
    assert first.title == "After 1 April 2031, spring, counted over riders and corners"
    assert second.lines == ("tightest radius: larger in 11",)


def test_an_event_goes_by_its_day(answers):
    assert event_name(answers.events[0]) == "1 April 2031, spring"
    assert event_name(replace(answers.events[0], day=None)) == "no date, spring"


def test_of_nothing_a_count_is_a_dash():
    assert count_of(3, 7) == "3 of 7"
    assert count_of(0, 0) == "–"
