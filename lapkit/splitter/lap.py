"""A lap, and what kinds of laps there are."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

UNTIMED = "no lap could be timed: "
"""How a sentence begins that says why a log has no timed lap."""


class LapKind(StrEnum):
    """What a lap is."""

    OUT = "out"
    TIMED = "timed"
    IN = "in"
    BROKEN = "broken"


@dataclass(frozen=True)
class Lap:
    """One lap.

    Attributes:
        number: counted from the out-lap, which is 0; on an open course from 1.
        kind: what it is.
        start_s, end_s: seconds on the log's clock.
        time_s, time_sd_s: lap time and its standard deviation, seconds; NaN for a lap that does not run from line
            to line. Without draws there is no standard deviation either.
        distance_m: length of the ridden path, metres.
        samples: how many fixes lie in it.
        missing_s: seconds without fixes.
        note: why it is broken, or that the log never crosses the start line; else empty.
    """

    number: int
    kind: LapKind
    start_s: float
    end_s: float
    time_s: float
    time_sd_s: float
    distance_m: float
    samples: int
    missing_s: float
    note: str = ""
