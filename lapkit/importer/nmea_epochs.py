"""Sentences of NMEA 0183 joined to epochs: one fix for each time of day."""

from __future__ import annotations

import math
from array import array
from dataclasses import dataclass, field
from functools import lru_cache

from lapkit.importer.times import day_number, full_year
from lapkit.units import KMH_MPS, KNOT_MPS

NO_DAY = -1
"""Stands for an epoch without a date of its own."""

# Letters of GNS and RMC modes → fix quality as in GGA; of several letters the first one here counts.
_MODES = {b"R": 4, b"F": 5, b"P": 3, b"D": 2, b"A": 1, b"E": 6, b"M": 7, b"S": 8}
_CHANNELS = (
    "lat",
    "lon",
    "speed_mps",
    "heading_deg",
    "height_m",
    "hdop",
    "satellites",
    "fix_quality",
)


@dataclass(slots=True)
class _Epoch:
    """What the sentences of one time of day say; a channel that several give is the first one's.

    The methods take the fields of a sentence, and raise ValueError, IndexError or OverflowError where these
    cannot be read. ``position_digits`` is how many digits the latitude was written with.
    """

    time_us: int
    day: int = NO_DAY
    void: bool = False
    position_digits: int = 0
    values: dict[str, float] = field(default_factory=dict)

    def take_rmc(self, fields: list[bytes]) -> None:
        mode = fields[11][:1] if len(fields) > 11 else b""
        if fields[1] != b"A" or mode == b"N":
            self.void = True
        # Numbers first: a sentence with an unreadable one gives nothing.
        speed_mps, heading_deg = _number(fields[6]) * KNOT_MPS, _number(fields[7])
        self._take_position(fields[2:6])
        self._take_velocity(speed_mps, heading_deg)
        if fields[8]:
            self.day = read_day(fields[8])
        if mode in _MODES:
            self.values.setdefault("fix_quality", _MODES[mode])

    def take_gga(self, fields: list[bytes]) -> None:
        quality = _number(fields[5])
        if not quality > 0:
            self.void = True
        self._take_position(fields[1:5])
        self.values["fix_quality"] = quality  # before a mode, which is translated
        self._take_solution(fields)

    def take_gns(self, fields: list[bytes]) -> None:
        quality = next((number for mode, number in _MODES.items() if mode in fields[5]), 0)
        if not quality:
            self.void = True
        self._take_position(fields[1:5])
        self.values.setdefault("fix_quality", quality)
        self._take_solution(fields)

    def take_vtg(self, fields: list[bytes]) -> None:
        lettered = fields[1] == b"T"
        knots, kmh = (fields[4], fields[6]) if lettered else (fields[2], fields[3])
        speed_mps = _number(knots) * KNOT_MPS if knots else _number(kmh) * KMH_MPS
        self._take_velocity(speed_mps, _number(fields[0]))

    def _take_position(self, fields: list[bytes]) -> None:
        """Latitude, its side, longitude, its side; of several sentences the one with more digits wins."""
        digits = len(fields[0])
        if digits > self.position_digits and fields[2]:
            lat = _angle(fields[0], fields[1], b"S")
            lon = _angle(fields[2], fields[3], b"W")
            self.values["lat"], self.values["lon"] = lat, lon
            self.position_digits = digits

    def _take_velocity(self, speed_mps: float, heading_deg: float) -> None:
        if not math.isnan(speed_mps):
            self.values.setdefault("speed_mps", speed_mps)
        if not math.isnan(heading_deg):
            self.values.setdefault("heading_deg", heading_deg)

    def _take_solution(self, fields: list[bytes]) -> None:
        """What GGA and GNS have in the same places."""
        for name, text in zip(("satellites", "hdop", "height_m"), fields[6:9], strict=True):
            if text:
                self.values.setdefault(name, float(text))


_TAKES = {b"RMC": _Epoch.take_rmc, b"GGA": _Epoch.take_gga, b"GNS": _Epoch.take_gns}


class Epochs:
    """Epochs gathered sentence by sentence.

    Attributes:
        time_us: time of day of each epoch, whole microseconds.
        day: days since 1970-01-01 of each epoch, :data:`NO_DAY` where no sentence has a date.
        void: whether a sentence marked the epoch as no fix.
        columns: a value per epoch of each channel, NaN where no sentence gives it.
        unreadable: how many sentences have fields that cannot be read.
        timeless: how many sentences have no time of day, as at start-up.
    """

    def __init__(self) -> None:
        self.time_us = array("q")
        self.day = array("q")
        self.void = array("b")
        self.columns = {name: array("d") for name in _CHANNELS}
        self.unreadable = 0
        self.timeless = 0
        self._open: _Epoch | None = None

    def add(self, kind: bytes, fields: list[bytes]) -> None:
        """Take one sentence: its three-letter type, and the fields behind it."""
        try:
            if kind == b"VTG":
                # It has no time; receivers send it behind a sentence that has.
                if self._open:
                    self._open.take_vtg(fields)
            elif not fields[0]:
                self.timeless += 1
            else:
                _TAKES[kind](self._epoch_at(_time_us(fields[0])), fields)
        except (ValueError, IndexError, OverflowError):
            self.unreadable += 1

    def finish(self) -> None:
        """Close the epoch that is still open; to be called after the last sentence."""
        epoch, self._open = self._open, None
        if epoch is None:
            return
        self.time_us.append(epoch.time_us)
        self.day.append(epoch.day)
        self.void.append(epoch.void)
        for name, column in self.columns.items():
            column.append(epoch.values.get(name, math.nan))

    def _epoch_at(self, time_us: int) -> _Epoch:
        """The open epoch where it has that time of day, else a new one."""
        if self._open is None or self._open.time_us != time_us:
            self.finish()
            self._open = _Epoch(time_us)
        return self._open


@lru_cache(maxsize=1000)
def read_day(text: bytes) -> int:
    """Days since 1970-01-01 of ``ddmmyy``, :data:`NO_DAY` when it is no date; years from 80 on are of 19xx."""
    if len(text) != 6 or not text.isdigit():
        return NO_DAY
    day, month, year = (int(text[i : i + 2]) for i in (0, 2, 4))
    number = day_number(full_year(year), month, day)
    return NO_DAY if number is None else number


def _number(text: bytes) -> float:
    return float(text) if text else math.nan


def _time_us(text: bytes) -> int:
    """Time of day in microseconds of ``hhmmss.s``; a leap second belongs to the next minute."""
    hour, minute, second = int(text[:2]), int(text[2:4]), float(text[4:])
    if not (0 <= hour < 24 and 0 <= minute < 60 and 0 <= second < 61):
        raise ValueError(text)
    return (hour * 60 + minute) * 60_000_000 + round(second * 1e6)


def _angle(text: bytes, side: bytes, negative_side: bytes) -> float:
    """Degrees of ``dddmm.mmm`` on a side of the globe."""
    point = text.find(b".")
    minutes_from = max(0, (point if point >= 0 else len(text)) - 2)
    minutes = float(text[minutes_from:])
    if not 0 <= minutes < 60:
        raise ValueError(text)
    degrees = int(text[:minutes_from] or b"0") + minutes / 60
    return -degrees if side == negative_side else degrees
