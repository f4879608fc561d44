from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from lapkit.course import place, read_track
from lapkit.sample import sample_event
from lapkit.simulate.courses import built_in
from lapkit.simulate.road import Road

LENGTH_M = 400.0
WAVE_1PM = 2.0 * np.pi / LENGTH_M


@pytest.fixture(scope="module")
def hilly():
    """A loop with one hill of 5 m either way: its height is a cosine of the station."""
    at = np.linspace(0.0, LENGTH_M, 401)
    height = 5.0 * np.cos(WAVE_1PM * at)
    height[-1] = height[0]
    return Road(CubicSpline(at, height, bc_type="periodic"))


def straight(station):
    """A path along a straight whose stations are its metres."""
    return np.stack([station, np.zeros_like(station)], axis=1)


def test_heights_repeat_lap_after_lap(hilly):
    assert hilly.height_at(np.array([0.0, 100.0, 200.0])) == pytest.approx(
        [5.0, 0.0, -5.0], abs=1e-6
    )
    assert hilly.height_at(np.array([730.0]))[0] == pytest.approx(
        hilly.height_at(np.array([330.0]))[0]
    )


def test_the_road_bends_up_in_a_dip_and_down_over_a_crest(hilly):
    crest, dip = hilly.vertical_at(np.array([0.0, 200.0]))
    # derived: the second derivative of a cosine at its ends, where the grade is zero
    assert crest == pytest.approx(-5.0 * WAVE_1PM**2, rel=1e-4)
    assert dip == pytest.approx(5.0 * WAVE_1PM**2, rel=1e-4)


@pytest.mark.parametrize("braking_mps2", [0.0, 6.0])
def test_under_a_path_the_road_bends_as_at_its_stations_however_fast_it_is_passed(
    hilly, braking_mps2
):
    time = np.arange(0.0, 4.0, 0.05)
    station = 150.0 + 40.0 * time - 0.5 * braking_mps2 * time**2
    under = hilly.vertical_under(station, straight(station), 0.05)
    inner = slice(3, -3)  # the differences at the ends are one-sided
    assert under[inner] == pytest.approx(hilly.vertical_at(station)[inner], abs=2e-6)


def test_a_path_that_covers_more_road_for_each_station_bends_less(hilly):
    time = np.arange(0.0, 4.0, 0.05)
    station = 150.0 + 20.0 * time
    # Outside of a bend: a fifth more metres for each metre of station, over the same crest.
    under = hilly.vertical_under(station, straight(1.2 * station), 0.05)
    assert under[3:-3] == pytest.approx(hilly.vertical_at(station)[3:-3] / 1.44, rel=0.02)


def test_where_nobody_moves_the_road_does_not_bend(hilly):
    station = np.full(20, 200.0)
    assert np.all(hilly.vertical_under(station, straight(station), 0.05) == 0.0)


def test_a_course_without_heights_is_flat():
    flat = Road.of(replace(built_in("twisty"), profile=None, track=None))
    station = np.arange(0.0, 500.0, 50.0)
    assert np.all(flat.height_at(station) == 0.0)
    assert np.all(flat.vertical_at(station) == 0.0)


def test_a_centre_whose_first_points_have_no_height_has_a_road_all_the_same():
    track = read_track(sample_event() / "track.geojson")
    height = np.array(track.centre.height_m)
    height[:5] = np.nan
    part = replace(track, centre=replace(track.centre, height_m=height))
    whole, patched = (Road.of(place(one)) for one in (track, part))
    station = np.arange(300.0, 2000.0, 50.0)
    away = patched.height_at(station) - whole.height_at(station)
    assert away == pytest.approx(np.mean(away), abs=0.1)
    assert patched.height_at(np.zeros(1))[0] == pytest.approx(height[5], abs=0.01)
