"""How probably each moment was ridden as usual, and the means over passes, against both written out place by place."""

import numpy as np
import pytest
from scipy.stats import norm

from lapkit.course.stations import StationLine
from lapkit.path import usual_passes
from lapkit.path.along_course import AlongCourse
from lapkit.path.pooling import over_laps, over_time
from lapkit.path.spline import DEGREE, Knots

LENGTH_M, SPEED_MPS, STEP_S = 400.0, 8.0, 0.25
EACH_LAP = 200  # intervals of two metres each


def knots_of(laps):
    return Knots(0.0, STEP_S, laps * EACH_LAP)


def as_usual(pulls, riding=None, station=None):
    """Of laps ``(laps, EACH_LAP)`` on which he pulled across as told."""
    laps = len(pulls)
    if station is None:
        station = np.tile(SPEED_MPS * STEP_S * np.arange(EACH_LAP), laps)
    riding = np.ones(laps * EACH_LAP, dtype=bool) if riding is None else riding
    along = AlongCourse(knots_of(laps), LENGTH_M, True, station, riding, pulls.ravel())
    return usual_passes.as_usual(along).reshape(laps, EACH_LAP)


def written_out(pulls):
    """The same by Tukey's contaminated normal distribution: three in ten are five times as far off."""
    places = pulls[:, ::4]  # every eight metres
    away = places - np.median(places, axis=0)
    scatter = 1.4826 * np.median(np.abs(away), axis=0)
    sd = max(np.sqrt(np.mean(scatter**2)), 0.1)
    wide, narrow = 0.3 * norm.pdf(away, scale=5.0 * sd), 0.7 * norm.pdf(away, scale=sd)
    unusual = (wide / (wide + narrow)).ravel()
    at = np.arange(len(unusual) * 4)
    # Between places it runs straight; at the end of the log it stays as it was.
    share = np.interp(at, at[::4], unusual)
    # A second and a half each way is six intervals.
    return 1.0 - np.array([share[max(i - 6, 0) : i + 7].max() for i in at]).reshape(pulls.shape)


def laps_of(laps, scatter_mps2, seed=1):
    """Pulls that go with the place, and scatter from pass to pass."""
    rng = np.random.default_rng(seed)
    place = 4.0 * np.sin(2.0 * np.pi * np.arange(EACH_LAP) / EACH_LAP)
    return place + scatter_mps2 * rng.normal(size=(laps, EACH_LAP))


@pytest.mark.parametrize("laps", [3, 4, 9])
@pytest.mark.parametrize("scatter_mps2", [0.5, 0.02])
def test_it_is_what_a_contaminated_normal_distribution_says(laps, scatter_mps2):
    pulls = laps_of(laps, scatter_mps2)
    pulls[1, 80:100] += 6.0 * scatter_mps2
    np.testing.assert_allclose(as_usual(pulls), written_out(pulls), rtol=0, atol=1e-9)


def test_alike_to_less_than_a_degree_of_lean_nothing_is_unusual():
    pulls = laps_of(5, 0.0)
    pulls[2, 100] += 0.2  # of a tenth that counts as alike anyhow
    wide, narrow = 0.3 * norm.pdf(2.0, scale=5.0), 0.7 * norm.pdf(2.0)
    assert as_usual(pulls)[2, 100] == pytest.approx(narrow / (wide + narrow))


def test_passes_that_he_did_not_ride_on_the_course_say_nothing_of_what_is_usual():
    pulls = laps_of(5, 0.3)
    riding = np.ones(pulls.shape, dtype=bool)
    riding[3, 60:140] = False
    away = pulls.copy()
    away[3, 60:140] = 90.0
    station = np.tile(2.0 * np.arange(EACH_LAP), 5)
    station.reshape(pulls.shape)[3, 60:140] = 7.0  # from a paddock any leg may be the nearest
    found = as_usual(away, riding.ravel(), station)
    again = as_usual(pulls, riding.ravel())
    kept = np.ones(EACH_LAP, dtype=bool)
    kept[48:152] = False
    np.testing.assert_allclose(found[:, kept], again[:, kept], atol=1e-9)


