"""Sights of the offset together, on rides whose truth is known: stops, own laps and edges."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.course import Course
from lapkit.course.edges import Edges
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.path.base import BaseError
from lapkit.path.draws import PathDraws
from lapkit.path.offset import find_offset
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.sights import find_sights, weighed
from lapkit.path.stops import Stop, hold_sights
from lapkit.path.tyre_track import TyreTrack
from lapkit.simulate.bias import gauss_markov
from lapkit.simulate.courses import built_in


@pytest.fixture
def off_of_ten_laps(steady, mark):
    """A function that rides ten laps of a course and finds the offset, at times on the move.

    It gives the offset's errors and its standard deviations, ``(2, k)`` each. The rider scatters by ``scatter_m``, keeps
    ``kept_m`` within the edges, and stops before and after, unless ``stops`` is false, ``beside`` the mark, metres.
    """

    def ridden(course, scatter_m, memory_s, seed, *, kept_m=0.5, stops=True, beside=(0.0, 0.0)):
        rng = np.random.default_rng(seed)
        lasts = 10.0 * course.reference.length_m / 30.0
        knots = OffsetKnots.covering(-60.0, lasts + 60.0)
        bias = 1.2 * gauss_markov(len(knots.time_s), knots.step_s, memory_s, 2, rng).T
        stood = [
            Stop(t, 40.0, *(knots.between(bias, np.array([t]))[:, 0] + beside))
            for t in (-30.0, lasts + 30)
        ]
        held, _ = hold_sights(knots, stood if stops else [], mark, steady)
        time = np.arange(0.0, lasts, 0.5)
        station = 30.0 * time
        heading = course.reference.heading_at(course.reference.wrap(station))
        east, north = knots.between(bias, time)
        scatter = scatter_m * gauss_markov(len(time), 0.5, 2.0, 1, rng)[:, 0]
        left, right = course.edges_at(course.reference.wrap(station))
        way = np.sin(2.0 * np.pi * station * 9.0 / course.reference.length_m)
        usual = 0.5 * (left + right) + way * (0.5 * (left - right) - kept_m)
        seen = usual + scatter + north * np.cos(heading) - east * np.sin(heading)
        held, riding = weighed(knots, held, TyreTrack(course, time, station, seen))
        offset = find_offset(knots, [*held, *riding.laps, *riding.edges], 8, 1)
        riding = (knots.time_s > 0.0) & (knots.time_s < lasts)
        return (offset.rows[0] - bias)[:, riding], offset.sd_m[:, riding]

    return ridden


def test_an_offset_that_moves_between_laps_is_not_taken_for_the_riders_own_scatter(
    off_of_ten_laps,
):
    course = built_in("twisty")
    found = [off_of_ten_laps(course, 0.1, 300.0, seed) for seed in range(12)]
    error, sd = (np.concatenate([each[i].ravel() for each in found]) for i in (0, 1))
    # As far off as it says; 1.2 times as far while scatter was told before the process was.
    assert np.sqrt(np.mean(np.square(error / sd))) < 1.1


@pytest.mark.parametrize("kept_m", [0.1, 0.5, 1.0])
def test_edges_alone_show_the_offset_of_a_rider_who_keeps_some_way_within_them(
    off_of_ten_laps, kept_m
):
    course = built_in("twisty")
    ridden = {"kept_m": kept_m, "stops": False}
    found = [off_of_ten_laps(course, 0.1, 600.0, seed, **ridden) for seed in range(12)]
    error, sd = (np.concatenate([each[i].ravel() for each in found]) for i in (0, 1))
    # How near he comes is his own: while half a metre was taken of all, who kept one was told half a metre off.
    assert np.sqrt(np.mean(np.square(error))) < 0.2
    assert np.mean(np.abs(error) < 1.96 * sd) > 0.9


@pytest.mark.parametrize("beside", [(2.5, 0.0), (0.0, -2.5), (-1.8, 1.8)])
def test_a_rider_who_stops_a_machine_away_from_the_mark_is_found_out_by_the_edges(
    off_of_ten_laps, beside
):
    course = built_in("twisty")
    found = [off_of_ten_laps(course, 0.1, 600.0, seed, beside=beside) for seed in range(8)]
    error, sd = (np.concatenate([each[i].ravel() for each in found]) for i in (0, 1))
    # Believed on the mark, his stops moved every lap by more than a metre, in intervals of half a metre.
    assert np.sqrt(np.mean(np.square(error))) < 0.35
    assert np.mean(np.abs(error) < 1.96 * sd) > 0.9


RING_M, PACE_MPS, STANDS_S = 80.0, 20.0, 40.0


def ring_ride(scatter_m=0.1):
    """The estimate of a ride: a stop at (84, 0), then ten laps of a ring that weave from edge to edge, 3 m to either side."""
    time = np.arange(0.0, STANDS_S + 10.0 * 2.0 * np.pi * RING_M / PACE_MPS, 0.5)
    angle = np.maximum(time - STANDS_S, 0.0) * PACE_MPS / RING_M
    riding = time > STANDS_S
    radius = np.where(riding, RING_M + 3.0 * np.sin(9.0 * angle), 84.0)
    radius += scatter_m * np.random.default_rng(1).standard_normal(len(time))
    cos, sin = np.cos(angle), np.sin(angle)
    speed = np.where(riding, PACE_MPS, 0.0)
    rows = (radius * cos, radius * sin, -speed * sin, speed * cos, 0.0 * cos, 0.0 * sin, 0.0 * cos)
    return PathDraws(time, *(row[None] for row in rows), np.zeros((1, 1)))


def ring_course(*, hold_point, edges):
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)
    ring = StationLine.through(RING_M * np.cos(angle), RING_M * np.sin(angle), True)
    sides = Edges(np.array([0.0]), np.array([3.5]), np.array([-3.5]))
    return Course(
        Plane(47.0, 8.0), ring, np.zeros((2, 2)), (),
        hold_points=np.array([[84.0, 0.3]]) if hold_point else None,
        edges=sides if edges else None,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("hold_point", "base", "edges", "source"),
    [
        (True, False, False, "hold_point"),
        (True, True, True, "hold_point"),
        (False, True, True, "base_log"),
        (False, False, True, "edges"),
        (False, False, False, "none"),
    ],
)
def test_what_the_offset_was_found_from_is_the_surest_of_what_there_is(
    steady, hold_point, base, edges, source
):
    ride = ring_ride()
    knots = OffsetKnots.covering(0.0, ride.time_s[-1])
    base_error = BaseError(ride.time_s, np.zeros((len(ride.time_s), 2)))
    course = ring_course(hold_point=hold_point, edges=edges)
    found = find_sights(
        knots, ride, TyreTrack.of(ride, course), steady, base_error if base else None
    )
    assert found.source == source
    assert len(found.standing) == hold_point + base
    assert (len(found.laps), len(found.edges)) == (1, int(edges))
    assert (found.notes != ()) is (hold_point and base)


def test_a_stop_that_the_edges_place_beside_the_mark_is_told(steady):
    ride = ring_ride()
    knots = OffsetKnots.covering(0.0, ride.time_s[-1])
    course = replace(ring_course(hold_point=True, edges=True), hold_points=np.array([[87.0, 0.0]]))
    found = find_sights(knots, ride, TyreTrack.of(ride, course), steady, None)
    (said,) = found.notes
    assert said.startswith("1 stop near the hold point was metres beside it")


def test_a_base_log_of_another_time_is_told_and_not_used(steady):
    ride = ring_ride()
    knots = OffsetKnots.covering(0.0, ride.time_s[-1])
    course = ring_course(hold_point=False, edges=True)
    later = BaseError(ride.time_s + 7200.0, np.zeros((len(ride.time_s), 2)))
    found = find_sights(knots, ride, TyreTrack.of(ride, course), steady, later)
    assert (found.source, found.standing) == ("edges", [])
    assert found.notes == ("the base log does not overlap this log in time and was not used",)


@pytest.mark.parametrize(("scatter_m", "found_m"), [(0.02, 0.12), (0.3, 0.25)])
def test_laps_scatter_as_they_were_ridden_but_no_less_than_anybody_does(steady, scatter_m, found_m):
    ride = ring_ride(scatter_m)
    knots = OffsetKnots.covering(0.0, ride.time_s[-1])
    course = ring_course(hold_point=True, edges=True)
    (laps,) = find_sights(knots, ride, TyreTrack.of(ride, course), steady, None).laps
    # Between two times of independent scatter it is less by a fifth.
    assert laps.sd_m == pytest.approx(found_m, rel=0.15)
