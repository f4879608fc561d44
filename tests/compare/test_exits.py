"""How often a rider's exits are called tightened, from the tables of his runs."""

import numpy as np
import pandas as pd
import pytest

from lapkit.compare import corners
from lapkit.compare.exits import ExitCalls, exit_calls
from lapkit.compare.quality import PassQuality
from lapkit.compare.results import RunResult

GOOD, POOR = str(PassQuality.GOOD), str(PassQuality.POOR)


def run_of(*laps, session="1"):
    """A run whose laps at one corner are each ``(kind, quality, p_tightened, tightened, lean added)``."""
    table = pd.DataFrame(np.nan, index=range(len(laps)), columns=list(corners.ALL_COLUMNS))
    table = table.astype({"corner": object, "quality": object})
    for i, (_, quality, p, called, added) in enumerate(laps):
        told = {"lap": i, "corner": "Larch", "quality": quality, "p_tightened": p}
        told |= {
            "tightened": called,
            "exit_lean_max_deg": 30.0 + added,
            "exit_lean_on_line_deg": 30.0,
        }
        for name, cell in told.items():
            table.loc[i, name] = cell
    table = table.astype({"lap": int})
    kinds = pd.DataFrame({"lap": range(len(laps)), "kind": [lap[0] for lap in laps]})
    return RunResult("Bo", session, {"corners": table, "laps": kinds}, ())


def test_all_runs_are_counted_timed_and_judged_laps_alone():
    first = run_of(
        ("out", GOOD, 1.0, 1.0, 9.0), ("timed", GOOD, 1.0, 1.0, 2.0), ("timed", POOR, 1.0, 1.0, 9.0)
    )
    second = run_of(
        ("timed", GOOD, 0.95, 0.0, -1.0), ("timed", GOOD, 0.2, 0.0, 0.0), ("timed", GOOD, 0.99, 1.0, 5.0),
        ("timed", GOOD, 0.9, 1.0, 11.0), session="2",
    )  # fmt: skip
    assert exit_calls([first, second]) == {"Larch": ExitCalls(5, 3, 4, pytest.approx(5.0))}


def test_a_lap_whose_exit_is_not_known_is_not_counted():
    calls = exit_calls(
        [run_of(("timed", GOOD, np.nan, np.nan, np.nan), ("timed", GOOD, 0.1, 0.0, 4.0))]
    )
    assert (calls["Larch"].laps, calls["Larch"].tightened) == (1, 0)
    assert np.isnan(calls["Larch"].lean_added_deg)


def test_a_corner_whose_exits_are_not_judged_is_left_out_however_tight_they_are():
    assert exit_calls([run_of(("timed", GOOD, 1.0, np.nan, 5.0))]) == {}


def test_a_corner_that_could_not_be_judged_is_left_out():
    assert exit_calls([run_of(("timed", POOR, 1.0, 1.0, 3.0), ("in", GOOD, 1.0, 1.0, 3.0))]) == {}
    assert exit_calls([run_of(("timed", GOOD, np.nan, np.nan, np.nan))]) == {}
