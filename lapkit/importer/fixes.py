"""What a reader hands on to be cleaned: columns as they stand in the file, in SI units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from lapkit.arrays import BoolArray, FloatArray, IntArray
from lapkit.importer.log import Dropped

_NEWEST_FIRST = "the newest fixes come first in the file; they were turned round"
_FEWEST_STEPS = 20  # of fewer the order may be a fault of the clock
_NEARLY_ALL = 0.9  # of the steps from row to row: rows written late are out of order in any file

FIX_WORDS = {
    "none": 0.0, "no fix": 0.0, "nofix": 0.0, "2d": 1.0, "3d": 1.0, "dgps": 2.0, "pps": 3.0, "rtk": 4.0,
}  # fmt: skip
"""Kinds of fix, as GPX and CSV logs spell them → fix quality as in NMEA 0183 GGA."""


@dataclass(frozen=True, eq=False)
class RawFixes:
    """Rows of a file in file order, not yet cleaned; NaN where a row lacks a value.

    Attributes:
        time_s, lat_deg, lon_deg: arrays of shape ``(n,)``.
        channels: optional channels by their name in :class:`~lapkit.importer.log.Log`.
        void: rows that the receiver itself marked as no fix, ``(n,)``; ``None`` when the format has no such mark.
        has_clock: whether ``time_s`` counts from 1970-01-01T00:00:00Z.
        rider_of: for each row the index in ``riders`` of who rode, ``(n,)``; ``None`` when the file does not say.
        riders: names of riders in the file; "" for rows that name nobody.
        dropped: what the reader already left out.
        guesses: what the reader had to guess → what it chose.
        notes: what else the user should know about the file.
        breaks_off: whether the file ends before it should.
    """

    time_s: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray
    channels: dict[str, FloatArray] = field(default_factory=dict)
    void: BoolArray | None = None
    has_clock: bool = True
    rider_of: IntArray | None = None
    riders: tuple[str, ...] = ()
    dropped: tuple[Dropped, ...] = ()
    guesses: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    breaks_off: bool = False

    def by_rider(self) -> Iterator[tuple[str, RawFixes]]:
        """The rows of each rider with his name, in the order in which they first appear."""
        if self.rider_of is None or len(self.riders) < 2:
            yield "".join(self.riders), self
            return
        for number, rider in enumerate(self.riders):
            yield rider, self._rows_of(rider, np.flatnonzero(self.rider_of == number))

    def oldest_first(self) -> RawFixes:
        """The rows in the order of their times, where the file lists the newest first; else as they are."""
        step = np.diff(self.time_s[np.isfinite(self.time_s)])
        back, on = np.count_nonzero(step < 0.0), np.count_nonzero(step > 0.0)
        if back < _FEWEST_STEPS or back < _NEARLY_ALL * (back + on):
            return self
        turned = self._rows(np.arange(len(self.time_s))[::-1])
        return replace(turned, notes=(*self.notes, _NEWEST_FIRST))

    def _rows_of(self, rider: str, rows: IntArray) -> RawFixes:
        return replace(self._rows(rows), rider_of=None, riders=(rider,))

    def _rows(self, rows: IntArray) -> RawFixes:
        return replace(
            self,
            time_s=self.time_s[rows],
            lat_deg=self.lat_deg[rows],
            lon_deg=self.lon_deg[rows],
            channels={name: values[rows] for name, values in self.channels.items()},
            void=None if self.void is None else self.void[rows],
            rider_of=None if self.rider_of is None else self.rider_of[rows],
        )
