"""When a path crosses a line across the course."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.splitter.crossings import SampledPath

SPEED_MPS = 20.0
# Across a road that runs north: the left end is in the west.
LINE = np.array([[-5.0, 100.0], [5.0, 100.0]])


class North:
    """A ride north at constant speed and at one distance east; the draws run some metres ahead of the estimate."""

    def __init__(self, east_m=0.0, ahead_m=(0.0,), speed_mps=SPEED_MPS):
        self.start_s, self.end_s = 50.0, 60.0
        self.east_m, self.ahead_m, self.speed_mps = east_m, np.array(ahead_m), speed_mps

    def mean_xy(self, time_s):
        return np.full(len(time_s), self.east_m), self.speed_mps * (time_s - self.start_s)

    def at(self, time_s):
        y = self.speed_mps * (time_s - self.start_s) + self.ahead_m[:, None]
        shape = np.zeros_like(y)
        return SimpleNamespace(
            x_m=shape + self.east_m, y_m=y, vx_mps=shape, vy_mps=shape + self.speed_mps
        )


def crossings(path, ends=LINE, **given):
    return SampledPath.of(path).crossings(ends, **given)


def test_the_time_is_that_of_the_line_and_not_of_a_moment_looked_at():
    line = LINE + np.array([0.0, 0.7])
    assert crossings(North(), line) == pytest.approx(
        np.array([[50.0 + 100.7 / SPEED_MPS]]), abs=1e-9
    )


def test_each_draw_has_its_own_time_estimate_first():
    times = crossings(North(ahead_m=(0.0, 1.0, -1.0)))
    assert times == pytest.approx(np.array([[55.0, 54.95, 55.05]]), abs=1e-9)


def test_a_line_crossed_just_before_the_last_fix_is_crossed():
    """Ten seconds are sampled every tenth up to 9.9 s, and the line is crossed after 9.95."""
    line = LINE + np.array([0.0, 99.0])
    assert crossings(North(), line) == pytest.approx(np.array([[59.95]]), abs=1e-9)
    assert SampledPath.of(North()).distance_at(np.array([60.0])) == pytest.approx(200.0)


def test_a_line_crossed_the_other_way_is_not_crossed():
    assert crossings(North(), LINE[::-1]).shape == (0, 1)


def test_a_line_that_is_never_reached_is_not_crossed():
    assert crossings(North(), LINE + np.array([0.0, 500.0])).shape == (0, 1)


@pytest.mark.parametrize(
    ("east_m", "count"), [(-10.9, 1), (10.9, 1), (-11.1, 0), (11.1, 0), (0.0, 1)]
)
def test_a_crossing_counts_up_to_six_metres_past_either_end(east_m, count):
    assert len(crossings(North(east_m))) == count


@pytest.mark.parametrize(("east_m", "count"), [(9.0, 1), (12.0, 0), (-8.0, 1), (-11.0, 0)])
def test_past_the_end_is_measured_along_a_line_that_lies_askew(east_m, count):
    # At 45 degrees each metre further east is 1.41 m further along the line.
    assert len(crossings(North(east_m), np.array([[-5.0, 95.0], [5.0, 105.0]]))) == count


@pytest.mark.parametrize("drift", [-1.0, 1.0])
@pytest.mark.parametrize(("at_line_m", "count"), [(10.9, 1), (11.1, 0)])
def test_past_the_end_is_measured_where_the_line_is_crossed(at_line_m, count, drift):
    """He drifts in or out by a metre for each metre ahead: a moment earlier or later he was beyond the other limit."""

    class Drifting(North):
        def mean_xy(self, time_s):
            _, y = super().mean_xy(time_s)
            return at_line_m + drift * (y - 95.0), y

    assert len(crossings(Drifting(), LINE - np.array([0.0, 5.0]))) == count


@pytest.mark.parametrize(("aside", "count"), [(1.6, 1), (1.85, 0), (-1.6, 1), (-1.85, 0)])
def test_another_leg_that_crosses_the_course_there_does_not_cross_its_line(aside, count):
    """Within 60 degrees of straight across he crosses it: 1.73 m aside for each metre ahead."""

    class Leg(North):
        def mean_xy(self, time_s):
            ahead = 10.0 * (time_s - 55.0)
            return aside * ahead, 100.0 + ahead

    assert len(crossings(Leg())) == count


def test_whichever_way_he_creeps_over_the_line_he_crosses_it():
    class Creeping(North):
        def mean_xy(self, time_s):
            return 2.0 * (time_s - 55.0), 100.0 + 0.1 * (time_s - 55.0)

    assert len(crossings(Creeping())) == 1


@pytest.mark.parametrize(("lane_east_m", "count"), [(10.0, 0), (14.0, 1)])
def test_past_the_end_a_pit_lane_that_is_nearer_than_the_line_is_not_the_line(lane_east_m, count):
    lane = np.array([[lane_east_m, 0.0], [lane_east_m, 300.0]])
    assert len(crossings(North(8.0), pit_lanes=(lane,))) == count


def test_on_the_line_itself_no_pit_lane_is_nearer():
    lane = np.array([[0.0, 0.0], [0.0, 300.0]])
    assert len(crossings(North(0.0), pit_lanes=(lane,))) == 1


def test_who_hardly_moves_is_not_sent_far_to_the_line():
    """At 0.1 m/s the draw is 20 s away, at the speed that is taken at least 4 s."""
    path = North(ahead_m=(0.0, -2.0), speed_mps=0.1)
    times = crossings(path, np.array([[-5.0, 0.5], [5.0, 0.5]]))
    assert times[0, 1] - times[0, 0] == pytest.approx(4.0, abs=0.1)


def test_the_distance_is_that_of_the_path():
    sampled = SampledPath.of(North())
    assert sampled.distance_at(np.array([50.0, 52.5, 55.0])) == pytest.approx([0.0, 50.0, 100.0])
