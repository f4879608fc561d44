import pytest

from lapkit.season.answers import Fate, HabitChange
from lapkit.season.habit_changes import Attended, habit_changes
from lapkit.season.questions import ask
from lapkit.season.results import read_results
from lapkit.season.store import add_event

DAYS = ("2031-04-01", "2031-06-01", "2031-09-01")


def attended(*events, corner="Larch", rider="Tove", laps=6):
    return [Attended("c", corner, rider, place, 10 * place, laps) for place in events]


@pytest.mark.parametrize(
    ("was", "now", "fates"),
    [
        (["early"], ["early"], [("early", Fate.KEPT)]),
        (["early"], [], [("early", Fate.LEFT_OFF)]),
        ([], ["early"], [("early", Fate.BEGUN)]),
        ([], [], []),
        # Another leads, and what led is told beside it: it is no habit left off, nor is the other one new.
        (["early", "tight"], ["tight", "early"], [("early", Fate.KEPT)]),
        (["early"], ["tight", "lean"], [("early", Fate.LEFT_OFF), ("tight", Fate.BEGUN)]),
    ],
)
def test_what_led_is_followed_and_what_leads_is_new_where_it_was_not_told(was, now, fates):
    told = {(10, "Larch", "Tove"): was, (20, "Larch", "Tove"): now}
    found = list(habit_changes(attended(1, 2), told, fewest=5))
    assert [(each.what, each.fate) for each in found] == fates
    assert {(e.rider, e.corner, e.after_place, e.seen_place) for e in found} <= {
        ("Tove", "Larch", 1, 2)
    }


def test_too_few_laps_at_either_event_say_nothing():
    told = {(10, "Larch", "Tove"): ["early"]}
    for laps, said in (((6, 4), 0), ((4, 6), 0), ((5, 5), 1)):
        events = [
            Attended("c", "Larch", "Tove", i + 1, 10 * (i + 1), n) for i, n in enumerate(laps)
        ]
        assert len(list(habit_changes(events, told, fewest=5))) == said


def test_an_event_missed_is_passed_over_and_riders_and_corners_kept_apart():
    events = [*attended(1, 3), *attended(4, rider="Iska"), *attended(5, corner="Anvil")]
    told = {(10, "Larch", "Tove"): ["early"], (40, "Larch", "Iska"): ["early"]}
    (only,) = habit_changes(events, told, fewest=5)
    assert only == HabitChange("Tove", "Larch", 1, 3, "early", Fate.LEFT_OFF)


def test_a_season_tells_it_for_whom_or_what_was_asked(season, event):
    early = ("Tove", "Larch", "turning in early", "work", True, 6, 6)
    tight = ("Iska", "Anvil", "an exit that tightens", "work", True, 6, 6)
    for i, (day, told) in enumerate(zip(DAYS, ((early,), (early, tight), (tight,)), strict=True)):
        riders = {"Tove": (50.0, 30.0, 0, 0), "Iska": (50.0, 30.0, 0, 0)}
        add_event(season, read_results(event(f"day {i}", day, riders, told=told)))
    every = [(c.rider, c.after_place, c.fate) for c in ask(season).habit_changes]
    assert every == [
        ("Tove", 1, Fate.KEPT), ("Iska", 1, Fate.BEGUN), ("Tove", 2, Fate.LEFT_OFF), ("Iska", 2, Fate.KEPT),
    ]  # fmt: skip
    assert {c.rider for c in ask(season, rider="Iska").habit_changes} == {"Iska"}
    assert {c.corner for c in ask(season, corner="Larch").habit_changes} == {"Larch"}
