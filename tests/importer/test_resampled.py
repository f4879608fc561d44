"""Rows that an export drew between two fixes of the receiver."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.coordinates import METRES_PER_DEGREE
from lapkit.importer.resampled import drawn_between

LAT = 52.0


def weaving(rate_hz, seconds=600.0, noise_m=0.06):
    """Time, and metres north and east, of a rider who weaves at 25 m/s, stands, and weaves on."""
    time_s = np.arange(0.0, seconds, 1.0 / rate_hz)
    rode_s = np.minimum(time_s, 200.0) + np.maximum(time_s - 240.0, 0.0)
    noise = noise_m * np.random.default_rng(7).standard_normal((2, len(time_s)))
    return time_s, 25.0 * rode_s + noise[0], 60.0 * np.sin(rode_s / 3.0) + noise[1]


def written(north, east, decimals):
    lat = LAT + north / METRES_PER_DEGREE
    lon = 179.99 + east / METRES_PER_DEGREE / np.cos(np.radians(LAT))
    return np.round(lat, decimals), (np.round(lon, decimals) + 180.0) % 360.0 - 180.0


def resampled(fix_hz, rate_hz, decimals=7):
    time_s, north, east = weaving(fix_hz)
    rows_s = np.arange(0.0, time_s[-1], 1.0 / rate_hz)
    places = (np.interp(rows_s, time_s, values) for values in (north, east))
    return rows_s, *written(*places, decimals)


@pytest.mark.parametrize(
    ("fix_hz", "rate_hz", "decimals"),
    [(1, 10, 7), (1, 25, 7), (2, 10, 7), (5, 10, 7), (1, 25, 8), (5, 25, 8), (5, 25, 12)],
)
def test_rows_between_fixes_are_found(fix_hz, rate_hz, decimals):
    time_s, lat, lon = resampled(fix_hz, rate_hz, decimals)
    kept_s = time_s[~drawn_between(time_s, lat, lon)]
    assert np.isin(np.round(np.arange(0.0, 190.0, 1.0 / fix_hz), 3), np.round(kept_s, 3)).all()
    assert len(kept_s) == pytest.approx(len(time_s) * fix_hz / rate_hz, rel=0.02)


@pytest.mark.parametrize("noise_m", [0.0, 0.01, 0.3])
@pytest.mark.parametrize("decimals", [5, 6, 7, 9])
@pytest.mark.parametrize("rate_hz", [1, 5, 10, 25])
def test_what_was_measured_stays(rate_hz, decimals, noise_m):
    time_s, north, east = weaving(rate_hz, noise_m=noise_m)
    assert not drawn_between(time_s, *written(north, east, decimals)).any()


@pytest.mark.parametrize("count", [0, 1, 2, 49])
def test_a_few_rows_tell_nothing(count):
    rows = [column[:count] for column in resampled(1, 10)]
    assert drawn_between(*rows).tolist() == [False] * count
