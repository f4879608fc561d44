"""How numbers are shown: units as the reader chose, rounded to what is known, words for directions."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from lapkit.units import FOOT_M, KMH_MPS, MPH_MPS

EMPTY = "–"
"""What stands where nothing is known."""


@dataclass(frozen=True)
class Units:
    """Names and sizes of the units on a page; ``name`` is ``metric`` or ``us``."""

    name: str = "metric"

    @property
    def length_m(self) -> float:
        """One shown unit of length, metres."""
        return FOOT_M if self.name == "us" else 1.0

    @property
    def length(self) -> str:
        """Its name."""
        return "ft" if self.name == "us" else "m"

    @property
    def speed_mps(self) -> float:
        """One shown unit of speed, m/s."""
        return MPH_MPS if self.name == "us" else KMH_MPS

    @property
    def speed(self) -> str:
        """Its name."""
        return "mph" if self.name == "us" else "km/h"


def known(value: object) -> bool:
    """Whether a table's cell holds a finite number."""
    return isinstance(value, int | float) and math.isfinite(value)


def length_text(value_m: float, units: Units, digits: int = 0) -> str:
    """A length with its unit."""
    if not known(value_m):
        return EMPTY
    return f"{value_m / units.length_m:.{digits}f} {units.length}"


def radius_text(value_m: float, lo_m: float, hi_m: float, units: Units) -> str:
    """A radius with half its interval, or its value alone."""
    if not known(value_m):
        return EMPTY
    text = f"{value_m / units.length_m:.0f} {units.length}"
    if known(lo_m) and known(hi_m):
        text += f" ± {max(1.0, 0.5 * (hi_m - lo_m) / units.length_m):.0f}"
    return text


def degrees_text(value: float, lo: float, hi: float) -> str:
    """An angle with half its interval, whole degrees."""
    if not known(value):
        return EMPTY
    half = f" ± {max(1.0, 0.5 * (hi - lo)):.0f}°" if known(lo) and known(hi) else ""
    return f"{value:.0f}°{half}"


def speed_text(value_mps: float, units: Units) -> str:
    """A speed with its unit."""
    return f"{value_mps / units.speed_mps:.0f} {units.speed}" if known(value_mps) else EMPTY


def gap_text(value_m: float, lo_m: float, hi_m: float, units: Units) -> str:
    """Distance to a cone, in words when the tyres passed it on the wrong side."""
    if not known(value_m):
        return EMPTY
    half = 0.5 * (hi_m - lo_m) / units.length_m if known(lo_m) and known(hi_m) else 0.0
    text = f"{abs(value_m) / units.length_m:.1f} ± {half:.1f} {units.length}"
    return text if value_m >= 0 else f"{text}, on the wrong side"


def wide_text(value_m: float, units: Units) -> str:
    """Distance from the marker line, in words."""
    if not known(value_m):
        return EMPTY
    side = "wide" if value_m >= 0 else "inside"
    return f"{abs(value_m) / units.length_m:.1f} {units.length} {side}"


def clock_text(seconds: float) -> str:
    """A lap time as minutes:seconds to a hundredth."""
    if not known(seconds):
        return EMPTY
    minutes, rest = divmod(round(float(seconds), 2), 60.0)
    return f"{int(minutes)}:{rest:05.2f}"


def share_text(ratio: float) -> str:
    """An exit's radius as a share of the marker line's."""
    return f"{100 * ratio:.0f} % of the line’s" if known(ratio) else EMPTY


def date_text(start_utc: object) -> str:
    """A date and time with its zone."""
    stamp = pd.to_datetime(start_utc, utc=True, errors="coerce")
    return EMPTY if pd.isna(stamp) else f"{stamp:%d %B %Y, %H:%M} UTC"
