"""The fixes of a file while they are cleaned: which rows are still in use, and what was left out so far."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from lapkit.arrays import BoolArray, FloatArray, IntArray
from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped


@dataclass(eq=False)
class Rows:
    """The rows of a file that are still in use; the arrays that were read are never written to.

    Attributes:
        raw: the columns as they were read.
        index: rows in use, as indices into the raw columns, in file order, ``(n,)``.
        stretch: the stretch between two jumps of the clock that each row in use lies in, ``(n,)``;
            0 for every row until the jumps have been looked for.
        dropped: what was left out so far, with the reason.
    """

    raw: RawFixes
    index: IntArray
    stretch: IntArray
    dropped: list[Dropped]

    @classmethod
    def all_of(cls, raw: RawFixes) -> Rows:
        """Every row of a file."""
        count = len(raw.time_s)
        return cls(raw, np.arange(count), np.zeros(count, dtype=np.int64), list(raw.dropped))

    def __len__(self) -> int:
        return len(self.index)

    @property
    def time_s(self) -> FloatArray:
        """Times of the rows in use, ``(n,)``."""
        return self.in_use(self.raw.time_s)

    @property
    def lat_deg(self) -> FloatArray:
        """Latitudes of the rows in use, ``(n,)``."""
        return self.in_use(self.raw.lat_deg)

    @property
    def lon_deg(self) -> FloatArray:
        """Longitudes of the rows in use, ``(n,)``."""
        return self.in_use(self.raw.lon_deg)

    def in_use(self, column: FloatArray) -> FloatArray:
        """The values of a raw column in the rows in use; the column itself, uncopied, while nothing was left out."""
        return column if len(self.index) == len(column) else column[self.index]

    def leave_out(self, bad: BoolArray, reason: str) -> None:
        """Leave out the rows in use that are flagged in ``bad``, ``(n,)``, and count them."""
        count = int(np.count_nonzero(bad))
        if count:
            self.dropped.append(Dropped(reason, count))
            self.index = self.index[~bad]
            self.stretch = self.stretch[~bad]

    def redate(self, time_s: FloatArray, altered: Dropped) -> None:
        """Give the rows in use other times, ``(n,)``; ``altered`` says how many and why."""
        whole = self.raw.time_s.copy()
        whole[self.index] = time_s
        self.raw = replace(self.raw, time_s=whole)
        self.dropped.append(altered)

    def stretches(self) -> list[slice]:
        """The rows in use of each stretch between two jumps of the clock, in file order."""
        if not len(self):
            return []
        starts = np.flatnonzero(np.diff(self.stretch)) + 1
        bounds = [0, *starts.tolist(), len(self)]
        return [slice(start, stop) for start, stop in itertools.pairwise(bounds)]

    def flag_stretches(self, flags_of: Callable[..., BoolArray], *columns: FloatArray) -> BoolArray:
        """Flags of the rows in use, ``(n,)``, worked out for each stretch by itself.

        Args:
            flags_of: takes the columns of one stretch and flags its rows.
            columns: values of the rows in use, ``(n,)`` each.
        """
        flags = np.zeros(len(self), dtype=bool)
        for stretch in self.stretches():
            flags[stretch] = flags_of(*(column[stretch] for column in columns))
        return flags
