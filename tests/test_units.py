"""Units that people read."""

import pytest

from lapkit.errors import OptionError
from lapkit.units import Units


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


def test_units_are_named_as_people_read_them():
    assert (Units.US.length, Units.US.speed, Units.US.words) == ("ft", "mph", "feet and mph")
    assert (Units.METRIC.length, Units.METRIC.speed) == ("m", "km/h")
    assert Units.METRIC.words == "metres and km/h"
