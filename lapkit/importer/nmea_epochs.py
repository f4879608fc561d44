"""Sentences of NMEA 0183 joined to epochs: one fix for each time of day."""

from __future__ import annotations

import math
from array import array

from lapkit.importer.times import day_number, full_year
from lapkit.units import KMH_MPS, KNOT_MPS

NO_DAY = -1
"""Stands for an epoch without a date of its own."""

# Best first: letters of GNS and RMC modes → fix quality of GGA.
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


class Epochs:
    """Epochs gathered sentence by sentence.

    Attributes:
        time_us: time of day of each epoch, whole microseconds.
        day: days since 1970 of each epoch, :data:`NO_DAY` where no sentence said.
        void: whether a sentence marked the epoch as no fix.
        columns: a value per epoch of each channel, NaN where no sentence said.
        unreadable: sentences whose fields are no numbers.
        timeless: sentences without a time of day, as at start-up.
    """

    def __init__(self) -> None:
        self.time_us = array("q")
        self.day = array("q")
        self.void = array("b")
        self.columns = {name: array("d") for name in _CHANNELS}
        self.unreadable = 0
        self.timeless = 0
        self._readers = {b"RMC": self._rmc, b"GGA": self._gga, b"GNS": self._gns}
        self._now: dict[str, float] = {}
        self._now_us = -1
        self._now_void = False
        self._now_day = NO_DAY
        self._digits = 0
        self._days: dict[bytes, int] = {}

    def add(self, kind: bytes, fields: list[bytes]) -> None:
        """Take one sentence, given as its three-letter type and its fields behind it."""
        try:
            if kind == b"VTG":
                self._vtg(fields)
                return
            if not fields[0]:
                self.timeless += 1
                return
            time_us = _time_us(fields[0])
            if time_us != self._now_us:
                self.finish()
                self._now_us = time_us
            self._readers[kind](fields)
        except (ValueError, IndexError, OverflowError):
            self.unreadable += 1

    def finish(self) -> None:
        """Close the epoch at hand; to be called after the last sentence."""
        if self._now_us >= 0:
            self.time_us.append(self._now_us)
            self.day.append(self._now_day)
            self.void.append(self._now_void)
            for name, column in self.columns.items():
                column.append(self._now.get(name, math.nan))
        self._now = {}
        self._now_us = -1
        self._now_void = False
        self._now_day = NO_DAY
        self._digits = 0

    def _rmc(self, fields: list[bytes]) -> None:
        mode = fields[11][:1] if len(fields) > 11 else b""
        if fields[1] != b"A" or mode == b"N":
            self._now_void = True
        # Numbers first: a sentence with an unreadable one gives nothing.
        speed_mps, heading_deg = _number(fields[6]) * KNOT_MPS, _number(fields[7])
        self._position(fields[2:6])
        self._velocity(speed_mps, heading_deg)
        if fields[8]:
            self._now_day = self._day_of(fields[8])
        if mode in _MODES:
            self._now.setdefault("fix_quality", _MODES[mode])

    def _gga(self, fields: list[bytes]) -> None:
        quality = _number(fields[5])
        if not quality > 0:
            self._now_void = True
        self._position(fields[1:5])
        self._now["fix_quality"] = quality
        self._solution(fields)

    def _gns(self, fields: list[bytes]) -> None:
        letters = {fields[5][i : i + 1] for i in range(len(fields[5]))}
        quality = next((number for mode, number in _MODES.items() if mode in letters), 0)
        if not quality:
            self._now_void = True
        self._position(fields[1:5])
        self._now.setdefault("fix_quality", quality)
        self._solution(fields)

    def _solution(self, fields: list[bytes]) -> None:
        for name, text in zip(("satellites", "hdop", "height_m"), fields[6:9], strict=True):
            if text:
                self._now.setdefault(name, float(text))

    def _vtg(self, fields: list[bytes]) -> None:
        """VTG has no time; receivers send it behind the sentence that has."""
        if self._now_us < 0:
            return
        lettered = fields[1] == b"T"
        knots, kmh = (fields[4], fields[6]) if lettered else (fields[2], fields[3])
        speed = _number(knots) * KNOT_MPS if knots else _number(kmh) * KMH_MPS
        self._velocity(speed, _number(fields[0]))

    def _velocity(self, speed_mps: float, heading_deg: float) -> None:
        if not math.isnan(speed_mps):
            self._now.setdefault("speed_mps", speed_mps)
        if not math.isnan(heading_deg):
            self._now.setdefault("heading_deg", heading_deg)

    def _position(self, fields: list[bytes]) -> None:
        """Latitude and longitude; of several sentences the one with more digits wins."""
        digits = len(fields[0])
        if digits > self._digits and fields[2]:
            lat = _angle(fields[0], fields[1], b"S")
            lon = _angle(fields[2], fields[3], b"W")
            self._now["lat"], self._now["lon"] = lat, lon
            self._digits = digits

    def _day_of(self, text: bytes) -> int:
        if text not in self._days:
            if len(self._days) > 1000:
                self._days.clear()
            self._days[text] = read_day(text)
        return self._days[text]


def read_day(text: bytes) -> int:
    """Days since 1970 of ``ddmmyy``, NO_DAY when it is none; years from 80 are of 19xx."""
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


def _angle(text: bytes, side: bytes, negative: bytes) -> float:
    """Degrees of ``dddmm.mmm`` and a side."""
    point = text.find(b".")
    whole = max(0, (point if point >= 0 else len(text)) - 2)
    minutes = float(text[whole:])
    if not 0 <= minutes < 60:
        raise ValueError(text)
    degrees = int(text[:whole] or b"0") + minutes / 60
    return -degrees if side == negative else degrees
