"""What a rider usually does, pooled over his laps draw by draw."""

import numpy as np
import pandas as pd
import pytest

from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.usual import Usual, usual_columns, usual_of


def ensemble(shared_sd, own_sd, laps=6, draws=400, seed=0):
    """Rows of laps that share an error and have one each of their own; estimates scatter by 1."""
    rng = np.random.default_rng(seed)
    estimate = rng.normal(5.0, 1.0, laps)
    shared, own = rng.normal(0, shared_sd, (draws, 1)), rng.normal(0, own_sd, (draws, laps))
    return np.concatenate([estimate[None], estimate + shared + own])


def test_what_laps_share_stays_in_the_spread():
    pooled = usual_columns(ensemble(0.8, 0.0))
    assert pooled["shared_sd"] == pytest.approx(0.8, rel=0.1)


def test_what_each_lap_has_of_its_own_averages_out():
    pooled = usual_columns(ensemble(0.0, 0.8))
    assert pooled["shared_sd"] == pytest.approx(0.8 / np.sqrt(6), rel=0.1)


def test_mean_and_scatter_are_the_estimates():
    rows = ensemble(0.8, 0.8)
    pooled = usual_columns(rows)
    assert pooled["laps"] == 6
    assert pooled["usual"] == pytest.approx(rows[0].mean())
    assert pooled["scatter_sd"] == pytest.approx(rows[0].std(ddof=1))


def test_laps_without_a_value_are_left_out():
    rows = ensemble(0.1, 0.1)
    rows[3, 2] = np.nan
    others = np.delete(rows, 2, axis=1)
    pooled, alone = usual_columns(rows), usual_columns(others)
    assert pooled["laps"] == 5
    assert pooled == pytest.approx(alone)
    assert pooled["usual"] == pytest.approx(others[0].mean())
    nothing = usual_columns(rows[:, 2:3])
    assert nothing["laps"] == 0
    assert np.isnan(nothing["usual"])


def test_one_lap_has_no_scatter():
    pooled = usual_columns(ensemble(0.5, 0.0, laps=1))
    assert np.isnan(pooled["scatter_sd"])
    assert pooled["shared_sd"] == pytest.approx(0.5, rel=0.1)


def test_a_bias_of_all_draws_stays_however_many_laps_there_are():
    rows = ensemble(0.0, 0.1, laps=50)
    rows[1:] += 2.0
    assert usual_columns(rows)["shared_sd"] == pytest.approx(1.0, rel=0.05)


def test_what_a_rider_usually_does_is_known_less_well_the_more_his_laps_scatter():
    of_laps = [Usual(4, 40.0, 0.8, 0.3), Usual(16, 40.0, 0.8, 0.3), Usual(1, 40.0, np.nan, 0.3)]
    assert [usual.sd for usual in of_laps] == pytest.approx([0.5, np.hypot(0.3, 0.2), 0.3])


def test_the_table_is_read_back_by_measure_and_place():
    rows = [
        ("Larch", "", "lean_deg", 8, 41.0, 1.2, 0.3),
        ("Larch", "exit", "gap_m", 1, 2.0, np.nan, 0.4),
    ]
    columns = ["corner", "marker", "measure", "laps", "usual", "scatter_sd", "shared_sd"]
    run = RunResult("Bo", "1", {"usual": pd.DataFrame(rows, columns=columns)}, ())
    usual = usual_of(run)
    assert list(usual) == [MeasureAt(*row[:3]) for row in rows]
    lean, gap = usual.values()
    assert (lean.laps, lean.mean) == (8, 41.0)
    assert lean.sd == pytest.approx(np.sqrt(0.3**2 + 1.2**2 / 8))
    # One lap tells no scatter: what it shares with others is all that is known.
    assert gap.sd == pytest.approx(0.4)
    assert usual_of(RunResult("Bo", "1", {}, ())) == {}
