from __future__ import annotations

from dataclasses import asdict, replace

import pandas as pd
import pytest
from click.testing import CliRunner

from lapkit.cli.simulate import command
from lapkit.errors import OptionError
from lapkit.simulate.courses import built_in
from lapkit.simulate.event import habits
from lapkit.simulate.habit_words import read_habits, with_habits
from lapkit.simulate.invented_runs import Outline, invented_runs
from lapkit.simulate.receiver import Receiver
from lapkit.simulate.style import Habit

COURSE = built_in("sample")
RUNS = invented_runs(Outline(riders=3, sessions=2, laps=1, seed=1), Receiver())
RIDERS = ("Abel", "Bea", "Cato")


def told(*texts):
    return with_habits(RUNS, read_habits(texts, COURSE, RIDERS))


def at(runs, rider, corner):
    """What a rider does at a corner, the same in every session."""
    (habit,) = {run.style.habit_in(corner, 1) for run in runs if run.rider == rider}
    return habit


@pytest.mark.parametrize(
    ("words", "habit"),
    [
        ("tightens exit by 15 %", Habit(tighten_exit=0.15)),
        ("Tightens the exit by 7,5%", Habit(tighten_exit=0.075)),
        ("stays inside the seam", Habit(inside_seam_exit=True)),
        ("runs inside the first seam at the exit", Habit(inside_seam_exit=True)),
        ("turns in 8 m early", Habit(early_turn_in_m=8.0)),
        ("turns in 3.5 metres late", Habit(early_turn_in_m=-3.5)),
        ("passes apex 1.2 m wide", Habit(apex_wide_m=1.2)),
        ("passes the apexes 0.4 m inside", Habit(apex_wide_m=-0.4)),
        ("passes exit 1 m wide", Habit(exit_wide_m=1.0)),
        ("keeps to the line", Habit()),
        (
            "turns in 8 m early;  passes exit 1 m inside ;",
            Habit(early_turn_in_m=8.0, exit_wide_m=-1.0),
        ),
    ],
)
def test_a_habit_in_a_coach_s_words(words, habit):
    assert at(told(f"Larch: {words}"), "Abel", "Larch") == habit


def test_who_is_told_of_has_no_other_habit_and_the_rest_keep_theirs():
    runs = told("bea at larch: tightens exit by 15 %")
    assert at(runs, "Bea", "Larch") == Habit(tighten_exit=0.15)
    assert at(runs, "Bea", "Anvil") == Habit()
    for before, after in zip(RUNS, runs, strict=True):
        assert (after == before) == (after.rider != "Bea")


def test_a_corner_s_own_habit_comes_on_top_of_that_of_every_corner():
    runs = told(
        "Larch: passes apex 1 m wide",
        "every corner: turns in 5 m early",
        "Bea at Larch: tightens exit by 20 %",
        "Bea at Anvil: keeps to the line",
    )
    assert at(runs, "Abel", "Anvil") == Habit(early_turn_in_m=5.0)
    assert at(runs, "Abel", "Larch") == Habit(early_turn_in_m=5.0, apex_wide_m=1.0)
    assert at(runs, "Bea", "Larch") == Habit(early_turn_in_m=5.0, apex_wide_m=1.0, tighten_exit=0.2)
    assert at(runs, "Bea", "Anvil") == Habit()


def test_a_numbered_corner_may_be_named_as_pages_name_it():
    numbered = replace(COURSE, corners=(replace(COURSE.corners[0], name="7"), *COURSE.corners[1:]))
    for where in ("Bea at corner 7", "Bea at 7"):
        (habit,) = read_habits([f"{where}: passes exit 1 m wide"], numbered, RIDERS)
        assert (habit.rider, habit.corner) == ("Bea", "7")


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        ("Larch", "--habit has 'Larch'", "where and what"),
        ("Larch: ;", "--habit has", "where and what"),
        ("Larsh: keeps to the line", "no corner 'Larsh'", "'Larch'"),
        ("Bea at Larsh: keeps to the line", "no corner 'Larsh'", "'Larch'"),
        ("Bee at Larch: keeps to the line", "no rider 'Bee'", "'Bea'"),
        ("Bea: keeps to the line", "at which corner Bea does so", "'Bea at every corner: ...'"),
        ("Larch: pulls wheelies", "'pulls wheelies'", "tightens exit by 15 %"),
        ("Larch: turns in 80 m early", "'turns in 80 m early'", "up to 40 m"),
        ("Larch: passes apex 6 m wide", "'passes apex 6 m wide'", "up to 5 m"),
        ("Anvil: tightens exit by 60 %", "exit of Anvil cannot be tightened by 60 %", "up to 22 %"),
        ("every corner: tightens exit by 90 %", "by 90 %", "up to"),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(text, what, remedy):
    with pytest.raises(OptionError) as error:
        told(text)
    assert what in error.value.what
    assert remedy in error.value.remedy


def test_a_seam_to_stay_inside_of_must_be_there():
    corners = [replace(c, seams=()) if c.name == "Larch" else c for c in COURSE.corners]
    course = replace(COURSE, corners=tuple(corners))
    with pytest.raises(OptionError, match="Larch has no seam"):
        read_habits(["Larch: stays inside the seam"], course, RIDERS)
    (everywhere,) = read_habits(["every corner: stays inside the seam"], course, RIDERS)
    assert everywhere.fields == {"inside_seam_exit": True}


def test_a_course_without_corners_has_no_place_for_a_habit():
    straight_on = replace(COURSE, corners=())
    with pytest.raises(OptionError, match="no corner to have a habit at"):
        read_habits(["every corner: tightens exit by 15 %"], straight_on, RIDERS)
    assert read_habits([], straight_on, RIDERS) == []


def test_the_written_truth_carries_what_was_told():
    table = habits(told("Bea at Larch: tightens exit by 15 %; turns in 8 m early"))
    bea = table[table["rider"] == "Bea"]
    assert bea["corner"].tolist() == ["", "Larch"] * 2
    fields = list(asdict(Habit()))
    assert bea[bea["corner"] == ""][fields].to_dict("records") == [asdict(Habit())] * 2
    larch = asdict(Habit(tighten_exit=0.15, early_turn_in_m=8.0))
    assert bea[bea["corner"] == "Larch"][fields].to_dict("records") == [larch] * 2


def test_what_is_told_is_ridden(tmp_path):
    out = tmp_path / "event"
    words = ("--habit", "Larch: tightens exit by 25 %", "--habit", "Tannery: keeps to the line")
    given = ("--out", str(out), "--riders", "1", "--sessions", "1", "--laps", "3")
    done = CliRunner().invoke(command, ["sample", *given, *words])
    assert done.exit_code == 0, done.exception
    assert pd.read_csv(out / "truth_habits.csv")["tighten_exit"].tolist() == [0.0, 0.25, 0.0]
    corners = pd.read_csv(out / "truth_corners.csv").query("1 <= lap <= 3")
    ratio = corners.groupby("corner")["exit_radius_ratio"].median()
    assert ratio["Larch"] == pytest.approx(0.75, abs=0.09)
    assert ratio["Larch"] < ratio.drop("Larch").min() - 0.05
