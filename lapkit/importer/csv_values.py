"""Latitudes and longitudes of a CSV log, in whatever form they were written → degrees."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from lapkit.importer.csv_columns import SPEED_UNITS
from lapkit.importer.repeats import offsets_m
from lapkit.units import FloatArray

_ANGLE = re.compile(
    r"\s*([NSEWnsew])?\s*([+-]?)\s*(\d+(?:\.\d*)?)\s*(?:[°ºd:\s]\s*(?:(\d+(?:\.\d*)?)\s*['′’m:\s]?\s*"
    r"(?:(\d+(?:\.\d*)?)\s*(?:\"|″|”|''|s)?\s*)?)?)?([NSEWnsew])?\s*"
)
_MINUTES = re.compile(r"\d{3,5}\.\d+")
_LONGEST = 60  # no angle is written longer
_SAMPLE = 10_000  # rows looked at; the rest is alike
_SAME_WITHIN = 0.06  # knots and miles an hour, the nearest units, differ by 0.14 as logarithms
_MOVING_MPS = 3.0  # slower, the noise of places is as large as the way
_ROWS_TO_JUDGE = 20  # fewer are chance


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
    before, sign, whole, minutes, seconds, after = match.groups()
    if _MINUTES.fullmatch(whole) and not minutes and (before or after):
        # As in NMEA 0183: 4807.038N is 48 degrees and 7.038 minutes.
        whole, minutes = whole[: whole.index(".") - 2] or "0", whole[whole.index(".") - 2 :]
    degrees = float(whole) + float(minutes or 0) / 60 + float(seconds or 0) / 3600
    negative = (sign == "-") != ((before or after or "").upper() in ("S", "W"))
    return -degrees if negative else degrees


def from_degrees_minutes(lat: FloatArray, lon: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Numbers ``(n,)`` such as 4807.038 → degrees, when latitudes or longitudes are too large to be degrees.

    Nothing when they may be degrees (some count longitude to 360), or when their last two whole
    digits are no minutes.
    """
    pick = slice(None, None, max(1, len(lat) // _SAMPLE))
    known = np.isfinite(lat[pick]) & np.isfinite(lon[pick])
    if not known.any():
        return None
    sizes = np.abs(lat[pick][known]), np.abs(lon[pick][known])
    if np.median(sizes[0]) <= 90 and np.median(sizes[1]) <= 360:
        return None
    usual = (sizes[0] <= 9000) & (sizes[1] <= 18_000)
    if (
        np.mean(usual) < 0.5
        or np.any(sizes[0][usual] % 100 >= 60)
        or np.any(sizes[1][usual] % 100 >= 60)
    ):
        return None
    return _split_minutes(lat), _split_minutes(lon)


def _split_minutes(values: FloatArray) -> FloatArray:
    size = np.abs(values)
    return np.copysign(size // 100 + size % 100 / 60, values)


def signs(sides: Sequence[str]) -> FloatArray:
    """A column of N, S, E or W → 1 or -1, and NaN where the side is not said; shape ``(n,)``."""
    meanings = {"N": 1.0, "E": 1.0, "S": -1.0, "W": -1.0}
    return np.array([meanings.get(side.strip().upper()[:1], np.nan) for side in sides])


def speed_unit(
    time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray, speed: FloatArray
) -> str:
    """The unit in which a speed column agrees with the positions, "" when none does.

    Args:
        time_s, lat_deg, lon_deg, speed: shape ``(n,)``, as read, NaN allowed.
    """
    known = (
        np.isfinite(time_s)
        & np.isfinite(speed)
        & (np.abs(lat_deg) <= 90)
        & (np.abs(lon_deg) <= 360)
    )
    time_s, lat_deg, lon_deg, speed = (a[known] for a in (time_s, lat_deg, lon_deg, speed))
    if len(time_s) < _ROWS_TO_JUDGE:
        return ""
    step = np.median(np.diff(time_s))
    # Over a second or so, so that the steps of the positions do not matter.
    stride = int(max(1.0, min(len(time_s) // 2, 1.0 / max(step, 1e-3))))
    length = np.hypot(*offsets_m(lat_deg, lon_deg, stride))
    taken = time_s[stride:] - time_s[:-stride]
    middle = (speed[stride:] + speed[:-stride]) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        by_position = length / taken
        moving = (taken > 0) & (by_position > _MOVING_MPS) & (by_position < 200)
        ratio = middle[moving] / by_position[moving]
    if len(ratio) < _ROWS_TO_JUDGE or not np.median(ratio) > 0:
        return ""
    errors = {unit: abs(np.log(np.median(ratio) * mps)) for unit, mps in SPEED_UNITS.items()}
    best = min(errors, key=lambda unit: errors[unit])
    return best if errors[best] < _SAME_WITHIN else ""
