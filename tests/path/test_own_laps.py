"""The rider's own laps held against each other: which passes are compared, and what they show of the offset."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.path.offset import mean_offset
from lapkit.path.own_laps import Passes
from lapkit.path.tyre_track import TyreTrack

RADIUS_M, SPEED_MPS = 150.0, 25.0


@pytest.fixture(scope="module")
def course():
    """A ring ridden to the left."""
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    ring = StationLine.through(RADIUS_M * np.cos(angle), RADIUS_M * np.sin(angle), True)
    return Course(Plane(47.0, 8.0), ring, np.zeros((2, 2)), ())


def ridden(course, laps, offset_of=np.zeros_like):
    """Laps at an even speed, looked at twice a second; ``offset_of`` gives the offset by station."""
    station = np.arange(0.0, laps * course.reference.length_m, 0.5 * SPEED_MPS)
    return TyreTrack(course, station / SPEED_MPS, station, offset_of(station))


def test_every_place_is_passed_once_a_lap(course):
    passes = Passes.of(ridden(course, 6))
    places, counts = np.unique(passes.place, return_counts=True)
    assert len(places) == int(course.reference.length_m // 60.0)
    assert set(counts) <= {5, 6}
    x, y = course.reference.at(SPEED_MPS * passes.time_s)
    assert passes.left == pytest.approx(-np.stack([x, y], axis=1) / RADIUS_M, abs=1e-3)


def test_rides_up_a_hill_climb_are_compared_as_laps_are():
    """Six rides of a straight kilometre, each two metres further to the left than the one before it."""
    road = StationLine.through(np.linspace(0.0, 1000.0, 201), np.zeros(201), False)
    hill_climb = Course(Plane(47.0, 8.0), road, np.zeros((2, 2)), ())
    up_m = np.arange(0.0, 1000.0, 12.0)
    ride = np.repeat(np.arange(6), len(up_m))
    time_s = 300.0 * ride + 0.5 * np.tile(np.arange(len(up_m)), 6)
    passes = Passes.of(TyreTrack(hill_climb, time_s, np.tile(up_m, 6), 2.0 * ride))
    assert passes.beside_m == pytest.approx(2.0 * np.floor_divide(passes.time_s, 300.0))
    _, counts = np.unique(passes.place, return_counts=True)
    assert len(counts) == 15 and set(counts) <= {5, 6}
    np.testing.assert_allclose(passes.left, np.tile([0.0, 1.0], (len(passes.left), 1)), atol=1e-9)


def test_too_few_laps_show_nothing(course):
    assert Passes.of(ridden(course, 2)) is None


def test_what_was_ridden_off_the_course_is_no_pass(course):
    length = course.reference.length_m

    def paddock(station):
        return np.where(np.abs(station - 2.5 * length) < 100.0, 40.0, 0.0)

    passes = Passes.of(ridden(course, 6, paddock))
    away = np.abs(SPEED_MPS * passes.time_s - 2.5 * length)
    assert away.min() >= 100.0 and np.all(passes.beside_m == 0.0)


def test_an_offset_that_moves_is_seen_and_one_unusual_pass_is_left_out(knots, course):
    """The offset east grows by 2 mm a second; at one place he once runs wide by 4 m."""
    line, station = course.reference, ridden(course, 8).station_m
    wide_at = 50 * line.length_m / (line.length_m // 60.0)
    east = 0.002 * station / SPEED_MPS
    wide = np.where(np.abs(station - wide_at) < 30.0, -4.0, 0.0)
    seen = east * line.left_at(station)[:, 0] + wide
    passes = Passes.of(TyreTrack(course, station / SPEED_MPS, station, seen))
    sight = passes.sight(knots, np.zeros(len(passes.time_s)))
    left_out = np.setdiff1d(passes.time_s, sight.readings.time_s)
    assert SPEED_MPS * left_out == pytest.approx([wide_at], abs=1.0)
    riding = knots.time_s < station[-1] / SPEED_MPS
    found, _ = mean_offset(knots, [sight])
    slopes = np.polyfit(knots.time_s[riding], found[:, riding].T, 1)[0]
    assert slopes == pytest.approx([0.002, 0.0], abs=1e-4)


def scattering(course, sd_of, alike=0.0, *, has_velocity=True, laps=12):
    """Passes of laps that scatter by ``sd_of`` the place, each as the one before it to a share ``alike``."""
    rng = np.random.default_rng(7)
    passes = Passes.of(replace(ridden(course, laps), has_velocity=has_velocity))
    deviates = rng.normal(0.0, np.sqrt(1.0 - alike**2), len(passes.place))
    away = lfilter([1.0], [1.0, -alike], deviates)
    return replace(passes, beside_m=sd_of(passes.place) * away)


def test_a_place_where_a_rider_scatters_widely_shows_less_of_the_offset(knots, course):
    def wide(place):
        return np.where(place < 4, 0.4, 0.2)

    passes = scattering(course, wide, laps=40)
    sight = passes.sight(knots, np.zeros(len(passes.place)))
    counts = np.hypot(*sight.readings.direction.T)
    at_wide = sight.readings.group < 4
    # A pass counts as its place's scatter, which is drawn a little towards that of the others.
    ratio = np.median(counts[~at_wide]) / np.median(counts[at_wide])
    assert ratio == pytest.approx(0.4 / 0.2, rel=0.2)
    assert np.ptp(counts[sight.readings.group == 2]) == pytest.approx(0.0, abs=1e-12)
    # What was seen is scaled with its direction, so that it shows the same offset.
    seen = passes.beside_m[np.isin(passes.time_s, sight.readings.time_s)]
    np.testing.assert_allclose(sight.readings.value_m, counts * seen)


def test_scatter_that_lasts_from_place_to_place_counts_for_more(course):
    def even(place):
        return np.full(len(place), 0.3)

    for alike in (0.0, 0.5):
        passes = scattering(course, even, alike, laps=60)
        factor = passes.lasting(np.zeros(len(passes.place)))
        assert factor == pytest.approx(np.sqrt((1 + alike) / (1 - alike)), rel=0.1)


def test_from_positions_alone_every_pass_counts_alike_and_for_itself(knots, course):
    passes = scattering(course, lambda place: 0.2 + 0.1 * place, 0.5, has_velocity=False)
    nothing = np.zeros(len(passes.place))
    assert passes.lasting(nothing) == 1.0
    direction = passes.sight(knots, nothing).readings.direction
    np.testing.assert_allclose(np.hypot(*direction.T), 1.0)
