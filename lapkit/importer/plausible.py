"""Which values a receiver on a road vehicle can mean, channel by channel."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import one_turn_deg
from lapkit.importer.log import Dropped


class _Channel(NamedTuple):
    """A channel's name in a sentence, the range of values that can be meant, and those that mean "not known"."""

    called: str
    least: float
    most: float
    unknown: tuple[float, ...] = ()


# Ranges reach well beyond what any machine or receiver does; "not known" is as receivers and phones write it.
_CHANNELS = {
    "speed_mps": _Channel("speed", 0.0, 200.0, unknown=(-1.0,)),
    "heading_deg": _Channel("heading", -360.0, 360.0, unknown=(-1.0,)),
    "height_m": _Channel("height", -1_000.0, 20_000.0),
    "accuracy_m": _Channel("accuracy", 0.0, 1e5, unknown=(-1.0,)),
    "hdop": _Channel("HDOP", 0.0, 99.0, unknown=(99.0, 99.9, 99.99, 100.0)),
    "satellites": _Channel("number of satellites", 0.0, 500.0),
    "fix_quality": _Channel("fix quality", 0.0, 100.0),
}


def one_turn(lon_deg: FloatArray) -> tuple[FloatArray, tuple[Dropped, ...]]:
    """Longitudes ``(n,)`` brought into [-180, 180), and how many lay outside.

    Those that lay inside stay as they are, to the last digit.
    """
    outside = (lon_deg < -180.0) | (lon_deg >= 180.0)
    if not outside.any():
        return lon_deg, ()
    done = "brought into -180° to 180°"
    altered = Dropped("with a longitude beyond 180°", int(outside.sum()), done=done)
    return np.where(outside, one_turn_deg(lon_deg), lon_deg), (altered,)


def plausible(name: str, values: FloatArray) -> tuple[FloatArray | None, tuple[Dropped, ...]]:
    """A channel with NaN for values that cannot be meant, and how many those were.

    Args:
        name: the channel's field of :class:`~lapkit.importer.log.Log`.
        values: as logged, in the unit of that field, ``(n,)``.

    Returns:
        The values, ``(n,)``, or None when none is left; headings in [0, 360). Values that mean "not known"
        become NaN too, but are no fault and are not counted.
    """
    dropped: tuple[Dropped, ...] = ()
    channel = _CHANNELS[name]
    values = np.where(np.isin(values, channel.unknown), np.nan, values)
    with np.errstate(invalid="ignore"):
        impossible = (values < channel.least) | (values > channel.most)
    if impossible.any():
        reason = f"with an impossible {channel.called}"
        dropped = (Dropped(reason, int(impossible.sum()), done="used without it"),)
        values[impossible] = np.nan
    if name == "heading_deg":
        values %= 360.0
    return values if np.isfinite(values).any() else None, dropped
