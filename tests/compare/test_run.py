"""What is measured of a run: a circle's radius, lean, gaps and seams."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lapkit.compare import corners, run
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.units import GRAVITY_MPS2


def test_a_circle_has_its_radius_lean_and_times(result, ridden):
    rows = result.tables["corners"]
    angle, speed = np.radians(120.0), ridden.speed_mps
    row = rows[rows["lap"] == 2].iloc[0]
    assert row["time_s"] == pytest.approx(angle * 60.5 / speed, abs=1e-3)
    assert row["radius_min_m"] == pytest.approx(60.5, rel=1e-6)
    assert row["exit_radius_min_m"] == pytest.approx(60.5, rel=1e-6)
    assert row["line_exit_radius_min_m"] == pytest.approx(62.0, rel=1e-4)
    assert row["exit_radius_ratio"] == pytest.approx(60.5 / 62.0, rel=1e-4)
    assert row["lean_max_deg"] == pytest.approx(ridden.lean_deg, abs=1e-3)
    on_line = np.degrees(np.arctan(speed**2 / (62.0 * GRAVITY_MPS2)))
    assert row["lean_on_line_deg"] == pytest.approx(on_line, abs=2e-3)
    for name in ("entry_speed_mps", "slowest_mps", "exit_speed_mps"):
        assert row[name] == pytest.approx(speed)
    # Camber falls to −2° off camber at the apex: there the tyres are asked for most.
    grip = np.tan(np.radians(ridden.lean_deg + 2.0))
    assert row["grip_max"] == pytest.approx(grip, rel=0.01)
    assert row["grip_max"] < grip
    assert row["turn_in_early_m"] == pytest.approx(0.0, abs=0.02)
    assert row["p_tightened"] == 0.0
    assert row["quality"] == "good"


def test_places_count_metres_of_ridden_path_from_turn_in(result):
    rows = result.tables["corners"]
    length = np.radians(120.0) * 60.5
    assert rows["radius_min_at_m"].between(4.9, length - 4.9).all()
    apex = np.radians(50.0) * 60.5
    assert rows["exit_radius_at_m"].between(apex + 4.9, length - 4.9).all()


def test_gaps_to_cones_on_a_circle_are_known_from_its_radii(result, ridden):
    rows = result.tables["markers"]
    rows = rows[rows["lap"] == 1].set_index("marker")
    tyres = ridden.tyre_radius_m
    assert rows["gap_m"].to_dict() == pytest.approx(
        {"turn-in": 65.0 - tyres, "apex": tyres - 57.0, "exit": 65.0 - tyres}, abs=3e-3
    )
    assert rows["line_gap_m"].to_dict() == pytest.approx(
        {"turn-in": 3.0, "apex": 5.0, "exit": 3.0}, abs=2e-3
    )
    np.testing.assert_allclose(rows["wide_of_line_m"], tyres - 62.0, atol=2e-3)
    assert rows["lane"].tolist() == [2, 2, 2]
    assert rows["p_lane"].tolist() == [1.0, 1.0, 1.0]
    np.testing.assert_allclose(rows["radius_m"], 60.5, rtol=1e-6)
    np.testing.assert_allclose(rows["lean_deg"], ridden.lean_deg, atol=1e-3)
    assert rows.loc["apex", "lean_road_deg"] == pytest.approx(ridden.lean_deg + 2.0, abs=1e-3)
    assert rows.loc["exit", "lean_road_deg"] == pytest.approx(ridden.lean_deg, abs=1e-3)


def test_a_circle_between_two_seams_is_outside_the_inner_and_inside_the_outer_one(result):
    rows = result.tables["seams"]
    rows = rows[rows["lap"] == 1].set_index("seam")
    assert rows["call"].to_dict() == {"first seam": "outside", "second seam": "inside"}
    assert rows["inside_share"].to_dict() == {"first seam": 0.0, "second seam": 1.0}


def test_a_gap_in_the_corner_leaves_numbers_empty_rather_than_wrong(
    circle_path, round_course, measured
):
    path = circle_path(radius_m=60.5)
    start = path.split()[1].start_s
    within = start + np.radians([100.0, 140.0]) * 60.5 / path.speed_mps
    silent = (path.fix_time_s > within[0]) & (path.fix_time_s < within[1])
    path.fix_time_s = path.fix_time_s[~silent]
    tables = measured(path, round_course).tables
    row = tables["corners"].set_index("lap").loc[1]
    assert row["quality"] == "poor"
    assert row[list(corners.COLUMNS[5:-1])].isna().all()
    of_lap = tables["markers"].set_index("lap").loc[1]
    assert of_lap[["gap_m", "wide_of_line_m", "lane", "radius_m", "lean_deg"]].isna().all().all()
    assert tables["seams"].set_index("lap").loc[1, "call"].tolist() == ["unclear", "unclear"]
    assert tables["seams"].set_index("lap").loc[1, "p_inside"].isna().all()
    assert tables["corners"].set_index("lap").loc[2, "quality"] == "good"


def test_a_corner_that_was_not_ridden_has_empty_lines(circle_path, round_course):
    path = circle_path(laps=4.0)
    laps = list(path.split())
    # Told that a timed lap lies where no path was ridden.
    late = type(laps[1])(9, laps[1].kind, path.end_s, path.end_s + 20.0, 20.0, 0.1, 1.0, 0, 20.0)
    tables = measure_run(path, [*laps, late], round_course, RunOf("B", "1")).tables
    row = tables["corners"].set_index("lap").loc[9]
    assert (row["quality"], row["turn"]) == ("poor", "left")
    assert np.isnan(row["radius_min_m"])
    assert len(tables["markers"].query("lap == 9")) == 3
    assert tables["seams"].query("lap == 9")["call"].tolist() == ["unclear", "unclear"]


def test_what_hangs_on_a_marker_line_is_empty_without_one(ridden, round_course, measured):
    course = replace(round_course, marker_line=None, marker_line_from="none")
    tables = measured(ridden, course).tables
    row = tables["corners"].iloc[0]
    nothing = ["line_exit_radius_min_m", "exit_radius_ratio", "p_tightened", "lean_on_line_deg"]
    assert row[nothing].isna().all()
    assert row["radius_min_m"] == pytest.approx(60.5, rel=1e-6)
    marker = tables["markers"].iloc[0]
    assert np.isnan(marker["wide_of_line_m"])
    assert marker["gap_m"] == pytest.approx(65.0 - ridden.tyre_radius_m, abs=3e-3)


def test_intervals_come_from_the_draws(circle_path, round_course, measured):
    rng = np.random.default_rng(4)
    shifts = np.concatenate([np.zeros((1, 2)), rng.normal(0.0, 0.8, (48, 2))])
    tables = measured(circle_path(shifts_m=shifts), round_course).tables
    apex = tables["markers"].query("marker == 'apex'")
    # At the apex a shift widens by its part outward: 110° round the circle.
    out = shifts[1:] @ [np.cos(np.radians(110.0)), np.sin(np.radians(110.0))]
    width = (apex["gap_hi_m"] - apex["gap_lo_m"]).to_numpy()
    np.testing.assert_allclose(width, 2 * 2.0322 * np.std(out, ddof=1), rtol=0.03)
    # A shift of the whole path leaves radius and lean alone.
    row = tables["corners"].iloc[0]
    assert row["radius_min_hi_m"] - row["radius_min_lo_m"] < 0.01


def test_seams_are_called_only_when_sure(circle_path, round_course, measured):
    # Tyres at 59.0 m on the first seam: every other draw is inside.
    path = circle_path(radius_m=59.0, com_m=0.0)
    path.wider_m = np.concatenate([[0.0], np.tile([-0.3, 0.3], 24)])
    seam = measured(path, round_course).tables["seams"].query("seam == 'first seam'")
    assert seam["p_inside"].tolist() == [0.5] * 4
    assert set(seam["call"]) == {"unclear"}


def test_p_tightened_follows_the_draws(circle_path, round_course, measured):
    # 0.9 of the marker line's 62 m is 55.8 m: the estimate of 56.2 m lies one standard deviation of the draws above it.
    path = circle_path(radius_m=56.2, com_m=0.0)
    wider = np.linspace(-0.7, 0.7, 49)
    path.wider_m = np.concatenate([[0.0], wider])
    row = measured(path, round_course).tables["corners"].iloc[0]
    # A standard deviation of 0.4123 m: Student's distribution has 0.168 beyond 0.970 of them.
    assert row["p_tightened"] == pytest.approx(0.168, abs=0.003)


def test_corners_measured_together_are_measured_as_if_alone(
    circle_path, round_course, monkeypatch, measured
):
    # Another corner, shorter and with fewer cones and seams, across the start line.
    long = round_course.corners[0]
    length = round_course.reference.length_m
    short = replace(
        long,
        name="Short",
        turn_in_m=length - 40.0,
        apexes_m=(length - 10.0,),
        exit_m=length + 25.0,
        markers=(replace(long.markers[1], station_m=length - 10.0),),
        seams=long.seams[:1],
    )
    course = replace(round_course, corners=(long, short))
    rng = np.random.default_rng(4)
    path = circle_path(radius_m=60.5, wider_m=np.concatenate([[0.0], rng.normal(0.0, 0.5, 20)]))
    together = measured(path, course)
    monkeypatch.setattr(run, "_MOST_POINTS", 1)
    alone = measured(path, course)
    assert together.tables["corners"]["corner"].tolist()[:2] == ["Long", "Short"]
    for name, table in together.tables.items():
        pd.testing.assert_frame_equal(table, alone.tables[name])
    assert len(together.traces) == len(alone.traces) > 0
    for one, other in zip(together.traces, alone.traces, strict=True):
        assert (one.lap, one.corner) == (other.lap, other.corner)
        np.testing.assert_allclose(one.offset_sd_m, other.offset_sd_m)


def test_corners_are_measured_together_up_to_so_many_points():
    rides = [
        SimpleNamespace(laps=range(laps), points=points)
        for laps, points in ((10, 200), (10, 250), (0, 400), (10, 100), (10, 600), (1, 50))
    ]
    batches = [[rides.index(each) for each in batch] for batch in run._batches(rides)]
    assert batches == [[0, 1], [3], [4], [5]]
