from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from lapkit.days import local_day
from lapkit.simulate.invented_runs import FIRST_RUN_S, SESSION_EVERY_S, Outline, invented_runs
from lapkit.simulate.receiver import Receiver
from lapkit.simulate.style import STYLES, Habit

OUTLINE = Outline(riders=30, sessions=4, laps=2, seed=3)
RUNS = invented_runs(OUTLINE, Receiver(), ".csv")


def of_rider(name):
    return [run for run in RUNS if run.rider == name]


def test_every_rider_has_his_runs_one_after_the_other():
    assert len(RUNS) == 30 * 4
    assert [run.session for run in of_rider("Abel")] == ["1", "2", "3", "4"]
    began = [run.start_s for run in of_rider("Abel")]
    assert began == [FIRST_RUN_S + i * SESSION_EVERY_S for i in range(4)]
    assert of_rider("Bea")[0].start_s - began[0] == 20.0  # they are let out one by one


def test_names_and_logs_are_distinct_when_there_are_more_riders_than_names():
    names = list(dict.fromkeys(run.rider for run in RUNS))
    assert len(names) == 30
    assert names[26] == "Abel 2"
    assert of_rider("Abel 2")[0].file == "logs/abel-2-1.csv"
    # "Abel", run 2 and "Abel 2", run 1 must not share a log.
    assert len({run.file for run in RUNS}) == len(RUNS)


def test_a_rider_keeps_his_style_and_every_second_one_drops_his_habit_half_way():
    names = list(dict.fromkeys(run.rider for run in RUNS))
    had_one = 0
    for number, name in enumerate(names):
        styles = [run.style for run in of_rider(name)]
        first = styles[0]
        assert all(replace(style, habit=first.habit) == first for style in styles)
        later = [style.habit for style in styles[2:]]
        assert later == ([first.habit] * 2 if number % 2 else [Habit()] * 2)
        assert styles[1].habit == first.habit
        had_one += number % 2 == 0 and first.habit != Habit()
    assert had_one > 3


def test_groups_are_named_by_style_and_lean_differs_within_one():
    for run in RUNS:
        assert abs(run.style.lean_deg - STYLES[run.group].lean_deg) <= 2.0
    assert len({run.style.lean_deg for run in RUNS}) == 30


def test_another_day_moves_the_runs_and_nothing_else():
    later = invented_runs(replace(OUTLINE, day=date(2031, 7, 12)), Receiver(), ".csv")
    assert {b.start_s - a.start_s for a, b in zip(RUNS, later, strict=True)} == {28 * 86400.0}
    assert [replace(run, start_s=0.0) for run in later] == [replace(r, start_s=0.0) for r in RUNS]


def test_wherever_the_course_lies_its_runs_begin_on_the_day_asked_for():
    for lon_deg, hours in ((175.0, -12), (-33.0, 2), (-118.0, 8), (180.0, -12), (-180.0, 12)):
        there = invented_runs(replace(OUTLINE, lon_deg=lon_deg), Receiver(), ".csv")
        assert there[0].start_s - RUNS[0].start_s == hours * 3600.0
        start = datetime.fromtimestamp(there[0].start_s, UTC).isoformat()
        assert local_day(start, lon_deg) == date(2031, 6, 14)


def test_the_seed_decides_who_rides_how():
    assert invented_runs(OUTLINE, Receiver(), ".csv") == RUNS
    other = invented_runs(replace(OUTLINE, seed=4), Receiver(), ".csv")
    assert [run.seed for run in other] != [run.seed for run in RUNS]
    assert [run.group for run in other] != [run.group for run in RUNS]
