"""Radius, lean, drive and the exit's calls at a corner, on bends whose curvature is known at every metre."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.compare.corners import _drive, tightened
from lapkit.compare.grid import STEP_M, Grid
from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn
from lapkit.units import GRAVITY_MPS2

# Straight to 60 m, up to 1/40 at 90 m, level to 120 m, straight again at 160 m and on.
AT = np.array([0.0, 60.0, 90.0, 120.0, 160.0, 240.0])
BEND = np.array([0.0, 0.0, 0.025, 0.025, 0.0, 0.0])


def row_of(path, course):
    tables = measure_run(path, path.lap(), course, RunOf("A", "1")).tables
    return tables["corners"].iloc[0]


def held(at_m, bend, start):
    """Mean curvature over the 10 m from start, by the integral of straight pieces."""
    s = np.linspace(start, start + 10.0, 100_001)
    return np.trapezoid(np.interp(s, at_m, bend), s) / 10.0


def test_tightest_radius_is_held_over_ten_metres(bent_path):
    # A peak of 1/30 between straights: over the 10 m about it the mean is 1/33.3.
    at, bend = np.array([0.0, 70.0, 95.0, 120.0, 200.0]), np.array([0.0, 0.0, 1 / 30, 0.0, 0.0])
    path = bent_path(at, bend)
    row = row_of(path, path.course(60.3, (95.2,), 130.7))
    assert 1 / row["radius_min_m"] == pytest.approx(held(at, bend, 90.0), rel=2e-3)
    assert row["radius_min_at_m"] == pytest.approx(95.0 - 60.3, abs=0.6)


@pytest.mark.parametrize("apex_m", [119.5, 126.37, 133.8])
def test_the_exit_phase_begins_at_the_last_apex_and_not_at_a_grid_point(bent_path, apex_m):
    path = bent_path(AT, BEND)
    row = row_of(path, path.course(62.0, (80.0, apex_m), 158.2))
    # Curvature falls along the exit: tightest over the first 10 m after the apex.
    assert 1 / row["exit_radius_min_m"] == pytest.approx(held(AT, BEND, apex_m), rel=4e-3)
    assert row["exit_radius_at_m"] == pytest.approx(apex_m + 5.0 - 62.0, abs=0.3)
    assert row["exit_tightest_after_apex_m"] == pytest.approx(5.0, abs=0.3)
    assert 1 / row["apex_radius_m"] == pytest.approx(held(AT, BEND, apex_m - 5.0), rel=4e-3)


def test_an_exit_shorter_than_ten_metres_is_taken_whole(bent_path):
    path = bent_path(AT, BEND)
    row = row_of(path, path.course(62.0, (130.0,), 136.0))
    assert 1 / row["exit_radius_min_m"] == pytest.approx(0.025 * (160.0 - 133.0) / 40.0, rel=5e-3)


def test_only_the_corners_own_way_of_turning_counts(bent_path):
    # Left and then harder right inside one right-hander: its tightest is the right's.
    at = np.array([0.0, 50.0, 70.0, 90.0, 110.0, 150.0, 190.0, 260.0])
    bend = np.array([0.0, 0.0, 0.03, 0.0, -0.02, -0.02, 0.0, 0.0])
    path = bent_path(at, bend)
    row = row_of(path, path.course(45.0, (130.0,), 185.0, turn=Turn.RIGHT))
    assert 1 / row["radius_min_m"] == pytest.approx(0.02, rel=1e-3)
    lean = np.degrees(np.arctan(path.speed_mps**2 * 0.02 / GRAVITY_MPS2))
    assert row["lean_max_deg"] == pytest.approx(lean, rel=1e-3)


def test_a_corner_ridden_straight_has_a_straights_radius(bent_path):
    path = bent_path(np.array([0.0, 200.0]), np.zeros(2))
    row = row_of(path, path.course(60.0, (90.0,), 130.0))
    assert row["radius_min_m"] == 2000.0
    assert row["lean_max_deg"] == pytest.approx(0.0, abs=1e-6)


def test_an_exit_is_called_tightened_when_it_is_sure_clear_and_asks_for_lean():
    nothing = float("nan")
    p = np.array([1.0, 0.89, 1.0, 1.0, 1.0, 0.89, nothing])
    ratio = np.array([0.8, 0.8, 0.88, 0.8, 0.6, 0.6, nothing])
    added = np.array([0.8, 3.0, 3.0, 0.7, 0.5, 0.5, nothing])
    called = tightened(p, ratio, added)
    np.testing.assert_equal(called, [1.0, 0.0, 0.0, 0.0, 1.0, 0.0, nothing])


def test_an_exit_pulled_tight_after_the_apex_is_measured_and_placed(bent_path):
    # The line keeps 1/40 up to 120 m; the rider opens to 1/60 at the apex and pulls to 1/30 after it.
    line_path = bent_path(AT, BEND)
    line = StationLine.through(*line_path.place(np.arange(0.0, 240.0, 0.5)).T, False)
    at = np.array([0.0, 60.0, 85.0, 105.0, 125.0, 140.0, 165.0, 240.0])
    bend = np.array([0.0, 0.0, 1 / 60, 1 / 60, 1 / 30, 1 / 30, 0.0, 0.0])
    ridden = bent_path(at, bend)
    row = row_of(ridden, line_path.course(55.0, (105.0,), 170.0, line=line))
    assert row["exit_radius_ratio"] == pytest.approx(30 / 40, rel=0.01)
    assert row["p_tightened"] == 1.0
    assert row["tightened"] == 1.0
    # Curvature held over 10 m passes 1/40 where its middle does: halfway from 105 to 125 m.
    assert row["exit_tightens_after_apex_m"] == pytest.approx(10.0, abs=1.6)
    added = np.degrees(np.arctan(400 / (30 * GRAVITY_MPS2)) - np.arctan(400 / (40 * GRAVITY_MPS2)))
    assert row["exit_lean_max_deg"] - row["exit_lean_on_line_deg"] == pytest.approx(added, abs=0.1)


def test_an_exit_ridden_tighter_and_so_slowly_that_it_asks_for_no_lean_is_not_called(bent_path):
    line_path = bent_path(AT, BEND)
    line = StationLine.through(*line_path.place(np.arange(0.0, 240.0, 0.5)).T, False)
    at = np.array([0.0, 60.0, 85.0, 105.0, 125.0, 140.0, 165.0, 240.0])
    bend = np.array([0.0, 0.0, 1 / 60, 1 / 60, 1 / 30, 1 / 30, 0.0, 0.0])
    course = line_path.course(55.0, (105.0,), 170.0, line=line)
    row = row_of(bent_path(at, bend, speed_mps=3.0), course)
    assert (row["p_tightened"], row["tightened"]) == (1.0, 0.0)


@pytest.mark.parametrize(("bend_at_140_m", "after_m"), [(1 / 90, np.nan), (1 / 45, 15.1)])
def test_where_an_exit_tightens_is_looked_for_from_the_apex_to_the_exit_alone(
    bent_path, bend_at_140_m, after_m
):
    # Tight on the way in and beyond the exit at 150 m; at the apex 1/60, which 1/45 at 140 m goes beyond.
    at = np.array([0.0, 40.0, 60.0, 75.0, 95.0, 115.0, 140.0, 150.0, 170.0, 180.0, 200.0, 240.0])
    bend = np.array([0.0, 0.0, 30.0, 30.0, 55.0, 65.0, 0.0, 90.0, 30.0, 30.0, 0.0, 0.0])
    bend[bend > 0.0] = 1.0 / bend[bend > 0.0]
    bend[6] = bend_at_140_m
    path = bent_path(at, bend)
    row = row_of(path, path.course(45.0, (105.0,), 150.0))
    assert row["exit_tightens_after_apex_m"] == pytest.approx(after_m, abs=1.0, nan_ok=True)


def test_drive_and_brakes_are_the_hardest_of_each_pass_alone():
    """Two passes, the second much faster than the first: from one to the other is no drive."""
    accelerations = (np.repeat([2.0, -3.0], [20, 20]), np.repeat([-1.0, 0.5], [25, 15]))
    start_mps = (20.0, 45.0)
    squared = [
        start**2 + 2.0 * STEP_M * np.concatenate([[0.0], np.cumsum(along)])
        for start, along in zip(start_mps, accelerations, strict=True)
    ]
    speed = np.sqrt(np.concatenate(squared))
    passes = SimpleNamespace(
        speed_mps=speed[None],
        distance_m=STEP_M * np.arange(len(speed))[None],
        grid=Grid.of([len(each) for each in squared]),
    )
    found = _drive(passes)
    assert found["drive_max_mps2"] == pytest.approx([2.0, 0.5])
    assert found["brake_max_mps2"] == pytest.approx([3.0, 1.0])
