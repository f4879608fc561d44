"""What laps have in common: the usual snap of a place, and who is smoothed about it."""

import numpy as np
import pytest

from lapkit.course.stations import StationLine
from lapkit.path.along_course import AlongCourse
from lapkit.path.roughness import snap_at_knots
from lapkit.path.spline import DEGREE, Knots
from lapkit.path.usual_ride import UsualRide

STEP_S, SPEED_MPS, RADIUS_M = 0.25, 16.0, 64.0
TURN = np.linspace(0.0, 2.0 * np.pi, 721)[:-1]
RING = StationLine.through(RADIUS_M * np.cos(TURN), RADIUS_M * np.sin(TURN), closed=True)
LAP = RING.length_m


def ride(swerves, begin_m=0.0, laps=None):
    """Knots and spline coefficients of laps round the ring; on each he swerves out at 200 m, by so many metres."""
    laps = len(swerves) if laps is None else laps
    knots = Knots(0.0, STEP_S, int(laps * LAP / SPEED_MPS / STEP_S))
    ridden = SPEED_MPS * STEP_S * (np.arange(knots.coefficients) - 0.5 * (DEGREE - 1)) + begin_m
    radius = np.full(len(ridden), RADIUS_M)
    for lap, swerve in enumerate(swerves):
        radius += swerve * np.exp(-0.5 * np.square((ridden - lap * LAP - 200.0) / 12.0))
    angle = ridden / RADIUS_M
    return knots, radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def usual_of(knots, path, usual=None):
    along = AlongCourse.of(knots, path, RING)
    return UsualRide.of(along, np.ones(knots.intervals) if usual is None else usual, path)


def knots_m(knots):
    """Metres ridden at the knots."""
    return SPEED_MPS * STEP_S * np.arange(knots.intervals + 1)


def across(knots, snap):
    """Snap to the left of the ring's heading, ``(2, n)`` → ``(n,)``."""
    angle = knots_m(knots) / RADIUS_M
    return -(np.cos(angle) * snap[0] + np.sin(angle) * snap[1])


def test_of_laps_all_alike_it_is_each_laps_own():
    knots, path = ride([1.0, 1.0, 1.0, 1.0])
    own = across(knots, snap_at_knots(knots, path).T)
    found = across(knots, usual_of(knots, path).snap(path))
    there = np.abs(np.mod(knots_m(knots), LAP) - 200.0) < 40.0
    # Knots fall differently on the places of each lap, and between them snap is taken to run straight.
    assert np.abs(found - own)[there].max() < 0.12 * np.abs(own).max()


def test_it_is_the_mean_over_laps_of_the_snap_at_a_place():
    swerves = np.array([2.0, 0.0, 1.0, 1.0])
    knots, path = ride(swerves)
    found = across(knots, usual_of(knots, path).snap(path))
    _, all_alike = ride(np.full(4, swerves.mean()))
    expected = across(knots, snap_at_knots(knots, all_alike).T)
    assert np.abs(found - expected).max() < 0.12 * np.abs(expected).max()


def test_a_lap_counts_for_the_mean_as_far_as_it_was_usual():
    knots, path = ride([0.0, 0.0, 4.0, 0.0])
    third = knots.middle_s * SPEED_MPS // LAP == 2
    _, none = ride([0.0, 0.0, 0.0, 0.0])
    none = across(knots, snap_at_knots(knots, none).T)
    largest = [
        np.abs(across(knots, usual_of(knots, path, np.where(third, p, 1.0)).snap(path)) - none)
        for p in (1.0, 0.5, 0.0)
    ]
    first = knots_m(knots) < LAP
    whole, half, nothing = (each[first].max() for each in largest)
    # A quarter of the sum, and half over three and a half.
    assert half / whole == pytest.approx((0.5 / 3.5) / (1.0 / 4.0), rel=0.02)
    assert nothing < 0.01 * whole


@pytest.mark.parametrize(("usual", "share"), [(1.0, 1.0), (0.5, 1.0), (0.25, 0.5), (0.0, 0.0)])
def test_a_moment_more_probably_unusual_than_not_is_smoothed_less_about_it(usual, share):
    knots, path = ride([1.0, 1.0, 1.0, 1.0])
    last = knots.middle_s * SPEED_MPS // LAP == 3
    told = usual_of(knots, path).snap(path)
    found = usual_of(knots, path, np.where(last, usual, 1.0)).snap(path)
    at = knots_m(knots)
    inner = (at > 3 * LAP + 150.0) & (at < 3 * LAP + 250.0)
    if usual in (0.0, 1.0) or share == 1.0:
        np.testing.assert_allclose(
            found[:, inner], share * told[:, inner], atol=0.12 * np.abs(told).max()
        )
    else:
        strong = np.abs(told[:, inner]) > 0.3 * np.abs(told).max()
        ratio = found[:, inner][strong] / told[:, inner][strong]
        assert ratio == pytest.approx(share, abs=0.06)


def test_two_laps_have_nothing_usual_and_two_passes_of_a_place_pull_nothing():
    knots, path = ride([1.0, 1.0])
    assert usual_of(knots, path) is None
    knots, path = ride([1.0, 1.0, 1.0], laps=2.4)
    found = usual_of(knots, path).snap(path)
    place = np.mod(knots_m(knots), LAP)
    assert np.all(found[:, (place > 0.45 * LAP) & (place < 0.95 * LAP)] == 0.0)
    assert np.any(found[:, place < 0.35 * LAP] != 0.0)


def test_beside_the_course_nothing_is_usual():
    knots, path = ride([1.0, 1.0, 1.0, 1.0])
    assert usual_of(knots, path + np.array([200.0, 0.0])) is None


def test_a_mean_is_worth_as_many_passes_as_count_for_it():
    knots, path = ride([1.0, 1.0, 1.0, 1.0])
    inner = np.abs(np.mod(knots.middle_s * SPEED_MPS, LAP) - 200.0) < 100.0
    assert usual_of(knots, path).passes[inner] == pytest.approx(np.full(np.sum(inner), 4.0))
    third = knots.middle_s * SPEED_MPS // LAP == 2
    half = usual_of(knots, path, np.where(third, 0.5, 1.0)).passes
    # Weights of 1, 1, 1/2 and 1, as Kish has it for a sample with weights (Survey Sampling, 1965; memory).
    assert half[inner] == pytest.approx(np.full(np.sum(inner), 3.5**2 / 3.25))
    none = usual_of(knots, path, np.where(third, 0.0, 1.0)).passes
    assert none[inner] == pytest.approx(np.full(np.sum(inner), 3.0))
    knots, path = ride([1.0, 1.0, 1.0], laps=2.4)
    place = np.mod(knots.middle_s * SPEED_MPS, LAP)
    few = usual_of(knots, path).passes
    assert few[(place > 0.45 * LAP) & (place < 0.95 * LAP)] == pytest.approx(1.0)
