"""The unit of a speed, told by the positions."""

import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.importer.csv_columns import SPEED_UNITS
from lapkit.importer.csv_speed import speed_unit


def straight(mps=20.0, rows=200, rate_hz=10.0):
    time_s = np.arange(rows) / rate_hz
    return time_s, 50.0 + mps * time_s / METRES_PER_DEGREE, np.full(rows, 8.0)


@pytest.mark.parametrize("unit", SPEED_UNITS)
@pytest.mark.parametrize("error", [0.96, 1.04])
def test_the_unit_that_agrees_best_is_taken(unit, error):
    time_s, lat, lon = straight()
    assert speed_unit(time_s, lat, lon, np.full(200, error * 20.0 / SPEED_UNITS[unit])) == unit


@pytest.mark.parametrize("speed", [0.0, 1.0, 7000.0, np.nan, 18.5, 21.6])
def test_a_speed_that_agrees_in_no_unit_has_none(speed):
    assert speed_unit(*straight(), np.full(200, speed)) == ""


def test_a_few_rows_or_a_standing_rider_tell_nothing():
    time_s, lat, lon = straight(rows=19)
    assert speed_unit(time_s, lat, lon, np.full(19, 20.0)) == ""
    assert speed_unit(*straight(mps=2.0), np.full(200, 2.0)) == ""


def test_rows_without_a_place_or_a_time_do_not_count():
    time_s, lat, lon = straight()
    speed = np.full(200, 20.0)
    time_s[3], lat[50], lon[90], lat[120], lon[150], speed[160] = (
        np.nan,
        np.nan,
        np.nan,
        91.0,
        361.0,
        np.nan,
    )
    assert speed_unit(time_s, lat, lon, speed) == "m/s"


def test_times_in_whole_seconds_tell_it_too():
    """On a ring of 100 m radius: half a minute later he is anywhere on it."""
    time_s = np.arange(900) / 10.0
    angle = 20.0 / 100.0 * time_s
    lat = 50.0 + 100.0 * np.sin(angle) / METRES_PER_DEGREE
    lon = 8.0 + 100.0 * np.cos(angle) / METRES_PER_DEGREE / np.cos(np.radians(50.0))
    assert speed_unit(np.floor(time_s), lat, lon, np.full(900, 72.0)) == "km/h"


def test_coarse_positions_are_compared_over_a_second():
    """At 25 Hz and 20 m/s most rows in steps of 1.1 m repeat a position or leap by 1.1 m."""
    time_s, lat, lon = straight(rows=600, rate_hz=25.0)
    assert speed_unit(time_s, np.round(lat, 5), lon, np.full(600, 20.0)) == "m/s"
