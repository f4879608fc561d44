import math

import pandas as pd
import pytest

from lapkit.compare.results import RunResult
from lapkit.reporter.laps_at_corner import laps_at_corners

CORNER = {
    "corner": "Hook", "time_s": 7.0, "entry_speed_mps": 30.0, "slowest_mps": 20.0, "exit_speed_mps": 28.0,
    "quality": "good", "radius_min_m": 41.0, "radius_min_lo_m": 40.0, "radius_min_hi_m": 42.0,
    "lean_max_deg": 44.0, "lean_max_lo_deg": 43.0, "lean_max_hi_deg": 45.0, "lean_on_line_deg": 40.0,
    "exit_radius_min_m": 51.0, "exit_radius_min_lo_m": 50.0, "exit_radius_min_hi_m": 52.0,
    "exit_lean_max_deg": 34.0, "exit_lean_max_lo_deg": 33.0, "exit_lean_max_hi_deg": 35.0,
    "exit_lean_on_line_deg": 30.0, "line_exit_radius_min_m": 60.0, "exit_radius_ratio": 0.85,
}  # fmt: skip
CONE = {
    "corner": "Hook", "marker": "exit", "gap_m": 0.8, "gap_lo_m": 0.5, "gap_hi_m": 1.1,
    "wide_of_line_m": -1.2, "wide_lo_m": -1.5, "wide_hi_m": -0.9, "lane": 2, "p_lane": 0.95,
}  # fmt: skip
SEAM = {"corner": "Hook", "seam": "seam 1", "call": "inside"}


def run(session, kinds, cone=CONE, corners=("Hook",)):
    """A run whose laps are numbered from 0, each through every corner."""
    laps = range(len(kinds))
    ridden = [{"lap": lap, "corner": corner} for lap in laps for corner in corners]
    tables = {
        "laps": pd.DataFrame({"lap": list(laps), "kind": list(kinds)}),
        "corners": pd.DataFrame([CORNER | at for at in ridden]),
        "markers": pd.DataFrame([cone | at for at in ridden]).astype({"lane": "Int64"}),
        "seams": pd.DataFrame([SEAM | at for at in ridden]),
    }
    return RunResult("Ada", session, tables, ())


def test_only_timed_laps_are_kept_run_by_run():
    runs = [run("1", ["out", "timed", "timed", "in"]), run("2", ["timed", "broken"])]
    laps = laps_at_corners(runs)["Hook"]
    assert [(lap.session, lap.lap) for lap in laps] == [("1", 1), ("1", 2), ("2", 0)]


def test_each_corner_has_its_own_laps():
    found = laps_at_corners([run("1", ["timed"], corners=("Hook", "Bus Stop"))])
    assert {corner: len(laps) for corner, laps in found.items()} == {"Hook": 1, "Bus Stop": 1}
    assert laps_at_corners([run("1", ["out"])]) == {}


def test_every_value_stands_where_its_column_says():
    (lap,) = laps_at_corners([run("1", ["timed"])])["Hook"]
    assert lap.whole.radius_min_m == (41.0, 40.0, 42.0)
    assert lap.whole.lean_max_deg == (44.0, 43.0, 45.0)
    assert lap.whole.lean_on_line_deg == 40.0
    assert lap.exit.radius_min_m == (51.0, 50.0, 52.0)
    assert lap.exit.lean_max_deg == (34.0, 33.0, 35.0)
    assert lap.exit.lean_on_line_deg == 30.0
    assert (lap.entry_speed_mps, lap.slowest_mps, lap.exit_speed_mps) == (30.0, 20.0, 28.0)
    assert (lap.time_s, lap.quality) == (7.0, "good")
    assert (lap.line_exit_radius_min_m, lap.exit_radius_ratio) == (60.0, 0.85)
    assert lap.seam_calls == {"seam 1": "inside"}
    cone = lap.cones["exit"]
    assert cone.gap_m == (0.8, 0.5, 1.1)
    assert cone.wide_of_line_m == (-1.2, -1.5, -0.9)
    assert (cone.lane, cone.p_lane) == (2.0, 0.95)


@pytest.mark.parametrize("missing", [None, pd.NA])
def test_a_lane_that_is_not_known_is_nan(missing):
    (lap,) = laps_at_corners([run("1", ["timed"], cone=CONE | {"lane": missing})])["Hook"]
    assert math.isnan(lap.cones["exit"].lane)
