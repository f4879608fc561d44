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


def beside(road, offset_at):
    """A ride at 20 m/s along a straight road to the east, at an offset to its left that is known by station, metres."""

    class Beside(type(road)):
        lap = road.lap

        def __init__(self):
            self.start_s, self.end_s = 0.0, 15.0
            self.fix_time_s = np.arange(0.0, 15.0, 0.1)

        def mean_xy(self, time_s):
            x = 20.0 * np.asarray(time_s)
            return x, offset_at(x)

        def at(self, time_s, near_m=None):
            x, y = self.mean_xy(time_s)
            slope = (offset_at(x + 0.01) - offset_at(x - 0.01)) / 0.02
            bend = (offset_at(x + 0.1) - 2 * y + offset_at(x - 0.1)) / 0.01
            none = np.zeros_like(x)
            rows = (x, y, none + 20.0, 20.0 * slope, none, 400.0 * bend, none)
            return PathDraws(np.asarray(time_s), *(r[None] for r in rows), np.zeros((1, 1)))

    return Beside()


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

    ahead = beside(road, lambda x: across(x + early_m) + 0.5)
    line = StationLine.through(at, across(at), False)
    row = row_of(hurried(ahead), road.course(95.0, (165.0,), 220.0, line=line))
    assert row["turn_in_early_m"] == pytest.approx(early_m, abs=0.07 * abs(early_m) + 0.05)
    assert row["turn_in_early_hi_m"] - row["turn_in_early_lo_m"] < 0.7


@pytest.mark.parametrize("wide_m", [3.3, -3.3])
def test_coming_from_another_side_of_the_road_is_not_turning_in_early_or_late(bent_path, wide_m):
    # The line swings out to turn-in at 105 m and in again. The rider comes from further out (in) and meets it in a
    # curve that bends less (more), but he begins to turn no earlier (later). The distance alone says 7 m.
    road = bent_path(np.array([0.0, 300.0]), np.zeros(2))
    at = np.arange(0.0, 300.0, 0.5)

    def asked(station):
        return -4.0 * np.cos(2.0 * np.pi * (station - 105.0) / 160.0)

    def ridden(station):
        return asked(station) - wide_m * np.square(np.clip((125.0 - station) / 60.0, 0.0, None))

    course = road.course(95.0, (150.0,), 220.0, line=StationLine.through(at, asked(at), False))
    row = row_of(beside(road, ridden), course)
    assert row["turn_in_early_m"] == pytest.approx(0.0, abs=0.5)


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
