"""Latitudes and longitudes of a CSV log, in whatever form they were written → degrees."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from lapkit.arrays import FloatArray

# Degrees, with minutes, with seconds; a letter or a sign tells the side of the globe.
_ANGLE = re.compile(
    r"""\s* (?P<before>[NSEWnsew])?
        \s* (?P<sign>[+-]?)
        \s* (?P<degrees>\d+(?:\.\d*)?)
        \s* (?: [°ºd:\s]
            \s* (?: (?P<minutes>\d+(?:\.\d*)?)
                \s* ['′’m:\s]?
                \s* (?: (?P<seconds>\d+(?:\.\d*)?)
                    \s* (?:"|″|”|''|s)?
                    \s*
                )?
            )?
        )?
        (?P<after>[NSEWnsew])? \s*""",
    re.VERBOSE,
)
_WITH_MINUTES = re.compile(r"\d{3,5}\.\d+")  # as in NMEA 0183
_LONGEST = 60  # characters; no angle is written longer
_SAMPLE = 10_000  # rows looked at; the rest is alike


def read_angles(texts: Sequence[str]) -> FloatArray:
    """Texts such as ``48.1173N``, ``N 48 07.038`` or ``48°07'02.3"`` → signed degrees.

    Returns:
        Shape ``(n,)``, NaN where a text is no angle.
    """
    return np.array([_angle(text) for text in texts], dtype=np.float64)


def _angle(text: str) -> float:
    # The length is limited because the pattern takes its time over endless blanks.
    match = _ANGLE.fullmatch(text.replace(",", ".")) if len(text) <= _LONGEST else None
    if match is None:
        return float("nan")
    degrees, minutes, seconds = match["degrees"], match["minutes"] or "0", match["seconds"] or "0"
    side = match["before"] or match["after"] or ""
    if side and not match["minutes"] and _WITH_MINUTES.fullmatch(degrees):
        # 4807.038N is 48 degrees and 7.038 minutes.
        minutes_from = degrees.index(".") - 2
        degrees, minutes = degrees[:minutes_from] or "0", degrees[minutes_from:]
    size = float(degrees) + float(minutes) / 60 + float(seconds) / 3600
    negative = (match["sign"] == "-") != (side.upper() in ("S", "W"))
    return -size if negative else size


def read_sides(texts: Sequence[str]) -> FloatArray:
    """A column of N, S, E or W → 1 or -1, and NaN where the side is not given; shape ``(n,)``."""
    signs = {"N": 1.0, "E": 1.0, "S": -1.0, "W": -1.0}
    return np.array([signs.get(text.strip().upper()[:1], np.nan) for text in texts])


def from_degrees_minutes(lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Latitudes and longitudes such as 4807.038, degrees and minutes as one number → degrees.

    Args:
        lat, lon: numbers as read, ``(n,)``.

    Returns:
        Degrees, ``(n,)`` each. None where the numbers may be degrees already (some loggers count longitude
        to 360), or where their last two whole digits cannot be minutes.
    """
    sample = slice(None, None, max(1, len(lat) // _SAMPLE))
    known = np.isfinite(lat[sample]) & np.isfinite(lon[sample])
    if not known.any():
        return None
    lat_sizes, lon_sizes = np.abs(lat[sample][known]), np.abs(lon[sample][known])
    if np.median(lat_sizes) <= 90 and np.median(lon_sizes) <= 360:
        return None
    on_globe = (lat_sizes <= 9000) & (lon_sizes <= 18_000)
    no_minutes = (lat_sizes % 100 >= 60) | (lon_sizes % 100 >= 60)
    if np.mean(on_globe) < 0.5 or np.any(no_minutes & on_globe):
        return None
    return _split_minutes(lat), _split_minutes(lon)


def _split_minutes(values: FloatArray) -> FloatArray:
    size = np.abs(values)
    return np.copysign(size // 100 + size % 100 / 60, values)
