"""Where nothing could be judged, that is told instead of nothing being wrong."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.results import RunResult
from lapkit.course.stations import StationLine
from lapkit.findings import find, untold, worth_a_look
from lapkit.findings.untold import NO_CORNER, NO_LAP, NO_LINE, TOO_COARSE, TOO_FEW


def with_column(result, table, column, value, where=None):
    """The run with one column of a table changed, in the lines chosen."""
    changed = result.tables[table].copy()
    changed.loc[slice(None) if where is None else where(changed), column] = value
    tables = {**result.tables, table: changed}
    return RunResult(result.rider, result.session, tables, ())


def test_a_rider_who_was_measured_can_be_told(run, course):
    assert untold([run().result()], course) == ""
    assert untold([run().result()], course, "Birch") == ""


def test_without_a_timed_lap_nothing_can(run, course):
    broken = with_column(run().result(), "laps", "kind", "broken")
    assert untold([broken], course) == NO_LAP
    assert untold([broken, run().result()], course) == ""


def test_a_coarse_log_tells_nothing(run, course):
    coarse = with_column(run().result(), "corners", "quality", "poor")
    assert untold([coarse], course) == TOO_COARSE


def test_a_course_without_corners_is_no_fault_of_the_log(run, course):
    of_run = run().result()
    assert untold([of_run], replace(course, corners=())) == NO_CORNER


def test_one_corner_may_be_untold_where_others_are(run, course):
    of_barn = with_column(
        run().result(), "corners", "quality", "poor", lambda t: t["corner"] == "Barn"
    )
    assert untold([of_barn], course, "Barn") == TOO_COARSE
    assert untold([of_barn], course, "Birch") == ""
    assert untold([of_barn], course) == ""


@pytest.mark.parametrize("corner", ["", "Quarry"])
def test_without_a_marker_line_there_is_nothing_to_hold_against(run, course, corner):
    bare = replace(course, marker_line=None, marker_line_from="none")
    assert untold([run().result()], bare, corner) == NO_LINE


def test_a_line_drawn_past_some_corners_is_enough_to_tell_of_a_rider(run, course):
    angle = np.linspace(0.1, 3.5, 400)  # past Birch and Quarry, 80 m to the radian
    part = StationLine.through(82.0 * np.cos(angle), 82.0 * np.sin(angle), False)
    drawn = replace(course, marker_line=part)
    of_run = run().result()
    assert [untold([of_run], drawn, name) for name in ("Quarry", "Barn", "")] == ["", NO_LINE, ""]


@pytest.mark.parametrize(("kept", "why"), [(1, TOO_FEW), (2, TOO_FEW), (3, "")])
def test_a_lap_or_two_do_not_show_that_nothing_is_wrong(run, course, kept, why):
    of_run = run().result()
    first = of_run.tables["laps"]["lap"][of_run.tables["laps"]["kind"] == "timed"][:kept]
    short = with_column(of_run, "laps", "kind", "broken", lambda t: ~t["lap"].isin(first))
    assert untold([short], course) == untold([short], course, "Barn") == why


def test_of_too_few_laps_a_tight_exit_is_worth_a_look(run, course, tight):
    assert worth_a_look(find([run(laps=1).result()], course)) == ""
    once = find([run(laps=1).corner("Barn", **tight).result()], course)
    assert worth_a_look(once) == (
        "The exit at Barn was tighter than the marker line’s, though: worth a look."
    )
    twice = find([run(laps=2).corner("Barn", **tight).corner("Weir", **tight).result()], course)
    assert worth_a_look(twice).startswith("The exits at Weir and Barn were tighter")
