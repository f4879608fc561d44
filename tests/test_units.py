"""Units that people read, and arrays that nobody can change."""

import numpy as np
import pytest

from lapkit.errors import OptionError
from lapkit.units import Units, locked, read_only


@pytest.mark.parametrize("name", ["us", "US", Units.US])
def test_units_are_known_by_name_in_any_case(name):
    assert Units.named(name) is Units.US


def test_other_units_are_refused_with_the_names_there_are():
    with pytest.raises(
        OptionError, match=r"no units are called 'furlongs'\. Use one of metric, us"
    ):
        Units.named("furlongs")


def test_sizes_are_those_of_their_definitions():
    # International yard and pound agreement of 1959: a foot is 0.3048 m, a mile 5280 of them.
    assert Units.US.length_m == 0.3048
    assert Units.US.speed_mps == pytest.approx(5280 * 0.3048 / 3600, rel=1e-15)
    assert Units.METRIC.length_m == 1.0
    assert 36.0 * Units.METRIC.speed_mps == pytest.approx(10.0, rel=1e-15)


def test_a_read_only_copy_does_not_follow_the_array_it_was_made_of():
    given = np.array([1, 2])
    kept = read_only(given)
    given[0] = 5
    assert kept.tolist() == [1.0, 2.0]
    assert kept.dtype == np.float64
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 3.0


def test_a_locked_array_is_the_same_values_but_for_writing():
    given = np.array([1.0, 2.0])
    kept = locked(given)
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 3.0
    assert np.shares_memory(kept, given) and given.flags.writeable
