"""The offset that approaches to the edges show, and which times of a ride are approaches."""

import numpy as np
import pytest

from lapkit.course.course import Course
from lapkit.course.edges import Edges
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.path.edges import Approaches, _approaches
from lapkit.path.offset import find_offset
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.tyre_track import TyreTrack
from lapkit.simulate.courses import built_in

LASTS_S = 600.0


@pytest.fixture
def knots():
    return OffsetKnots.covering(0.0, LASTS_S)


def approaches(clear_of, *, laps=6, places=30, east_m=0.0, rng=None):
    """Of a round course: at every place to both edges, as they appear with an offset to the east.

    ``clear_of`` gives how far within the edge he was, from the side and the number of place and edge.
    """
    angle = np.tile(2.0 * np.pi * np.arange(places) / places, 2 * laps)
    left = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    side = np.repeat([1.0, -1.0], laps * places)
    place = np.tile(np.arange(places), 2 * laps)
    edge = 2 * place + (side > 0.0)
    time = np.tile(np.linspace(0.0, LASTS_S, laps * places), 2)
    clear = clear_of(side, edge) - side * left[:, 0] * east_m
    return Approaches(time, left, side, place, clear)


def told(seen, knots):
    """Offset and standard deviation, east and north, over the ride: what is weighed depends on what is believed."""
    believed = np.zeros((2, len(knots.time_s)))
    for turn in range(6):
        offset = find_offset(knots, seen.sights(knots, believed, turn), 2, 1)
        believed = offset.rows[0]
    return believed.mean(axis=1), offset.sd_m.mean(axis=1)


@pytest.mark.parametrize(("left_m", "right_m"), [(0.6, 0.6), (0.0, 0.0), (1.2, 0.2)])
def test_the_offset_is_told_whatever_the_margins(knots, left_m, right_m):
    rng = np.random.default_rng(2)

    def clear_of(side, edge):
        at_edge = rng.exponential(0.3, edge.max() + 1)[edge]
        return np.where(side > 0, left_m, right_m) + at_edge + rng.normal(0.0, 0.2, len(side))

    (east, north), (sd, _) = told(approaches(clear_of, east_m=0.8), knots)
    assert east == pytest.approx(0.8, abs=0.15)
    assert north == pytest.approx(0.0, abs=0.15)
    assert 0.03 < sd < 0.25


def test_who_keeps_away_at_some_places_is_told_no_further_off(knots):
    rng = np.random.default_rng(4)
    # At the left edge of a third of the round he keeps two metres away.
    spread = rng.normal(0.0, 0.1, 60)
    even = approaches(lambda side, edge: 0.6 + spread[edge])
    away = approaches(lambda side, edge: 0.6 + spread[edge] + 1.4 * ((side > 0) & (edge < 20)))
    assert np.hypot(*(told(away, knots)[0] - told(even, knots)[0])) < 0.25


def test_who_keeps_one_margin_to_the_millimetre_is_surely_told(knots):
    def sd_m(seed):
        rng = np.random.default_rng(seed)
        away = rng.exponential(0.8, 60) * (rng.random(60) < 0.4)
        return told(approaches(lambda side, edge: 0.5 + away[edge]), knots)[1]

    assert np.mean([sd_m(seed) for seed in range(8)]) < 0.14


@pytest.mark.parametrize(("near", "sights"), [(5, 0), (6, 1)])
def test_fewer_than_six_approaches_tell_nothing(knots, near, sights):
    def clear_of(side, edge):
        return np.where(np.arange(len(side)) < near, 0.5, 4.0)

    seen = approaches(clear_of)
    assert len(seen.sights(knots, np.zeros((2, len(knots.time_s))), 2)) == sights


def test_while_the_offset_is_hardly_known_approaches_further_from_an_edge_take_part(knots):
    seen = approaches(lambda side, edge: np.full(len(side), 4.0))
    unknown = np.zeros((2, len(knots.time_s)))
    assert [len(seen.sights(knots, unknown, turn)) for turn in (0, 1, 2)] == [1, 0, 0]


def test_times_beside_the_course_are_no_approaches_and_part_what_they_lie_between():
    clear_m = np.array([2.0, 1.0, 0.4, 0.3, 0.2, 1.5])
    place = np.array([0, 0, 1, 2, 2, 3])
    everywhere = np.ones(6, dtype=bool)
    assert _approaches(clear_m, place, everywhere).tolist() == [4]
    beside = np.array([True, True, True, False, False, True])
    assert _approaches(clear_m, place, beside).tolist() == [2, 5]


def test_a_straight_along_an_edge_is_one_approach_and_the_way_to_it_none():
    course = built_in("sample")
    station = np.arange(0.0, 3.0 * course.reference.length_m, 10.0)
    place = station % course.reference.length_m
    left_m, right_m = course.edges_at(place)
    # 400 m at half a metre from the left edge, nearest in the middle; over 150 m there and back from the middle of the road.
    beside = 0.5 + 0.1 * np.square((place - 500.0) / 200.0)
    away = 0.5 * (left_m - right_m) - beside
    drawn_in = np.clip((np.abs(place - 500.0) - 200.0) / 150.0, 0.0, 1.0)
    track = TyreTrack(
        course, 0.5 * np.arange(len(station)), station, left_m - beside - away * drawn_in
    )
    seen = Approaches.of(track)
    near = (seen.side > 0.0) & (seen.clear_m < 2.5)
    assert np.count_nonzero(near) == 3
    np.testing.assert_allclose(seen.clear_m[near], 0.5, atol=0.01)
    assert len(set(seen.place[near])) == 1


def test_every_ride_up_a_hill_climb_comes_to_the_edge_anew():
    """Of all rides together only the nearest counted at each place, which is the one that the offset drew outward most."""
    road = StationLine.through(np.linspace(0.0, 2000.0, 401), np.zeros(401), False)
    ends = np.array([0.0, 2000.0])
    edges = Edges(ends, np.full(2, 5.0), np.full(2, -5.0))
    hill_climb = Course(Plane(47.0, 8.0), road, np.zeros((2, 2)), (), edges=edges)
    up_m = np.arange(0.0, 2000.0, 10.0)
    ride = np.repeat(np.arange(4), len(up_m))
    # At 950 m he is half a metre from the left edge, less ride after ride.
    clear = 0.5 + 5.0 * np.clip(np.abs(up_m - 950.0) / 100.0, 0.0, 1.0)
    track = TyreTrack(
        hill_climb,
        300.0 * ride + 0.5 * np.tile(np.arange(len(up_m)), 4),
        np.tile(up_m, 4),
        5.0 - np.tile(clear, 4) + 0.1 * ride,
    )
    seen = Approaches.of(track)
    near = (seen.side > 0.0) & (seen.clear_m < 1.0)
    np.testing.assert_allclose(seen.clear_m[near], [0.5, 0.4, 0.3, 0.2])
    assert len(set(seen.place[near])) == 1
