"""What share of an exit lies inside a seam, and when a side is called."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lapkit.compare.results import RunOf, RunResult
from lapkit.compare.run import measure_run
from lapkit.compare.seams import calls, seam_calls, seam_columns, seam_rows
from lapkit.compare.standard import standards
from lapkit.course.course import CourseSeam
from lapkit.course.stations import StationLine


def seams(path, course):
    tables = measure_run(path, path.split(), course, RunOf("A", "1")).tables
    return tables["seams"].query("lap == 1").set_index("seam")


def crossing_seam(course, at_share):
    """The course with one seam that crosses the reference after that share of the exit phase."""
    corner = course.corners[0]
    cross = corner.last_apex_m + at_share * (corner.exit_m - corner.last_apex_m)
    # Inside of the path before the crossing (path outside), outside of it after.
    seam = CourseSeam("seam", np.array([cross - 60.0, cross + 60.0]), np.array([3.0, -3.0]))
    return replace(course, corners=(replace(corner, seams=(seam,)),))


@pytest.mark.parametrize("at_share", [0.2, 0.455, 0.8])
def test_inside_share_is_the_share_of_path_length(circle_path, round_course, at_share):
    path = circle_path(radius_m=60.0, com_m=0.0)
    row = seams(path, crossing_seam(round_course, at_share)).loc["seam"]
    assert row["inside_share"] == pytest.approx(1.0 - at_share, abs=2e-3)
    assert row["call"] == ("inside" if at_share < 0.5 else "outside")


@pytest.mark.parametrize("begins", ["turn_in_m", "exit_m"])
def test_a_seam_that_runs_beside_no_part_of_the_exit_has_no_share(
    circle_path, round_course, begins
):
    corner = round_course.corners[0]
    away = getattr(corner, begins) + np.array([1.0, 20.0])
    course = replace(
        round_course, corners=(replace(corner, seams=(CourseSeam("away", away, np.ones(2)),)),)
    )
    row = seams(circle_path(), course).loc["away"]
    assert np.isnan(row["inside_share"])
    assert np.isnan(row["p_inside"])
    assert row["call"] == "unclear"


def test_an_exit_of_no_length_has_no_share(round_course):
    # A log whose positions leap lets a rider be at the apex and at the exit at one place of the grid.
    station = np.arange(20.0)[None]
    leap = SimpleNamespace(
        corners=round_course.corners,
        corner_of=np.zeros(1, dtype=int),
        limits=np.array([[[2.0, 5.0, 5.0]]]),
        station_m=station,
        offset_m=station,
        sign=np.ones(1),
    )
    shares = seam_rows(leap)
    assert shares.shape == (1, 1, 2)
    assert np.isnan(shares).all()


def test_a_call_needs_nine_in_ten():
    words = calls(np.array([0.95, 0.9, 0.89, 0.5, 0.11, 0.1, np.nan]))
    assert words.tolist() == ["inside"] * 2 + ["unclear"] * 3 + ["outside", "unclear"]


@pytest.mark.parametrize(("sd_m", "away_m", "right"), [(1.0, 1.0, 0.841), (0.5, 1.0, 0.977)])
def test_probability_of_the_right_side_by_distance(circle_path, round_course, sd_m, away_m, right):
    # P(right side of a seam at distance d) = Φ(d/σ): 0.841 and 0.977 (derived).
    path = circle_path(radius_m=59.0 - away_m, com_m=0.0)
    draws = np.random.default_rng(0).normal(0.0, sd_m, 2000)
    path.wider_m = np.concatenate([[0.0], draws])
    row = seams(path, round_course).loc["first seam"]
    # Standard error of a share of 2000 draws is below 0.0082.
    assert row["p_inside"] == pytest.approx(right, abs=0.02)


def test_shares_of_draws_are_summed_up_by_their_middle():
    rows = np.array([0.9, 0.2, 0.6, 0.7]).reshape(4, 1, 1)
    found = seam_columns(rows)
    assert found["inside_share"][0, 0] == pytest.approx(0.6)
    assert found["p_inside"][0, 0] == pytest.approx(2 / 3)


def test_a_seam_that_the_line_itself_is_inside_of_is_not_counted(circle_path, round_course):
    path = circle_path(radius_m=58.0)
    table = measure_run(path, path.split(), round_course, RunOf("A", "1")).tables["seams"]
    # The line at 62 m runs outside of the seam at 59 m and inside of that at 63 m.
    assert set(table.loc[table["counted"], "seam"]) == {"first seam"}
    once = np.linspace(path.start_s, path.start_s + path.lap_s, 400)
    inner = StationLine.through(*path.mean_xy(once), True)
    tight = replace(round_course, marker_line=inner)
    assert standards(tight)["Long"].seams_to_mind == ()
    bare = replace(round_course, marker_line=None, marker_line_from="none")
    assert [s.name for s in standards(bare)["Long"].seams_to_mind] == ["first seam", "second seam"]


def test_calls_of_timed_laps_that_stayed_on_the_road_are_counted_over_all_runs():
    def run(session, calls, kinds, left_road):
        laps = pd.DataFrame({"lap": range(len(calls)), "kind": kinds})
        lines = laps.assign(corner="Larch", seam="A", call=calls, left_road=left_road)
        return RunResult("Bo", session, {"laps": laps, "corners": lines, "seams": lines}, ())

    runs = [
        run("1", ["inside", "inside", "unclear"], ["out", "timed", "timed"], np.nan),
        run("2", ["outside", "inside", "outside"], ["timed"] * 3, [0.0, 0.0, 1.0]),
    ]
    assert seam_calls(runs) == {("Larch", "A"): (2, 1, 1)}
    assert seam_calls(runs)["Larch", "A"].laps == 4
    assert seam_calls([]) == {}
