"""How far before the marker line a rider begins to turn."""

from dataclasses import fields

import numpy as np
import pytest

from lapkit.compare.results import RunOf
from lapkit.compare.run import measure_run
from lapkit.compare.turn_in import _without_trend
from lapkit.course.stations import StationLine
from lapkit.path.draws import PathDraws

# Straight to 60 m, up to 1/40 at 90 m, level to 120 m, straight again at 160 m and on.
AT = np.array([0.0, 60.0, 90.0, 120.0, 160.0, 240.0])
BEND = np.array([0.0, 0.0, 0.025, 0.025, 0.0, 0.0])


def row_of(path, course):
    return measure_run(path, path.lap(), course, RunOf("A", "1")).corners.iloc[0]


def hurried(path):
    """The same path; draws are 0.02 s ahead on it, or as far behind."""
    at = path.at

    def rows(time_s, near_m=None):
        each = [at(time_s + by_s) for by_s in (0.0, 0.02, -0.02, 0.02, -0.02)]
        names = [field.name for field in fields(PathDraws) if field.name != "time_s"]
        joined = {name: np.concatenate([getattr(one, name) for one in each]) for name in names}
        return PathDraws(time_s=np.asarray(time_s), **joined)

    path.at = rows
    return path


@pytest.mark.parametrize("early_m", [-6.0, 0.0, 4.0, 8.0])
def test_turning_in_early_is_measured_in_metres(bent_path, early_m):
    asked, ridden = bent_path(AT, BEND), bent_path(AT - np.r_[0, np.full(4, early_m), 0], BEND)
    line = StationLine.through(*asked.place(np.arange(0.0, 240.0, 0.5)).T, False)
    row = row_of(ridden, asked.course(55.0, (105.0,), 170.0, line=line))
    # A lead in heading where the line has not begun to turn, or has stopped, cannot count: a sixth less.
    assert row["turn_in_early_m"] == pytest.approx(early_m, abs=0.17 * abs(early_m) + 0.05)


def test_rolling_in_more_smoothly_is_hardly_turning_in_early(bent_path):
    # 20 m more of rolling in about the same middle: less than a metre early.
    soft = np.array([0.0, 50.0, 100.0, 120.0, 160.0, 240.0])
    asked, ridden = bent_path(AT, BEND), bent_path(soft, BEND)
    line = StationLine.through(*asked.place(np.arange(0.0, 240.0, 0.5)).T, False)
    row = row_of(ridden, asked.course(55.0, (105.0,), 170.0, line=line))
    assert row["turn_in_early_m"] == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize("early_m", [-5.0, 0.0, 7.0])
def test_ahead_of_a_line_across_the_road_is_early_whatever_the_offset(bent_path, early_m):
    # A straight road; the line swings 6 m across it on the way to the apex, the rider is ahead of it by
    # so much and half a metre beside it.
    road = bent_path(np.array([0.0, 300.0]), np.zeros(2))
    at = np.arange(0.0, 300.0, 0.5)

    def across(station):
        return 3.0 * np.tanh((station - 130.0) / 12.0)

    class Ahead(type(road)):
        def __init__(self):
            self.start_s, self.end_s = 0.0, 15.0
            self.fix_time_s = np.arange(0.0, 15.0, 0.1)

        def mean_xy(self, time_s):
            x = 20.0 * np.asarray(time_s)
            return x, across(x + early_m) + 0.5

        def at(self, time_s, near_m=None):
            x, y = self.mean_xy(time_s)
            slope = (across(x + early_m + 0.01) - across(x + early_m - 0.01)) / 0.02
            bend = (
                across(x + early_m + 0.1) - 2 * across(x + early_m) + across(x + early_m - 0.1)
            ) / 0.01
            rows = (
                x,
                y,
                np.full_like(x, 20.0),
                20.0 * slope,
                np.zeros_like(x),
                400.0 * bend,
                0 * x,
            )
            return PathDraws(np.asarray(time_s), *(r[None] for r in rows), np.zeros((1, 1)))

        lap = road.lap

    line = StationLine.through(at, across(at), False)
    row = row_of(hurried(Ahead()), road.course(95.0, (165.0,), 220.0, line=line))
    assert row["turn_in_early_m"] == pytest.approx(early_m, abs=0.07 * abs(early_m) + 0.05)
    assert row["turn_in_early_hi_m"] - row["turn_in_early_lo_m"] < 0.7


def test_who_may_be_further_on_along_his_path_is_no_earlier(circle_path, round_course, measured):
    row = measured(hurried(circle_path()), round_course).corners.iloc[0]
    assert row["turn_in_early_hi_m"] - row["turn_in_early_lo_m"] < 0.1


def test_what_is_left_without_a_trend_has_neither_mean_nor_slope_in_its_part():
    along = np.linspace(50.0, 80.0, 31)[None]
    part = along < 70.0
    bump = np.square(along - 60.0)
    left = _without_trend(bump + 5.0 + 0.3 * along, along, part)
    assert left == pytest.approx(_without_trend(bump, along, part))
    assert np.sum(left) == pytest.approx(0.0, abs=1e-6)
    assert np.sum(left * along) == pytest.approx(0.0, abs=1e-6)
    assert np.all(left[~part] == 0.0) and np.ptp(left) > 50.0


def test_without_a_marker_line_nobody_is_early(bent_path):
    path = bent_path(AT, BEND)
    assert np.isnan(row_of(path, path.course(55.0, (105.0,), 170.0))["turn_in_early_m"])
