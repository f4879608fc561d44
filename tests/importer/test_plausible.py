"""Values that no receiver on a road vehicle can mean."""

import numpy as np
import pytest

from lapkit.importer.plausible import one_turn, plausible


@pytest.mark.parametrize(
    ("channel", "kept", "refused"),
    [
        ("speed_mps", [0.0, 200.0], [-0.1, 200.1]),
        ("heading_deg", [0.0, 359.0], [-361.0, 361.0]),
        ("height_m", [-1000.0, 20_000.0], [-1001.0, 20_001.0]),
        ("accuracy_m", [0.0, 1e5], [-0.5, 1e6]),
        ("hdop", [0.0, 98.0], [-1.0, 99.5]),
        ("satellites", [0.0, 500.0], [-1.0, 501.0]),
        ("fix_quality", [0.0, 100.0], [-1.0, 101.0]),
    ],
)
def test_what_lies_outside_a_channels_range_is_taken_out_and_counted(channel, kept, refused):
    values, (dropped,) = plausible(channel, np.array(kept + refused))
    assert values[:2].tolist() == kept
    assert np.isnan(values[2:]).all()
    assert dropped.count == 2
    assert dropped.done == "used without it"


@pytest.mark.parametrize(
    ("channel", "unknown"),
    [
        ("speed_mps", -1.0),
        ("heading_deg", -1.0),
        ("accuracy_m", -1.0),
        ("hdop", 99.99),
        ("hdop", 100.0),
    ],
)
def test_not_known_is_no_fault(channel, unknown):
    values, dropped = plausible(channel, np.array([unknown, 5.0]))
    assert np.isnan(values[0])
    assert values[1] == 5.0
    assert dropped == ()


def test_headings_are_brought_into_one_turn():
    values, dropped = plausible("heading_deg", np.array([-90.0, 360.0, 45.0]))
    assert values.tolist() == [270.0, 0.0, 45.0]
    assert dropped == ()


def test_a_channel_without_a_value_left_is_none():
    assert plausible("speed_mps", np.array([np.nan, -1.0]))[0] is None


def test_the_values_given_are_not_changed():
    given = np.array([500.0, -90.0])
    plausible("speed_mps", given)
    plausible("heading_deg", given)
    assert given.tolist() == [500.0, -90.0]


def test_longitudes_in_range_are_left_as_they_are():
    given = np.array([-180.0, 179.123456789])
    turned, altered = one_turn(given)
    assert turned is given
    assert altered == ()


def test_longitudes_beyond_are_turned_and_counted():
    turned, (altered,) = one_turn(np.array([180.0, 359.5, -180.5, 12.3]))
    assert turned.tolist() == [-180.0, -0.5, 179.5, 12.3]
    assert altered.count == 3
