"""Bends found by curvature, on lines whose bends are known."""

import numpy as np
import pytest

from lapkit.course.bends import _turning, find_bends
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn


def line_of(*parts):
    """A line of (metres, radius) one after another: positive to the left, infinite for a straight."""
    curvature = np.concatenate([np.full(round(length), 1.0 / radius) for length, radius in parts])
    heading = np.concatenate([[0.0], np.cumsum(curvature)])
    middle = 0.5 * (heading[1:] + heading[:-1])
    x, y = (np.concatenate([[0.0], np.cumsum(f(middle))]) for f in (np.cos, np.sin))
    return StationLine.through(x, y, False)


def bends_of(line, speed_mps=20.0):
    return find_bends(line, np.full(len(line.station_m), float(speed_mps)))


STRAIGHT = np.inf
HALF = np.pi * 40.0


@pytest.fixture
def stadium(draw):
    """Makes the stadium, its stations from so far before the first bend on; mirrored it turns right."""

    def made(before_m, side=1.0):
        at = np.arange(0.0, draw.lap_m, 1.0) + draw.bend_at["1"] - before_m
        x, y = draw.stadium(at)
        return StationLine.through(x, side * y, True)

    return made


@pytest.mark.parametrize(("side", "turn"), [(1.0, Turn.LEFT), (-1.0, Turn.RIGHT)])
def test_each_end_of_a_stadium_is_a_bend_with_its_apex_in_the_middle(stadium, side, turn):
    bends = bends_of(stadium(150.0, side))
    assert [b.turn for b in bends] == [turn, turn]
    for bend, begin in zip(bends, (150.0, 450.0 + HALF), strict=True):
        # Curvature over 20 m is a third of the arc's from three metres before it on.
        assert bend.turn_in_m == pytest.approx(begin - 3.0, abs=2.0)
        assert bend.apex_m == pytest.approx(begin + 0.5 * HALF, abs=1.0)
        assert bend.exit_m == pytest.approx(begin + HALF + 3.0, abs=2.0)


@pytest.mark.parametrize("into_m", [20.0, 60.0, 110.0])
def test_a_bend_across_the_start_of_stations_is_one_and_goes_on_beyond_the_length(stadium, into_m):
    line = stadium(-into_m)
    first, across = bends_of(line)
    assert first.apex_m == pytest.approx(300.0 + 1.5 * HALF - into_m, abs=1.0)
    begin = line.length_m - into_m
    assert across.turn_in_m == pytest.approx(begin - 3.0, abs=2.0)
    assert across.apex_m == pytest.approx(begin + 0.5 * HALF, abs=1.0)
    assert across.turn_in_m < line.length_m < across.exit_m


def test_a_straight_has_none():
    assert bends_of(line_of((400.0, STRAIGHT))) == ()


@pytest.mark.parametrize(("degrees", "found"), [(22.0, 0), (29.0, 1)])
def test_a_kink_of_less_than_twenty_five_degrees_is_no_corner(degrees, found):
    kink = np.radians(degrees) * 60.0
    line = line_of(
        (200.0, STRAIGHT), (60.0 * np.pi / 2, -60.0), (200.0, STRAIGHT), (kink, 60.0),
        (200.0, STRAIGHT),
    )  # fmt: skip
    assert [b.turn for b in bends_of(line)].count(Turn.LEFT) == found


def test_a_left_and_the_right_that_follows_at_once_are_two():
    line = line_of(
        (150.0, STRAIGHT), (80.0, 50.0), (80.0, -50.0), (150.0, STRAIGHT)
    )  # fmt: skip
    left, right = bends_of(line)
    assert (left.turn, right.turn) == (Turn.LEFT, Turn.RIGHT)
    assert left.exit_m <= 230.0 <= right.turn_in_m


@pytest.mark.parametrize(
    ("straight_m", "speed_mps", "found"),
    [(22.0, 10.0, 1), (34.0, 10.0, 2), (34.0, 30.0, 1), (50.0, 30.0, 2)],
)
def test_a_short_let_up_within_a_bend_is_bridged(straight_m, speed_mps, found):
    """Fifteen metres of it, or a second; over 20 m about a quarter of the arc's curvature reaches five metres in."""
    line = line_of(
        (200.0, STRAIGHT), (60.0, 50.0), (straight_m, STRAIGHT), (60.0, 50.0), (200.0, STRAIGHT)
    )  # fmt: skip
    bends = bends_of(line, speed_mps)
    assert len(bends) == found
    assert bends[0].turn_in_m == pytest.approx(200.0, abs=6.0)
    assert bends[-1].exit_m == pytest.approx(320.0 + straight_m, abs=6.0)


def test_a_fast_wide_bend_counts_for_how_hard_it_is_ridden():
    """Of 300 m radius it is a seventh as tight as the other; ridden fast it asks for as much."""
    line = line_of(
        (300.0, STRAIGHT), (100.0, 40.0), (300.0, STRAIGHT), (250.0, -300.0), (300.0, STRAIGHT)
    )  # fmt: skip
    at = line.station_m
    fast = np.where(at > 500.0, 45.0, 16.0)
    assert [b.turn for b in find_bends(line, fast)] == [Turn.LEFT, Turn.RIGHT]
    assert [b.turn for b in find_bends(line, np.full(len(at), 16.0))] == [Turn.LEFT]


def test_the_apex_lies_where_an_uneven_bend_turns_hardest():
    line = line_of((200.0, STRAIGHT), (80.0, 90.0), (50.0, 35.0), (200.0, STRAIGHT))
    (bend,) = bends_of(line)
    assert bend.apex_m == pytest.approx(200.0 + 80.0 + 25.0, abs=5.0)


def test_a_slow_hairpin_counts_for_how_tight_it_is():
    """Ridden at a walk it asks for a fifth of what the fast bend does."""
    line = line_of(
        (300.0, STRAIGHT), (120.0, 100.0), (300.0, STRAIGHT), (38.0, -12.0), (300.0, STRAIGHT)
    )
    speed = np.where(line.station_m > 600.0, 6.0, 40.0)
    assert [b.turn for b in find_bends(line, speed)] == [Turn.LEFT, Turn.RIGHT]


@pytest.mark.parametrize(("fast_mps", "found"), [(44.0, 1), (54.0, 2)])
def test_what_a_bend_asks_for_goes_with_the_square_of_speed(fast_mps, found):
    """A quarter of what the tighter bend asks for is reached at 49 m/s."""
    line = line_of(
        (300.0, STRAIGHT), (120.0, 100.0), (300.0, STRAIGHT), (400.0, 600.0), (300.0, STRAIGHT)
    )
    speed = np.where(line.station_m > 600.0, fast_mps, 40.0)
    assert len(find_bends(line, speed)) == found


@pytest.mark.parametrize("share", [0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_on_a_course_that_bends_nearly_everywhere_what_counts_as_hard_is_harder(share, side):
    """The least share that leaves a quarter of the course: here a little more than that lies below it."""
    least = (0.98 * share - 0.26) / 0.74
    straight = np.zeros(200 if least < 0.0 else 0)
    curvature = np.concatenate([straight, np.linspace(max(least, 0.0), 1.0, 2001)])
    turning = _turning(side * curvature, np.ones(len(curvature)))
    hard = curvature / np.percentile(curvature, 98.0) >= share
    np.testing.assert_array_equal(turning, np.where(hard, side, 0.0))


def test_what_bends_alike_all_round_has_no_bend():
    np.testing.assert_array_equal(_turning(np.full(99, 0.01), np.full(99, 20.0)), 0)
