"""How far stops at the hold point are believed, beside what else shows where the offset stood."""

import numpy as np
import pytest

from lapkit.path.missed_marks import doubted, missed
from lapkit.path.offset_process import USUAL_PROCESS
from lapkit.path.offset_sight import Readings, Sight
from lapkit.path.stops import STOP_SD_M, Stop, hold_sights


@pytest.fixture
def stops_at(knots, steady, mark):
    """Sights of stops at 30 and 870 s, the receiver's antenna seen at these places."""

    def seen(*places):
        stops = [Stop(t, 40.0, *at) for t, at in zip((30.0, 870.0), places, strict=False)]
        return hold_sights(knots, stops, mark, steady)[0]

    return seen


@pytest.fixture
def edges(knots):
    """A sight all through the log that shows the offset at (1, -1), to 0.3 m for a whole lap of 90 s."""
    t = np.arange(5.0, 895.0, 10.0)
    seen = Readings(np.repeat(t, 2), np.tile(np.eye(2), (len(t), 1)), np.tile([1.0, -1.0], len(t)))
    return Sight.of(knots, seen, 0.9)


def test_stops_where_the_edges_say_are_believed_on_the_mark(knots, stops_at, edges):
    believed = doubted(knots, stops_at((1.2, -0.9), (0.8, -1.3)), [edges], USUAL_PROCESS)
    assert not any(missed(stop) for stop in believed)
    assert all(STOP_SD_M <= stop.common.sd_m < 0.5 for stop in believed)


@pytest.mark.parametrize("which", [0, 1])
def test_the_stop_that_missed_the_mark_is_the_one_not_believed(knots, stops_at, edges, which):
    places = [(1.0, -1.0), (1.0, -1.0)]
    places[which] = (3.6, -1.0)
    believed = doubted(knots, stops_at(*places), [edges], USUAL_PROCESS)
    assert [missed(stop) for stop in believed] == [which == 0, which == 1]


def test_two_stops_that_missed_it_the_same_way_do_not_back_each_other_up(knots, stops_at, edges):
    believed = doubted(knots, stops_at((1.0, 2.0), (1.0, 2.0)), [edges], USUAL_PROCESS)
    assert all(missed(stop) for stop in believed)


def test_stops_that_agree_are_believed_where_little_else_is_known(knots, stops_at):
    t = np.arange(5.0, 895.0, 10.0)
    east = np.tile([[1.0, 0.0]], (len(t), 1))
    vague = Sight.of(knots, Readings(t, east, np.full(len(t), 2.5)), 9.0)
    believed = doubted(knots, stops_at((1.0, -1.0), (1.2, -1.1)), [vague], USUAL_PROCESS)
    assert not any(missed(stop) for stop in believed)
