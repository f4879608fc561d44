"""The step in which coordinates were written, longitudes brought into one turn, and rough distances."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE, offsets_m, one_turn_deg, step_deg


@pytest.mark.parametrize("decimals", range(3, 10))
def test_the_step_of_decimal_degrees_is_found(decimals):
    rng = np.random.default_rng(decimals)
    lat, lon = np.round(rng.uniform(-90, 90, (2, 500)), decimals)
    assert step_deg(lat, lon) == pytest.approx(10.0**-decimals)


@pytest.mark.parametrize("decimals", range(2, 7))
def test_the_step_of_decimal_minutes_is_found(decimals):
    rng = np.random.default_rng(decimals)
    minutes = np.round(rng.uniform(0, 60, (2, 500)), decimals)
    lat, lon = np.array([[47.0], [-122.0]]) + minutes / 60
    assert step_deg(lat, lon) == pytest.approx(10.0**-decimals / 60)


def test_positions_without_a_step_have_none():
    lat, lon = np.random.default_rng(0).uniform(-90, 90, (2, 500))
    assert np.isnan(step_deg(lat, lon))


def test_a_few_values_mended_by_hand_do_not_hide_the_step_of_the_others():
    lat, lon = np.round(np.random.default_rng(0).uniform(-90, 90, (2, 100)), 5)
    lat[:9] = 47.1234567
    lon[4:12] += 1.23e-7
    assert step_deg(lat, lon) == pytest.approx(1e-5)


@pytest.mark.parametrize("decimals", [5, 6, 7])
def test_a_line_along_a_meridian_is_not_taken_for_coarser_than_it_is(decimals):
    lat = np.round(np.random.default_rng(decimals).uniform(-90, 90, 40), decimals)
    assert step_deg(lat, np.full(40, -33.0)) == pytest.approx(10.0**-decimals)


def test_places_given_in_whole_degrees_are_in_the_coarsest_step():
    assert step_deg(np.array([47.0]), np.array([8.0])) == pytest.approx(1e-3)


def test_longitudes_and_their_differences_go_the_shorter_way_round():
    assert one_turn_deg([-180.0, -1.0, 0.0, 179.5]).tolist() == [-180.0, -1.0, 0.0, 179.5]
    assert one_turn_deg([180.0, 190.0, 359.0, -190.0]).tolist() == [-180.0, -170.0, -1.0, 170.0]
    assert one_turn_deg(-179.0 - 179.0) == 2.0


def test_offsets_are_those_of_the_sphere_and_cross_the_antimeridian():
    east, north = offsets_m(np.array([0.0, 1.0]), np.array([179.5, -179.5]))
    assert north == pytest.approx([METRES_PER_DEGREE])
    assert east == pytest.approx([METRES_PER_DEGREE])
    east, _ = offsets_m(np.array([60.0, 60.0, 60.0]), np.array([0.0, 1.0, 2.0]), stride=2)
    assert east == pytest.approx([METRES_PER_DEGREE], rel=1e-12)
