"""Headers of CSV logs: which words name which column, and which unit is given with them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from lapkit.units import FOOT_M, KMH_MPS, KNOT_MPS, MPH_MPS

HEADERS: dict[str, tuple[str, ...]] = {
    "time": (
        "timestamp", "date time", "datetime", "time stamp", "utc timestamp", "timestamp utc",
        "utc date time", "utc datetime", "date and time", "local date time", "utc time", "time utc",
        "utc", "time", "time of day", "local time", "time local", "clock", "epoch", "epoch time",
        "unix time", "unix timestamp", "unix", "elapsed time", "elapsed", "time elapsed",
        "seconds elapsed", "session time", "log time", "relative time", "seconds",
        "time since start",
    ),
    "date": ("date", "utc date", "date utc", "local date", "day"),
    "lat": ("latitude", "lat", "position latitude", "position lat", "latitude wgs84"),
    "lon": ("longitude", "lon", "lng", "long", "position longitude", "position lon",
            "position long", "longitude wgs84"),
    "lat_side": ("n s", "ns", "latitude n s", "lat n s", "lat ns", "lat hemisphere",
                 "latitude hemisphere", "lat dir", "latitude direction", "lat direction"),
    "lon_side": ("e w", "ew", "longitude e w", "lon e w", "lon ew", "lon hemisphere", "w e",
                 "longitude hemisphere", "lon dir", "longitude direction", "lon direction"),
    "speed": ("speed", "velocity", "ground speed", "speed over ground", "sog", "vel", "groundspeed",
              "speed 2d", "velocity over ground"),
    "heading": ("heading", "course", "bearing", "course over ground", "cog", "direction",
                "track angle", "true heading", "true course", "heading of motion", "head",
                "azimuth"),
    "height": ("height", "altitude", "elevation", "ele", "alt", "elev", "altitude msl",
               "height msl", "msl altitude", "msl", "height above sea level",
               "altitude ellipsoidal"),
    "hdop": ("hdop", "horizontal dilution of precision", "horizontal dop"),
    "accuracy": ("accuracy", "horizontal accuracy", "hacc", "h acc", "acc h", "position accuracy",
                 "pos acc", "pos accuracy", "accuracy horizontal", "horizontal error", "eph"),
    "satellites": ("satellites", "sats", "sat", "satellites used", "satellites in use", "num sats",
                   "number of satellites", "nsat", "nsats", "sats used", "satellite count",
                   "num satellites", "no of satellites", "sv used"),
    "rider": ("rider", "rider name", "rider id", "driver", "competitor", "device", "device id",
              "deviceid", "logger id", "transponder", "transponder id", "bike", "bike id"),
    "fix": ("fix", "fix quality", "quality", "fix type", "fix mode", "fix status"),
}  # fmt: skip
"""Column → headers in lower case, words apart, without the unit; the most telling first."""

COLUMN_NAMES = tuple(HEADERS)
"""The names that ``--columns`` understands, besides the headers themselves."""

CHANNEL_OF = {
    "speed": "speed_mps",
    "heading": "heading_deg",
    "height": "height_m",
    "hdop": "hdop",
    "accuracy": "accuracy_m",
    "satellites": "satellites",
    "fix": "fix_quality",
}
"""Column → channel of :class:`~lapkit.importer.log.Log`."""

SPEED_UNITS = {"m/s": 1.0, "km/h": KMH_MPS, "mph": MPH_MPS, "knots": KNOT_MPS, "ft/s": FOOT_M}
"""Unit of speed → metres per second."""

LENGTH_UNITS = {"m": 1.0, "ft": FOOT_M, "km": 1000.0}
"""Unit of length → metres."""

UNIT_SIZES = {**SPEED_UNITS, **LENGTH_UNITS, "deg": 1.0, "rad": math.degrees(1.0)}
"""Unit of an optional channel → the unit in which a log holds it: metres, m/s or degrees."""

TIME_UNITS = {"s": 1.0, "ms": 1e-3, "µs": 1e-6, "ns": 1e-9, "min": 60.0}
"""Unit of time → seconds."""

_SPELLINGS = {
    "m/s": ("m/s", "mps", "m s", "ms-1", "m s-1", "m/sec", "meters/second", "metres/second",
            "meters per second", "metres per second", "m.s-1"),
    "km/h": ("km/h", "kmh", "kph", "kmph", "km h", "km/hr", "kmh-1", "km h-1"),
    "mph": ("mph", "mi/h", "miles/h", "miles per hour", "mi/hr"),
    "knots": ("knots", "knot", "kn", "kt", "kts", "nm/h", "nmi/h"),
    "ft/s": ("ft/s", "fps", "ft/sec", "feet per second"),
    "m": ("m", "meter", "meters", "metre", "metres", "mtr"),
    "ft": ("ft", "feet", "foot", "'"),
    "km": ("km",),
    "s": ("s", "sec", "secs", "second", "seconds"),
    "ms": ("ms", "msec", "millis", "milliseconds", "millisecond"),
    "µs": ("us", "µs", "μs", "usec", "micros", "microseconds"),
    "ns": ("ns", "nanos", "nanoseconds"),
    "min": ("min", "minutes"),
    "deg": ("deg", "°", "degree", "degrees", "decimal degrees", "dd", "deg."),
    "rad": ("rad", "radian", "radians"),
}  # fmt: skip
UNIT_OF = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}
"""Spelling of a unit in lower case → unit."""

_ANGLE_UNITS = ("deg", "rad")
# Which units make sense for a column.
_FITTING = {
    "speed": SPEED_UNITS,
    "height": LENGTH_UNITS,
    "accuracy": LENGTH_UNITS,
    "time": TIME_UNITS,
    "heading": _ANGLE_UNITS,
    "lat": _ANGLE_UNITS,
    "lon": _ANGLE_UNITS,
}
# Words that say who measured, not what.
_WHO_MEASURED = {"gps", "gnss", "receiver", "logger", "wgs84"}
_BRACKETED = re.compile(r"[\[({<]([^\])}>]*)[\])}>]")
_BETWEEN_WORDS = re.compile(r"[\s_\-./\\:,;|\"'#%]+")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")


@dataclass(frozen=True)
class Header:
    """What a header says: the column, how telling its words are (the lowest rank is best), and the unit or ""."""

    column: str
    rank: int
    unit: str


@lru_cache(maxsize=4096)
def recognise(text: str) -> Header | None:
    """What a header such as ``GPS Speed (km/h)`` or ``speed_kmh`` names; None when it names no column."""
    words = _words(text)
    for unit_words in (0, 1, 2):  # the last words may be a unit without brackets
        found = _column_of(words[: len(words) - unit_words])
        if found is None:
            continue
        column, rank = found
        unit = unit_in(text, column)
        if unit or not unit_words:
            return Header(column, rank, unit)
    return None


def unit_in(text: str, column: str) -> str:
    """The unit in a header: in brackets, or its last one or two words; "" when there is none."""
    words = _words(text)
    endings = [" ".join(words[-1:]), " ".join(words[-2:])] if len(words) > 1 else []
    for spelling in (*_BRACKETED.findall(text), *endings):
        if unit := fitting_unit(column, spelling):
            return unit
    return ""


def fitting_unit(column: str, text: str) -> str:
    """The unit that ``text`` spells for a column, "" when it is none or does not fit."""
    text = text.strip().lower().strip("[](){}<> ")
    if column == "speed" and text == "ms":
        return "m/s"  # and not milliseconds
    unit = UNIT_OF.get(text, "")
    return unit if unit in _FITTING.get(column, ()) else ""


def _words(text: str) -> list[str]:
    plain = _CAMEL.sub(" ", _BRACKETED.sub(" ", text)).lower()
    return [word for word in _BETWEEN_WORDS.split(plain) if word]


def _column_of(words: list[str]) -> tuple[str, int] | None:
    """The column that words name, and their rank; of two equal headers the one that names the receiver wins."""
    telling = [word for word in words if word not in _WHO_MEASURED]
    for phrase in (" ".join(words), " ".join(telling)):
        for column, headers in HEADERS.items():
            if phrase in headers:
                return column, 2 * headers.index(phrase) - (len(telling) < len(words))
    return None