def test_a_place_passed_less_than_three_times_has_no_usual_pass():
    pulls = laps_of(4, 0.3)
    pulls[0, [20, 100]] += 50.0
    riding = np.ones(pulls.shape, dtype=bool)
    riding[1:3, 60:140] = False
    found = as_usual(pulls, riding.ravel())
    assert found[0, 100] == 1.0
    assert found[0, 20] < 0.01
    riding[1] = True
    assert as_usual(pulls, riding.ravel())[0, 100] < 0.01


# What over_laps makes of it.


def ring(radius_m=60.0, closed=True):
    turn = np.linspace(0.0, 2.0 * np.pi, 721)[: -1 if closed else 361]
    return StationLine.through(radius_m * np.cos(turn), radius_m * np.sin(turn), closed)


def ridden(line, laps, speed_mps, radius_m):
    """Knots and spline coefficients of a ride at a steady speed."""
    knots = Knots(0.0, STEP_S, int(laps * line.length_m / speed_mps / STEP_S))
    angle = speed_mps / radius_m * STEP_S * (np.arange(knots.coefficients) - 0.5 * (DEGREE - 1))
    return knots, radius_m * np.stack([np.cos(angle), np.sin(angle)], axis=1)


@pytest.mark.parametrize("closed", [True, False])
def test_the_mean_over_passes_falls_off_along_the_course_by_six_metres(closed):
    line = ring(closed=closed)
    knots, path = ridden(line, 3.0 if closed else 1.0, 15.0, 60.0)
    rng = np.random.default_rng(3)
    weight, power = rng.uniform(0.1, 1.0, (2, knots.intervals))
    along = AlongCourse.of(knots, path, line)
    pooled = over_laps(along, weight, over_time(knots, 0.5))
    metre = np.floor(np.mod(15.0 * knots.middle_s, line.length_m)) + 0.5
    apart = np.abs(metre[:, None] - metre)
    if closed:
        apart = np.minimum(apart, np.ceil(line.length_m) - apart)
    near = np.exp(-0.5 * (apart / 6.0) ** 2)
    inner = slice(None) if closed else (metre > 30.0) & (metre < line.length_m - 30.0)
    for mean, heavy in ((pooled.usual, weight), (pooled.freedom, np.ones_like(weight))):
        expected = near @ (heavy * power) / (near @ heavy)
        np.testing.assert_allclose(mean(power)[inner], expected[inner], rtol=5e-3)
    np.testing.assert_allclose(pooled.usual_counts, 6.0 * weight)


# Moments nearby.


@pytest.mark.parametrize(("spacing_s", "over_s"), [(0.25, 1.0), (0.1, 0.7)])
def test_moments_nearby_are_weighed_as_told_and_their_mean_is_worth_as_many(spacing_s, over_s):
    knots = Knots(0.0, spacing_s, 801)
    one = np.zeros(801)
    one[400] = 1.0
    pooled = over_time(knots, over_s)
    for mean in (pooled.nearby, pooled.freedom):
        weight = mean(one)
        away_s = spacing_s * (np.arange(801) - 400)
        assert weight.sum() == pytest.approx(1.0)
        assert np.sqrt(weight @ away_s**2) == pytest.approx(over_s, rel=0.01)
    # Independent values of variance one have a mean of variance one over how many it is worth.
    assert np.sum(np.square(weight)) == pytest.approx(1.0 / pooled.nearby_counts, rel=0.01)


@pytest.mark.parametrize(("spacing_s", "around"), [(0.2, 75), (1.0, 15), (20.0, 1), (40.0, 1)])
def test_without_laps_a_quarter_of_a_minute_around_is_usual_and_counts_for_six(spacing_s, around):
    knots = Knots(0.0, spacing_s, 401)
    one = np.zeros(401)
    one[200] = 1.0
    pooled = over_time(knots, 0.5)
    weight = pooled.usual(one)
    assert np.count_nonzero(weight > 1e-9) == around
    assert weight.max() == pytest.approx(1.0 / around)
    assert np.flatnonzero(weight > 1e-9).mean() == 200.0
    np.testing.assert_array_equal(pooled.usual_counts, 6.0)
