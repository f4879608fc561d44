"""The values of a run's timed laps, read from its tables."""

import numpy as np
import pandas as pd
import pytest

from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN, LapValues, RunValues
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import spread_of
from lapkit.path.summary import Summary

EXIT = MeasureAt("Larch", "exit", LINE)


@pytest.fixture
def run():
    """Three timed laps and an in-lap at one corner; the last timed lap could not be judged."""
    radius = [50.0, 52.0, np.nan, 80.0]
    wide = np.array([0.4, 0.8, np.nan, 5.0])
    corners = pd.DataFrame(
        {
            "lap": [1, 2, 3, 4],
            "corner": "Larch",
            RADIUS: radius,
            LEAN: radius,
            TURN_IN: radius,
            "left_road": 0.0,
        }
    )
    markers = pd.DataFrame(
        {"lap": [1, 2, 3, 4], "corner": "Larch", "marker": "exit", "kind": "exit", LINE: wide,
         "wide_lo_m": wide - 1.0, "wide_hi_m": wide + 1.0, "wide_east": 0.6, "wide_north": -0.8}
    )  # fmt: skip
    usual = pd.DataFrame(
        {"corner": ["Larch"], "marker": "exit", "measure": LINE, "laps": 2, "usual": 0.6,
         "scatter_sd": 0.3, "shared_sd": 0.4}
    )  # fmt: skip
    kinds = ["timed", "timed", "timed", "in"]
    laps = pd.DataFrame({"lap": [1, 2, 3, 4], "kind": kinds})
    tables = {"laps": laps, "corners": corners, "markers": markers, "usual": usual}
    return RunResult("Bo", "am", tables, ())


def test_only_timed_laps_with_a_value_count(run):
    values = RunValues.of(run)
    assert (values.rider, values.session) == ("Bo", "am")
    assert set(values.laps) == {EXIT, *(MeasureAt("Larch", "", m) for m in (RADIUS, LEAN, TURN_IN))}
    assert values.laps[MeasureAt("Larch", "", RADIUS)].values.tolist() == [50.0, 52.0]
    assert values.laps[EXIT].values.tolist() == [0.4, 0.8]


def test_a_lap_s_own_error_is_what_the_shared_one_leaves_of_its_interval(run):
    at_exit = RunValues.of(run).laps[EXIT]
    whole = float(spread_of(Summary(np.zeros(1), np.full(1, -1.0), np.ones(1)))[0])
    assert at_exit.shared_sd == 0.4
    assert at_exit.own_sd == pytest.approx(np.sqrt(whole**2 - 0.4**2))


def test_a_shared_error_larger_than_the_interval_leaves_none_of_its_own(run):
    run.tables["usual"]["shared_sd"] = 9.0
    assert RunValues.of(run).laps[EXIT].own_sd == 0.0


def test_a_marker_s_values_know_its_kind_and_which_way_is_outward(run):
    at_exit = RunValues.of(run).laps[EXIT]
    assert (at_exit.kind, at_exit.outward) == ("exit", (0.6, -0.8))


def test_without_the_table_usual_no_error_is_known_to_be_shared(run):
    del run.tables["usual"]
    assert RunValues.of(run).laps[EXIT].shared_sd == 0.0


def test_squares_are_about_the_mean():
    laps = LapValues(np.array([1.0, 2.0, 6.0]))
    assert (laps.mean, laps.squares) == (3.0, 14.0)


def test_a_lap_that_left_the_road_at_a_corner_counts_for_nothing_there(run):
    run.tables["corners"].loc[1, "left_road"] = 1.0
    values = RunValues.of(run).laps
    assert values[MeasureAt("Larch", "", RADIUS)].values.tolist() == [50.0]
    assert values[EXIT].values.tolist() == [0.4]
