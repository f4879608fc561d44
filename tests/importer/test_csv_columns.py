from __future__ import annotations

import pytest

from lapkit.importer.csv_columns import (
    CHANNEL_OF,
    COLUMN_NAMES,
    HEADERS,
    UNIT_OF,
    fitting_unit,
    recognise,
    unit_in,
)
from lapkit.importer.log import CHANNELS


@pytest.mark.parametrize(
    ("text", "column", "unit"),
    [
        ("latitude", "lat", ""),
        ("Lat", "lat", ""),
        ("LAT [°]", "lat", "deg"),
        ("gpsLat", "lat", ""),
        ("Latitude (deg)", "lat", "deg"),
        ("lng", "lon", ""),
        ("long", "lon", ""),
        ("Longitude_rad", "lon", "rad"),
        ("N/S", "lat_side", ""),
        ("E/W", "lon_side", ""),
        ("Speed (km/h)", "speed", "km/h"),
        ("speed_kmh", "speed", "km/h"),
        ("speedMps", "speed", "m/s"),
        ("Speed MPH", "speed", "mph"),
        ("speed_m_s", "speed", "m/s"),
        ("GPS Speed [knots]", "speed", "knots"),
        ("Ground speed (ft/s)", "speed", "ft/s"),
        ("speed (ms)", "speed", "m/s"),
        ("Velocity", "speed", ""),
        ("Course over ground", "heading", ""),
        ("bearing", "heading", ""),
        ("Altitude [ft]", "height", "ft"),
        ("ele", "height", ""),
        ("Horizontal accuracy (m)", "accuracy", "m"),
        ("HDOP", "hdop", ""),
        ("Sats", "satellites", ""),
        ("fix quality", "fix", ""),
        ("UTC", "time", ""),
        ("Time (s)", "time", "s"),
        ("timestamp_ms", "time", "ms"),
        ("timestamp [µs]", "time", "µs"),
        ("Elapsed time (sec)", "time", "s"),
        ("Date", "date", ""),
        ("# time", "time", ""),
    ],
)
def test_usual_headers_are_recognised_with_their_units(text, column, unit):
    header = recognise(text)
    assert (header.column, header.unit) == (column, unit)


@pytest.mark.parametrize(
    "text",
    ["", "   ", "()", "speed accuracy", "lap time delta", "x", "latency", "throttle", "km/h", "m",
     "(s)", "vertical speed", "longitudinal acceleration", "\N{SNOWMAN}"],
)  # fmt: skip
def test_other_headers_are_not_guessed_at(text):
    assert recognise(text) is None


def test_the_more_telling_header_ranks_first():
    ranks = [recognise(t).rank for t in ("timestamp", "UTC", "time", "elapsed time")]
    assert ranks == sorted(ranks)
    assert recognise("GPS speed").rank < recognise("speed").rank


def test_units_that_do_not_fit_are_none():
    assert fitting_unit("speed", "ft") == ""
    assert fitting_unit("height", "km/h") == ""
    assert fitting_unit("time", "m") == ""
    assert fitting_unit("hdop", "m") == ""
    assert fitting_unit("speed", "[ Km/H ]") == "km/h"
    assert unit_in("Speed (GPS) (mph)", "speed") == "mph"


def test_every_channel_and_unit_has_its_column():
    words = [header for headers in HEADERS.values() for header in headers]
    assert len(words) == len(set(words))
    assert all(recognise(word).column == column for column, h in HEADERS.items() for word in h)
    assert set(CHANNEL_OF) <= set(COLUMN_NAMES)
    assert set(CHANNEL_OF.values()) == set(CHANNELS)
    assert all(spelling == spelling.lower() for spelling in UNIT_OF)
