"""Formulas of lean, grip and tyre: signs, limits, and that numbers and arrays give the same."""

import numpy as np
import pytest

from lapkit.curvature import radius_m
from lapkit.lean import (
    balance_lean_deg,
    balance_tangent,
    grip_demand,
    grip_of_tangents,
    road_lean_deg,
    speed_at_lean_mps,
    tyre_width_lean_deg,
)
from lapkit.units import GRAVITY_MPS2


def test_lean_has_the_sign_of_curvature():
    lean = balance_lean_deg(20.0, np.array([0.02, -0.02, 0.0]))
    assert lean[0] == pytest.approx(-lean[1])
    assert lean[0] > 0
    assert lean[2] == 0.0


def test_arguments_broadcast_and_are_not_changed():
    speed, curvature = np.array([[10.0], [20.0]]), np.array([0.01, 0.02, 0.03])
    kept = speed.copy(), curvature.copy()
    assert balance_tangent(speed, curvature, np.zeros(3), 0.0).shape == (2, 3)
    np.testing.assert_array_equal(speed, kept[0])
    np.testing.assert_array_equal(curvature, kept[1])


def test_a_crest_that_would_lift_the_wheels_leaves_the_lean_defined():
    lean = balance_lean_deg(60.0, 0.01, -1.0 / 300.0)
    assert 45.0 < lean < 90.0


def test_a_climb_asks_for_less_lean_at_the_same_speed_along_the_road():
    # In plan the speed is less by the cosine of the slope, and so is the part of gravity across the road.
    climb = np.radians(20.0)
    assert balance_tangent(20.0, 0.02, 0.0, np.tan(climb)) == pytest.approx(
        balance_tangent(20.0, 0.02) * np.cos(climb)
    )


def test_grip_stays_defined_where_no_road_is():
    assert grip_of_tangents(3.0, -0.4) == pytest.approx(3.4 / 0.05)


def test_off_camber_adds_to_the_lean_from_the_road():
    assert road_lean_deg(40.0, -3.0) == 43.0
    assert grip_demand(40.0, -3.0) > grip_demand(40.0) > grip_demand(40.0, 3.0)


def test_a_road_banked_beyond_the_lean_asks_for_grip_as_well():
    assert grip_demand(5.0, 12.0) == pytest.approx(np.tan(np.radians(7.0)))


@pytest.mark.parametrize("vertical", [0.0, 1 / 400, -1 / 400])
def test_speed_at_lean_undoes_balance_lean(vertical):
    lean = balance_lean_deg(22.0, 1 / 45.0, vertical)
    assert speed_at_lean_mps(45.0, lean, vertical) == pytest.approx(22.0)


def test_speed_at_lean_is_the_same_to_either_side():
    assert speed_at_lean_mps(45.0, -35.0) == speed_at_lean_mps(45.0, 35.0)


def test_a_dip_deep_enough_balances_at_any_speed():
    # In a dip of radius 40 m a corner of radius 50 m never asks for more than atan(40 / 50).
    assert speed_at_lean_mps(50.0, 39.0, 1 / 40.0) == np.inf


def test_tyre_width_adds_nothing_upright_and_more_the_further_over():
    extra = tyre_width_lean_deg(np.array([0.0, 20.0, 40.0])) - np.array([0.0, 20.0, 40.0])
    assert extra[0] == 0.0
    assert 0.0 < extra[1] < extra[2]


def test_lean_of_a_flat_turn_by_hand():
    assert balance_lean_deg(np.sqrt(GRAVITY_MPS2 * 30.0), 1 / 30.0) == pytest.approx(45.0)


def test_at_no_radius_nothing_can_be_ridden():
    assert speed_at_lean_mps([0.0, np.inf], 40.0).tolist() == [0.0, np.inf]


@pytest.mark.parametrize(
    ("formula", "arguments"),
    [
        (balance_tangent, ([20.0, 30.0], [0.02, -0.01], [0.002, -0.002], [0.05, -0.05])),
        (balance_lean_deg, ([20.0, 30.0], [0.02, -0.01], [0.002, -0.002], [0.05, -0.05])),
        (road_lean_deg, ([40.0, 20.0], [-3.0, 2.0])),
        (grip_of_tangents, ([0.8, 0.3], [-0.05, 0.03])),
        (grip_demand, ([40.0, 20.0], [-3.0, 2.0])),
        (speed_at_lean_mps, ([45.0, np.inf], [40.0, 20.0], [0.002, 0.0])),
        (tyre_width_lean_deg, ([40.0, -20.0],)),
        (radius_m, ([0.02, 0.0],)),
    ],
    ids=lambda given: getattr(given, "__name__", None),
)
def test_a_formula_gives_the_same_of_numbers_and_of_arrays(formula, arguments):
    together = formula(*(np.array(values) for values in arguments))
    one_by_one = [formula(*values) for values in zip(*arguments, strict=True)]
    assert together.tolist() == one_by_one
    assert [np.shape(value) for value in one_by_one] == [(), ()]
