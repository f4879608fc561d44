"""How numbers are written in sentences: lengths, radii, leans and ranges, and the doubt about each."""

from __future__ import annotations

import numpy as np

from lapkit.curvature import HELD_OVER_M
from lapkit.rounding import to_what_is_known
from lapkit.units import Units


def metres(value_m: float, units: Units) -> str:
    """A length as it is read: ``1.4 m``, ``49 m``, ``4.6 ft``."""
    size = abs(value_m) / units.length_m
    return f"{size:.{_finest(size)}f} {units.length}"


def _finest(size: float) -> int:
    """Decimals of a length in the unit shown: one below ten, none from ten on, which nobody paces out more finely."""
    return 1 if size < 9.95 else 0


def size(value_m: float, half_m: float, units: Units) -> tuple[str, str]:
    """A length as it is read, and half its 95 % interval without a unit: ``("1.6 m", "0.4")``, ``("9 m", "1")``.

    The second text is empty where the interval is not known, NaN.
    """
    if not (np.isfinite(half_m) and np.isfinite(value_m)):
        return metres(value_m, units), ""
    size = abs(value_m) / units.length_m
    shown, half = to_what_is_known(size, half_m / units.length_m, _finest(size))
    return f"{shown} {units.length}", half


def radius(value_m: float, half_m: float, units: Units) -> tuple[str, str]:
    """As :func:`size` for a radius, which is given in whole metres or feet; both texts empty for NaN."""
    if not np.isfinite(value_m):
        return "", ""
    shown, half = to_what_is_known(value_m / units.length_m, half_m / units.length_m)
    return f"{shown} {units.length}", half


def lean(value_deg: float, half_deg: float) -> tuple[str, str]:
    """As :func:`size` for a lean: ``("4°", "1°")``."""
    if not (np.isfinite(half_deg) and np.isfinite(value_deg)):
        return degrees(value_deg), ""
    shown, half = to_what_is_known(abs(value_deg), half_deg)
    return f"{shown}°", f"{half}°"


def doubt(half: str) -> str:
    """The end of a clause about a size, from the text of half its interval: ``, give or take 2``; empty for an empty one."""
    return f", give or take {half}" if half else ""


def aside(half: str) -> str:
    """As :func:`doubt` within a clause: ``, give or take 2,``."""
    return f"{doubt(half)}," if half else ""


def after_apex(value_m: float, units: Units) -> str:
    """How far after an apex something held over 10 m lies, in whole metres: ``just``, ``12 m``.

    The first 10 m that lie wholly after the apex have their middle 5 m after it, which is told as just after it.
    """
    if value_m < HELD_OVER_M / 2.0 + 0.5:
        return "just"
    return f"{value_m / units.length_m:.0f} {units.length}"


def degrees(value_deg: float) -> str:
    """An angle as it is read: ``4°``."""
    return f"{abs(value_deg):.0f}°"


def between_degrees(low: float, high: float) -> str:
    """A range of angles: ``3 to 5°``, ``4°``."""
    return _between(f"{low:.0f}", f"{high:.0f}") + "°"


def between_speeds(low_mps: float, high_mps: float, units: Units) -> str:
    """A range of speeds: ``2 to 5 km/h``."""
    low, high = low_mps / units.speed_mps, high_mps / units.speed_mps
    return f"{_between(f'{low:.0f}', f'{high:.0f}')} {units.speed}"


def between_seconds(low_s: float, high_s: float) -> str:
    """A range of times: ``0.1 to 0.3 s``."""
    return f"{_between(f'{low_s:.1f}', f'{high_s:.1f}')} s"


def _between(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"
