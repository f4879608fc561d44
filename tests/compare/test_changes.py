"""What changed from one run of a rider to another, and what may be said to have changed."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import ttest_ind

from lapkit.compare.changes import Changed, RunChanges
from lapkit.compare.results import RunResult

CORNERS = [f"corner {i}" for i in range(8)]


def run(
    session,
    rng,
    *,
    wide_m=None,
    radius_m=None,
    offset_m=(0.0, 0.0),
    shared_sd=0.4,
    own_sd=0.0,
    laps=6,
    kinds=None,
):
    """A run of laps scattering by 0.3 m and 2 % of radius about what is asked for, by corner."""
    wide_m, radius_m = wide_m or {}, radius_m or {}
    corners, markers, usual = [], [], []
    reach = 2.03 * np.hypot(shared_sd, own_sd)
    for name in CORNERS:
        for lap in range(1, laps + 1):
            scale = 1.0 + 0.02 * rng.standard_normal()
            corners.append(
                {"lap": lap, "corner": name, "exit_radius_min_m": radius_m.get(name, 50.0) * scale,
                 "lean_max_deg": 38.0 + rng.standard_normal(), "turn_in_early_m": rng.standard_normal(),
                 "left_road": 0.0}
            )  # fmt: skip
            for marker, turn in (("apex", 0.0), ("exit", 0.4)):
                angle = 0.8 * int(name[-1]) + turn
                way = np.array([np.cos(angle), np.sin(angle)])
                wide = wide_m.get(name, 0.0) + way @ offset_m + 0.3 * rng.standard_normal()
                markers.append(
                    {"lap": lap, "corner": name, "marker": marker, "kind": marker,
                     "wide_of_line_m": wide, "wide_lo_m": wide - reach, "wide_hi_m": wide + reach,
                     "wide_east": way[0], "wide_north": way[1]}
                )  # fmt: skip
        usual += [
            {"corner": name, "marker": m, "measure": "wide_of_line_m", "laps": laps,
             "usual": wide_m.get(name, 0.0), "scatter_sd": 0.3, "shared_sd": shared_sd}
            for m in ("apex", "exit")
        ]  # fmt: skip
    kinds = kinds or ["timed"] * laps
    tables = {
        "laps": pd.DataFrame({"lap": np.arange(1, laps + 1), "kind": kinds}),
        "corners": pd.DataFrame(corners),
        "markers": pd.DataFrame(markers),
        "usual": pd.DataFrame(usual),
    }
    return RunResult("Bea", session, tables, ())


def changes(before, after):
    """What changed from one run to another."""
    return as_table(RunChanges((before, after)).changes(0, 1).values())


def as_table(changed):
    return pd.DataFrame(changed, columns=list(Changed._fields))


def test_a_change_of_radius_is_found_with_its_interval():
    rng = np.random.default_rng(0)
    table = changes(run("1", rng), run("2", rng, radius_m={"corner 3": 57.5}))
    found = table[table["found"] & (table["measure"] == "exit_radius_min_m")]
    assert found["corner"].tolist() == ["corner 3"]
    row = found.iloc[0]
    assert row["change_lo"] < 7.5 < row["change_hi"]
    assert row["after"] - row["before"] == pytest.approx(row["change"])
    assert (row["session_before"], row["session_after"]) == ("1", "2")


def test_half_a_lane_of_line_is_found_beside_the_offset():
    rng = np.random.default_rng(1)
    table = changes(run("1", rng, wide_m={"corner 5": -2.0}), run("2", rng))
    found = table[table["found"] & (table["measure"] == "wide_of_line_m")]
    assert found["corner"].unique().tolist() == ["corner 5"]


def test_the_receivers_offset_is_no_change_of_line():
    # A metre and a half by compass, everywhere: two runs' offsets, not eight changed lines.
    rng = np.random.default_rng(2)
    offset = {"offset_m": (1.2, -0.9), "shared_sd": 0.8}
    line = changes(run("1", rng, shared_sd=0.8), run("2", rng, **offset))
    line = line.query("measure == 'wide_of_line_m'")
    assert not line["found"].any()
    assert line["change"].abs().max() < 0.7
    changed = changes(
        run("1", rng, shared_sd=0.8, wide_m={"corner 2": -1.5}), run("2", rng, **offset)
    ).query("measure == 'wide_of_line_m' and found")
    assert changed["corner"].unique().tolist() == ["corner 2"]


def test_with_one_cone_the_offset_stays_in_the_interval():
    rng = np.random.default_rng(3)
    runs = [run(name, rng, shared_sd=0.8) for name in ("1", "2")]
    for each in runs:
        rows = each.tables["markers"]
        each.tables["markers"] = rows.query("corner == 'corner 0' and marker == 'exit'")
    row = changes(*runs).query("measure == 'wide_of_line_m'").iloc[0]
    scatter = 1.0 * (row["change_hi"] - row["change_lo"]) / 2 / 1.96
    # 0.8 m of each run, and the laps' 0.3 m over six of each; that they agree says a little.
    assert 0.6 < scatter < np.hypot(0.8 * np.sqrt(2), 0.3 / np.sqrt(3)) * 1.02


def test_what_is_not_known_of_a_lap_alone_counts_as_scatter():
    def reach(own_sd):
        rng = np.random.default_rng(7)
        table = changes(*(run(name, rng, own_sd=own_sd) for name in ("1", "2")))
        return (table["change_hi"] - table["change_lo"]).groupby(table["measure"]).mean()

    sure, unsure = reach(0.0), reach(0.3)
    # 0.3 m of scatter seen and as much not seen: √2 of it, beside what is not known of the offset.
    assert unsure["wide_of_line_m"] / sure["wide_of_line_m"] == pytest.approx(1.4, abs=0.15)
    assert unsure["exit_radius_min_m"] == sure["exit_radius_min_m"]


def test_a_corner_ridden_evenly_by_chance_is_judged_by_the_others_too():
    rng = np.random.default_rng(8)
    runs = [run(name, rng) for name in ("1", "2")]
    laps = [radius * (1.0 + np.linspace(-0.009, 0.009, 6)) for radius in (50.0, 51.0)]
    for each, radius in zip(runs, laps, strict=True):
        corners = each.tables["corners"]
        corners.loc[corners["corner"] == "corner 3", "exit_radius_min_m"] = radius
    rows = changes(*runs).set_index(["corner", "measure"])
    # Twice as even as all others are: with their help the change is less sure than by itself.
    assert rows.loc[("corner 3", "exit_radius_min_m"), "p"] > 3.0 * ttest_ind(*laps).pvalue


def test_nothing_is_reported_where_nothing_changed():
    rng = np.random.default_rng(3)
    reported = [changes(run("1", rng), run("2", rng))["found"].any() for _ in range(100)]
    # Anything at all in 5 % of looks at most; standard error 2.2 %.
    assert np.mean(reported) < 0.1


def test_only_timed_laps_that_could_be_judged_count():
    rng = np.random.default_rng(4)
    before, after = run("1", rng), run("2", rng, kinds=["out", "timed", "broken", "in", "in", "in"])
    assert len(changes(before, after)) == 0
    after = run("2", rng)
    after.tables["corners"].loc[:, "exit_radius_min_m"] = np.nan
    assert "exit_radius_min_m" not in set(changes(before, after)["measure"])


def test_runs_are_compared_in_time_order_and_end_to_end():
    rng = np.random.default_rng(5)
    table = as_table(RunChanges([run(name, rng) for name in ("1", "2", "3")]).every())
    pairs = table[["session_before", "session_after"]].drop_duplicates().values.tolist()
    assert pairs == [["1", "2"], ["2", "3"], ["1", "3"]]
    two = RunChanges([run(name, rng) for name in ("1", "2")])
    assert two.every() == tuple(two.changes(0, 1).values())
    assert RunChanges([run("1", rng)]).every() == ()


def test_a_change_too_small_for_a_word_is_not_reported_however_sure():
    rng = np.random.default_rng(6)
    for size, said in ((1.03, False), (1.15, True)):
        radius = {"corner 3": 50.0 * size}
        table = changes(run("1", rng, laps=30), run("2", rng, laps=30, radius_m=radius))
        row = table.query("measure == 'exit_radius_min_m' and corner == 'corner 3'").iloc[0]
        assert row["p"] < 1e-4
        assert row["found"] == said


@pytest.mark.parametrize(
    ("table", "measure", "small", "enough"),
    [
        ("markers", "wide_of_line_m", 0.57, -0.63),
        ("corners", "turn_in_early_m", 1.9, -2.1),
        ("corners", "lean_max_deg", -1.9, 2.1),
    ],
)
def test_a_line_a_turn_in_and_a_lean_have_sizes_of_their_own_that_are_worth_a_word(
    table, measure, small, enough
):
    for size, said in ((small, False), (enough, True)):
        runs = [run(name, np.random.default_rng(10), laps=30) for name in ("1", "2")]
        rows = runs[1].tables[table]
        rows.loc[rows["corner"] == "corner 3", measure] += size
        there = changes(*runs).query("measure == @measure and corner == 'corner 3'")
        assert (there["p"] < 1e-3).all()
        assert there["found"].unique().tolist() == [said]


def test_a_corner_that_only_one_run_rode_and_a_single_lap_are_not_compared():
    rng = np.random.default_rng(11)
    whole, part = run("1", rng, laps=2), run("2", rng, laps=2)
    for name in ("corners", "markers", "usual"):
        part.tables[name] = part.tables[name].query("corner != 'corner 4'")
    for pair in ((whole, part), (part, whole)):
        assert set(changes(*pair)["corner"]) == {*CORNERS} - {"corner 4"}
    single = run("3", rng, laps=1)
    assert len(changes(single, whole)) == len(changes(whole, single)) == 0


def test_a_change_too_small_for_a_word_makes_no_other_easier_to_report():
    rng = np.random.default_rng(9)
    runs = [run("1", rng, laps=30), run("2", rng, laps=30)]
    corners = runs[1].tables["corners"]
    for name in CORNERS[:6]:
        corners.loc[corners["corner"] == name, "exit_radius_min_m"] *= 1.04
    # One corner scatters so widely that 10 % is hardly beyond chance.
    steps = np.linspace(-13.0, 13.0, 30)
    for each, radius in zip(runs, (50.0, 55.0), strict=True):
        rows = each.tables["corners"]
        rows.loc[rows["corner"] == "corner 7", "exit_radius_min_m"] = radius + steps
    table = changes(*runs).query("measure == 'exit_radius_min_m'").set_index("corner")
    assert (table["p"].iloc[:6] < 1e-4).all()
    assert 0.02 / 8 < table.loc["corner 7", "p"] < 0.02 * 7 / 8
    assert not table["found"].any()


def test_a_pair_of_runs_is_worked_out_once():
    rng = np.random.default_rng(8)
    between = RunChanges([run(name, rng) for name in ("1", "2", "3")])
    first_to_last = between.changes(0, 2)
    assert between.changes(0, 2) is first_to_last
    every = between.every()
    assert len(every) == sum(len(between.changes(*pair)) for pair in ((0, 1), (1, 2), (0, 2)))
