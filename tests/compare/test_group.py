"""Who rides a corner unlike the rest of his group."""

import numpy as np
import pandas as pd
import pytest

from lapkit.compare.group import FEWEST_RIDERS, apart
from lapkit.compare.lap_values import LINE
from lapkit.compare.results import RunResult
from lapkit.compare.usual import BEND

RIDERS = ("Abel", "Bea", "Cato", "Dila", "Eskil", "Fenja")


def run_of(rider, usual, session="1", laps=6):
    """A run whose usual lap has a curvature at each corner."""
    rows = [
        {"rider": rider, "session": session, "corner": f"corner {i}", "marker": "",
         "measure": "exit_curvature_1pm", "laps": laps, "usual": each, "scatter_sd": 0.001, "shared_sd": 0.001}
        for i, each in enumerate(usual)
    ]  # fmt: skip
    return RunResult(rider, session, {"usual": pd.DataFrame(rows)}, ())


def ridden(rng, count=6, corners=6):
    return {
        r: (run_of(r, 0.02 * (1 + 0.05 * rng.standard_normal(corners))),) for r in RIDERS[:count]
    }


def test_who_rides_a_corner_unlike_his_group_is_named_there_only():
    runs = ridden(np.random.default_rng(0))
    runs["Cato"][0].tables["usual"].loc[2, "usual"] = 0.04
    beside = apart(runs, dict.fromkeys(RIDERS, "novice"))
    (found,) = [each for each in beside if each.found]
    assert (found.rider, found.at.corner, found.group) == ("Cato", "corner 2", "novice")
    assert found.others == pytest.approx(0.02, rel=0.1)


def test_nobody_is_apart_by_chance():
    groups = dict.fromkeys(RIDERS, "")
    said = [
        any(each.found for each in apart(ridden(np.random.default_rng(i)), groups))
        for i in range(100)
    ]
    # Anything at all in about 5 % of groups; standard error 2.2 %.
    assert np.mean(said) < 0.12


def test_p_is_that_of_a_new_observation():
    runs = {r: (run_of(r, [u]),) for r, u in zip(RIDERS, (0.01, 0.02, 0.03, 0.06), strict=False)}
    (dila,) = [each for each in apart(runs, {}) if each.rider == "Dila"]
    # Mean .02, standard deviation .01 of three: t = .04 / (.01 √(4/3)) = 3.4641 with 2 degrees (derived).
    assert dila.p == pytest.approx(0.0742, abs=1e-4)


@pytest.mark.parametrize(
    ("measure", "others", "own", "named"),
    [
        (BEND, 0.02, 0.0228, []),
        (BEND, 0.02, 0.0232, ["Cato"]),
        (LINE, 0.5, -0.45, []),
        (LINE, 0.5, -0.55, ["Cato"]),
    ],
)
def test_fifteen_per_cent_of_the_bend_and_a_metre_of_the_line_are_worth_a_word_however_sure(
    measure, others, own, named
):
    runs = {r: (run_of(r, [others * (1.0 + 0.001 * i)]),) for i, r in enumerate(RIDERS)}
    for (run,) in runs.values():
        run.tables["usual"]["measure"] = measure
    runs["Cato"][0].tables["usual"]["usual"] = own
    assert [each.rider for each in apart(runs, {}) if each.found] == named


def test_a_rider_of_a_single_lap_has_no_usual_one():
    runs = ridden(np.random.default_rng(3), count=4, corners=1)
    assert len(apart(runs, {})) == 4
    runs["Cato"] = (run_of("Cato", [0.02], laps=1),)
    assert apart(runs, {}) == []


def test_groups_are_not_held_against_each_other_and_few_have_no_yardstick():
    runs = ridden(np.random.default_rng(1))
    groups = {r: "a" if i < FEWEST_RIDERS else "b" for i, r in enumerate(RIDERS)}
    assert {each.rider for each in apart(runs, groups)} == set(RIDERS[:FEWEST_RIDERS])
    assert apart({}, {}) == []


def test_the_latest_run_counts():
    runs = ridden(np.random.default_rng(2))
    runs["Bea"] = (run_of("Bea", [0.2] * 6), *runs["Bea"])
    assert not any(each.found for each in apart(runs, dict.fromkeys(RIDERS, "")))


def test_a_cone_that_is_only_looked_at_sets_nobody_apart():
    runs = ridden(np.random.default_rng(0))
    for (run,) in runs.values():
        run.tables["usual"].loc[2, ["marker", "measure", "usual"]] = ["sight", LINE, 0.1]
    runs["Cato"][0].tables["usual"].loc[2, "usual"] = 4.0
    for cones, named in (([], ["Cato"]), ([("corner 2", "sight")], [])):
        beside = apart(runs, {}, looked_at=cones)
        assert [each.rider for each in beside if each.found] == named
