"""What a reader hands on before cleaning: columns as they stood in the file, in SI units."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from lapkit.importer.log import Dropped
from lapkit.units import FloatArray


@dataclass(frozen=True, eq=False)
class RawFixes:
    """Rows of a file in file order, not yet cleaned; NaN where a row lacks a value.

    Attributes:
        time_s, lat_deg, lon_deg: arrays of shape ``(n,)``.
        channels: optional channels by their name in :class:`~lapkit.importer.log.Log`.
        void: rows that the receiver itself marked as no fix, ``None`` when it marked none.
        has_clock: whether ``time_s`` counts from 1970-01-01T00:00:00Z.
        dropped: what the reader already left out.
        guesses: what the reader guessed.
        notes: what else must be said about the file.
    """

    time_s: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray
    channels: dict[str, FloatArray] = field(default_factory=dict)
    void: npt.NDArray[np.bool_] | None = None
    has_clock: bool = True
    dropped: tuple[Dropped, ...] = ()
    guesses: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
