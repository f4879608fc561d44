"""The estimate and its draws: each draw has a machine of its own, and none depends on how many another kind takes."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.importer.heights import Heights
from lapkit.path.ensemble import Drawn
from lapkit.path.offset_sight import Readings
from lapkit.path.ridden import ride_path


def test_no_two_kinds_of_draws_share_their_random_numbers():
    assert len({kind.seed(7) for kind in Drawn}) == len(Drawn)


def test_the_first_row_is_the_estimate_on_the_machine_as_given(circle, plane):
    ensemble = ride_path(circle.log(), plane, heights=Heights(com_m=0.7)).ensemble
    assert np.array_equal(ensemble.coefficients[..., 0], ensemble.estimate.solution.path)
    assert ensemble.com_height_m[0] == 0.7
    assert np.std(ensemble.com_height_m[1:]) == pytest.approx(Heights().com_sd_m, rel=0.4)


def test_no_mass_lies_on_the_road_however_little_is_known_of_it(circle, plane):
    heights = Heights(com_sd_m=5.0)
    ensemble = ride_path(circle.log(), plane, heights=heights).ensemble
    assert ensemble.com_height_m.min() == pytest.approx(0.1)


def test_under_another_offset_a_path_has_the_same_draws(circle, plane):
    path = ride_path(circle.log(), plane)
    moved = replace(path, offset=replace(path.offset, rows=path.offset.rows + 2.0))
    at = path.start_s + np.array([20.0, 30.0])
    np.testing.assert_allclose(moved.at(at).x_m, path.at(at).x_m - 2.0, atol=1e-9)


def test_how_far_a_draw_runs_aside_is_told_along_the_direction_of_each_reading(circle, plane):
    path = ride_path(circle.log(), plane)
    at = path.start_s + np.array([20.0, 30.0, 40.0])
    along = np.array([[1.0, 0.0], [0.0, 1.0], [0.6, 0.8]])
    aside = path.ensemble.beside_estimate(Readings(at, along, np.zeros(3)))
    draws = path.at(at)
    offset = path.offset.at(at)
    # The same from the paths themselves, back in the receiver's frame.
    east, north = draws.x_m + offset[:, 0], draws.y_m + offset[:, 1]
    expected = along[:, 0] * (east - east[0])[1:] + along[:, 1] * (north - north[0])[1:]
    np.testing.assert_allclose(aside, expected, atol=1e-9)
