"""What is pooled to tell roughness: moments nearby, and other laps at a place as far as they were ridden as usual."""

from functools import partial

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.path.along_course import AlongCourse
from lapkit.path.pooling import over_laps, over_time
from lapkit.path.spline import DEGREE, Knots
from lapkit.path.usual_passes import as_usual

PLACE_M = 120.0
"""Where on the ring something happens."""


def ring_and_laps(laps, speed_mps=15.0, pulled=None):
    """A ring of 60 m radius as a course, and a ride round it, as spline coefficients.

    On the lap ``pulled`` he is a metre off about :data:`PLACE_M`.
    """
    turn = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
    line = StationLine.through(60.0 * np.cos(turn), 60.0 * np.sin(turn), closed=True)
    knots = Knots(0.0, 0.2, int(laps * line.length_m / speed_mps / 0.2))
    at = knots.spacing_s * (np.arange(knots.coefficients) - 0.5 * (DEGREE - 1))
    ridden = speed_mps * at
    radius = np.full(len(at), 60.0)
    if pulled is not None:
        away = ridden - pulled * line.length_m - PLACE_M
        radius -= np.exp(-0.5 * np.square(away / 8.0))
    angle = ridden / 60.0
    return line, knots, (radius * [np.cos(angle), np.sin(angle)]).T


def pooled_over_laps(knots, path, line, alone):
    along = AlongCourse.of(knots, path, line)
    return over_laps(along, as_usual(along), alone)


def places(line, knots):
    """Of each interval of the ride: station and lap."""
    ridden = knots.middle_s * 15.0
    return np.mod(ridden, line.length_m), ridden // line.length_m


def burst(line, knots):
    """Squares of one everywhere, but for 41 about the place on lap 1."""
    station, lap = places(line, knots)
    return np.where((lap == 1) & (np.abs(station - PLACE_M) < 20.0), 41.0, 1.0)


def test_laps_ridden_as_usual_are_pooled_at_a_place():
    line, knots, path = ring_and_laps(laps=4)
    pooling = pooled_over_laps(knots, path, line, over_time(knots, 0.5))
    mean = pooling.usual(burst(line, knots))
    station, _ = places(line, knots)
    assert mean[np.abs(station - PLACE_M) < 5.0] == pytest.approx(11.0, rel=0.02)
    assert mean[np.abs(station - PLACE_M) > 60.0] == pytest.approx(1.0, rel=0.02)
    np.testing.assert_allclose(pooling.usual_counts, over_time(knots, 0.5).usual_counts, rtol=0.2)


def test_an_unusual_lap_is_left_out_of_the_usual_mean_and_takes_none_of_it():
    line, knots, path = ring_and_laps(laps=4, pulled=1)
    alone = over_time(knots, 0.5)
    pooling = pooled_over_laps(knots, path, line, alone)
    station, lap = places(line, knots)
    there = np.abs(station - PLACE_M) < 5.0
    assert np.all(pooling.usual(burst(line, knots))[there] < 1.2)  # of 11 when all laps count
    assert np.all(pooling.usual_counts[there & (lap == 1)] < 0.01 * alone.usual_counts[0])
    assert np.all(pooling.usual_counts[there & (lap != 1)] > 0.8 * alone.usual_counts[0])
    far = np.abs(station - PLACE_M) > 80.0
    assert np.all(pooling.usual_counts[far] > 0.8 * alone.usual_counts[0])
    # What the receiver can tell at all is the same whatever was done there.
    assert pooling.freedom(burst(line, knots))[there] == pytest.approx(11.0, rel=0.02)


def test_a_closed_course_is_pooled_across_the_start_line():
    line, knots, path = ring_and_laps(laps=4)
    pooling = pooled_over_laps(knots, path, line, over_time(knots, 0.5))
    station, _ = places(line, knots)
    before_line = np.where(station > line.length_m - 12.0, 41.0, 1.0)
    mean = pooling.usual(before_line)
    assert np.all(mean[station < 3.0] > 10.0)
    assert mean[np.abs(station - 60.0) < 10.0] == pytest.approx(1.0, rel=0.02)


def test_two_laps_do_not_show_what_is_usual():
    line, knots, path = ring_and_laps(laps=2, pulled=1)
    alone = over_time(knots, 0.5)
    np.testing.assert_array_equal(
        pooled_over_laps(knots, path, line, alone).usual_counts, alone.usual_counts
    )


@pytest.mark.parametrize("beside_m", [0.0, 160.0])
def test_beside_the_course_and_hardly_moving_only_moments_around_are_pooled(beside_m):
    ride = partial(ring_and_laps, laps=3)
    line, knots, path = ride(speed_mps=15.0 if beside_m else 2.0)
    path[:, 0] += beside_m
    alone = over_time(knots, 1.0)
    power = np.random.default_rng(2).uniform(1.0, 5.0, knots.intervals)
    pooling = pooled_over_laps(knots, path, line, alone)
    np.testing.assert_array_equal(pooling.usual(power), alone.usual(power))
    np.testing.assert_array_equal(pooling.usual_counts, alone.usual_counts)
