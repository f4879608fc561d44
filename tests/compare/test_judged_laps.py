"""Records of laps read from tables, and which laps may be judged."""

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest

from lapkit.compare import corners, markers, seams
from lapkit.compare.judged_laps import ConeLaps, CornerLaps, Lines, SeamLaps, judged_lines
from lapkit.compare.results import RunResult
from lapkit.path.summary import Summary

KINDS = (
    ("corners", CornerLaps, corners.ALL_COLUMNS),
    ("markers", ConeLaps, markers.ALL_COLUMNS),
    ("seams", SeamLaps, seams.ALL_COLUMNS),
)


def run_of(table, columns, first, session="1"):
    """A run with three lines in a table, whose cells are numbers from ``first`` on, row by row."""
    cells = first + np.arange(3.0 * len(columns)).reshape(3, -1)
    return RunResult("Bo", session, {table: pd.DataFrame(cells, columns=list(columns))}, ())


@pytest.mark.parametrize(("table", "kind", "columns"), KINDS)
def test_an_attribute_is_the_column_of_its_name(table, kind, columns):
    run = run_of(table, columns, 0.0)
    laps = kind.read(Lines([run.tables[table]]))
    for field in fields(kind):
        own = getattr(laps, field.name)
        value = own.value if isinstance(own, Summary) else own
        np.testing.assert_array_equal(value, run.tables[table][field.name])


def test_an_interval_has_its_own_ends():
    run = run_of("markers", markers.ALL_COLUMNS, 0.0)
    table, laps = run.markers, ConeLaps.read(Lines([run.markers]))
    for measure, low, high in ((laps.gap_m, "gap_lo_m", "gap_hi_m"), (laps.wide_of_line_m, "wide_lo_m", "wide_hi_m")):  # fmt: skip
        np.testing.assert_array_equal(measure.lo, table[low])
        np.testing.assert_array_equal(measure.hi, table[high])


def test_the_lines_of_runs_follow_each_other_and_know_their_run():
    runs = [run_of("seams", seams.ALL_COLUMNS, first, str(first)) for first in (0.0, 100.0)]
    lines = Lines(run.seams for run in runs)
    assert [run for run, _ in lines.keys("lap")] == [0, 0, 0, 1, 1, 1]
    joined = pd.concat([run.tables["seams"]["p_inside"] for run in runs])
    np.testing.assert_array_equal(SeamLaps.read(lines).p_inside, joined)


def test_laps_are_taken_by_index_and_one_without_a_line_knows_nothing():
    run = run_of("markers", markers.ALL_COLUMNS, 1.0)
    every = ConeLaps.read(Lines([run.markers]))
    laps = every.of(np.array([2, -1, 0]))
    for own, whole in ((laps.lane, every.lane), (laps.gap_m.lo, every.gap_m.lo)):
        assert own[[0, 2]].tolist() == whole[[2, 0]].tolist()
        assert np.isnan(own[1])


def test_lean_is_held_against_the_line_s_at_the_same_speeds():
    run = run_of("corners", corners.ALL_COLUMNS, 0.0)
    table = run.tables["corners"].assign(
        lean_max_deg=[40.0, 41.0, np.nan],
        lean_on_line_deg=38.0,
        exit_lean_max_deg=[36.0, 35.0, 35.0],
        exit_lean_on_line_deg=35.5,
        tightened=[1.0, 0.0, np.nan],
    )
    laps = CornerLaps.read(Lines([table]))
    np.testing.assert_array_equal(laps.lean_added_deg, [2.0, 3.0, np.nan])
    np.testing.assert_array_equal(laps.exit_lean_added_deg, [0.5, -0.5, -0.5])
    assert laps.exit_called.tolist() == [True, False, False]


def test_a_tighter_radius_costs_lean_at_the_speed_of_its_place():
    run = run_of("corners", corners.ALL_COLUMNS, 0.0)
    table = run.tables["corners"].assign(
        exit_radius_min_m=[25.0, 50.0, np.nan],
        line_exit_radius_min_m=50.0,
        exit_tightest_speed_mps=15.0,
    )
    laps = CornerLaps.read(Lines([table]))
    # By hand: atan(15² / (9.80665 × 25)) is 42.544°, and with 50 m 24.649°.
    np.testing.assert_allclose(laps.exit_radius_cost_deg, [17.895, 0.0, np.nan], atol=1e-3)


@pytest.fixture
def two_runs():
    """Two runs through one corner: laps out, timed, timed and in; the corner's lines in another order."""

    def run(session, qualities, left_road):
        laps = pd.DataFrame({"lap": [0, 1, 2, 3], "kind": ["out", "timed", "timed", "in"]})
        lines = {"lap": [2, 1, 0, 3], "corner": "Birch", "quality": qualities}
        tables = {"laps": laps, "corners": pd.DataFrame({**lines, "left_road": left_road})}
        return RunResult("Bo", session, tables, ())

    return (
        run("1", ["fair", "poor", "good", "good"], np.nan),
        run("2", ["good", "good", "good", "good"], [1.0, 0.0, 0.0, 0.0]),
    )


def test_judged_are_timed_laps_on_the_road_that_are_not_poor(two_runs):
    assert judged_lines(two_runs) == {"Birch": {(0, 2): 0, (1, 1): 5}}


def test_laps_that_left_the_road_are_judged_too_where_they_are_asked_for(two_runs):
    assert judged_lines(two_runs, off_road=True) == {"Birch": {(0, 2): 0, (1, 2): 4, (1, 1): 5}}
