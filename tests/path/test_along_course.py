"""A ride laid along its course: where it was, whether it rode there, and how far it had come."""

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.path.along_course import AlongCourse
from lapkit.path.spline import DEGREE, Knots

STEP_S, SPEED_MPS = 0.25, 15.0
TURN = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
RING = StationLine.through(60.0 * np.cos(TURN), 60.0 * np.sin(TURN), closed=True)


def round_the_ring(laps, speed_mps=SPEED_MPS, radius_m=60.0):
    """Knots and spline coefficients of a ride at a steady speed."""
    knots = Knots(0.0, STEP_S, int(laps * RING.length_m / speed_mps / STEP_S))
    angle = speed_mps / radius_m * STEP_S * (np.arange(knots.coefficients) - 0.5 * (DEGREE - 1))
    return knots, radius_m * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def laid(station_m, riding=True, length_m=100.0):
    """A ride by its stations, one an interval."""
    count = len(station_m)
    riding = np.broadcast_to(np.asarray(riding), (count,))
    stations = np.asarray(station_m, dtype=np.float64)
    return AlongCourse(Knots(0.0, 1.0, count), length_m, True, stations, riding, np.zeros(count))


@pytest.mark.parametrize(
    ("radius_m", "speed_mps", "rides"),
    [(60.0, 15.0, True), (74.5, 15.0, True), (75.5, 15.0, False), (45.5, 15.0, True),
     (44.5, 15.0, False), (60.0, 5.1, True), (60.0, 4.9, False)],
)  # fmt: skip
def test_within_fifteen_metres_and_above_five_a_second_he_rides(radius_m, speed_mps, rides):
    knots, path = round_the_ring(0.9, speed_mps, radius_m)
    along = AlongCourse.of(knots, path, RING)
    assert np.all(along.riding == rides)
    # Acceleration to the left is v²/r; of who waits it is made less of.
    expected = speed_mps**2 / radius_m * min(speed_mps / 5.0, 1.0)
    np.testing.assert_allclose(along.across_mps2, expected, rtol=5e-3)
    assert (along.length_m, along.closed) == (RING.length_m, True)


def test_metres_ridden_go_on_from_lap_to_lap():
    knots, path = round_the_ring(2.7)
    along = AlongCourse.of(knots, path, RING)
    np.testing.assert_allclose(along.ridden_m, SPEED_MPS * knots.middle_s, atol=0.2)
    assert along.station_m.max() < RING.length_m


def test_where_the_course_crosses_itself_he_stays_on_his_leg():
    """An eight with unequal loops, ridden 4 m to its left: beside the crossing the other leg is nearer."""
    size = np.where(np.cos(TURN) > 0.0, 250.0, 140.0) / (1.0 + np.sin(TURN) ** 2)
    eight = StationLine.through(size * np.cos(TURN), size * np.sin(TURN) * np.cos(TURN), True)
    knots = Knots(0.0, STEP_S, int(3.0 * eight.length_m / SPEED_MPS / STEP_S))
    station = SPEED_MPS * STEP_S * (np.arange(knots.coefficients) - 0.5 * (DEGREE - 1))
    path = np.stack(eight.offset_points(station, np.full(len(station), 4.0)), axis=1)
    along = AlongCourse.of(knots, path, eight)
    np.testing.assert_allclose(along.ridden_m, SPEED_MPS * knots.middle_s, atol=0.2)


def test_down_the_hill_again_he_does_not_ride_the_course():
    """Three times up a winding road and down again: each ride up is a lap of its own."""
    east = np.arange(0.0, 601.0, 10.0)
    hill = StationLine.through(east, 30.0 * np.sin(east / 80.0), closed=False)
    up = np.arange(30.0, hill.length_m - 30.0, SPEED_MPS * STEP_S)
    station = np.tile(np.concatenate([up, up[::-1]]), 3)
    knots = Knots(0.0, STEP_S, len(station) - DEGREE)
    along = AlongCourse.of(knots, np.stack(hill.offset_points(station, 2.0), axis=1), hill)
    climb = np.tile(np.repeat([True, False], len(up)), 3)[DEGREE // 2 :][: knots.intervals]
    assert np.mean(along.riding == climb) > 0.98
    laps = np.floor(along.ridden_m / hill.length_m)
    assert [np.count_nonzero(along.riding & (laps == n)) for n in range(3)] == pytest.approx(
        [len(up)] * 3, abs=4
    )


def test_they_never_go_back_and_stand_still_off_the_course():
    along = laid([90.0, 5.0, 3.0, 70.0, 12.0], [True, True, True, False, True])
    assert along.ridden_m == pytest.approx([90.0, 105.0, 105.0, 105.0, 112.0])


def test_places_are_those_of_every_lap_that_was_begun():
    along = laid([10.0, 40.0, 70.0, 95.0, 15.0, 50.0, 80.0, 5.0])
    places = along.places(40.0)
    assert places == pytest.approx(np.array([[0, 40, 80], [100, 140, 180], [200, 240, 280]]))


def test_a_place_is_ridden_where_he_rode_before_and_after_it():
    stations = [10.0, 30.0, 50.0, 70.0, 90.0, 10.0, 30.0]
    along = laid(stations, [True, True, False, True, True, True, True])
    rode = along.rode_at(np.array([[5.0, 20.0, 50.0, 80.0], [100.0, 120.0, 130.0, 140.0]]))
    assert rode.tolist() == [[False, True, False, True], [True, True, True, False]]
