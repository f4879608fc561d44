"""What the page's script can read out of a lap along a corner."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner
from lapkit.reporter import display
from lapkit.reporter.figures.frame import LEFT, RIGHT, Frame
from lapkit.reporter.figures.style import WIDTH, LapKey
from lapkit.units import Units

READ_EVERY_M = 4.0
"""Distance between the places at which the script can read a lap out, metres."""

_FLATTEST = 999.0  # radius in the unit shown: it has three digits, and larger ones look straight


def readings(
    corner: Corner, traces: Sequence[CornerTrace], thick: LapKey | None, units: Units
) -> dict[str, Any]:
    """Numbers along the corner for each lap, run by run as the drawings have their laps.

    Args:
        corner: where.
        traces: laps through it.
        thick: the one that is drawn thick; None without one.
        units: what is read.
    """
    low_m, high_m = Frame(corner, units).span_m
    steps = max(int((high_m - low_m) / READ_EVERY_M), 1)
    at_m = np.linspace(low_m, high_m, steps + 1)
    sessions = [trace.session for trace in traces]
    laps = sorted(traces, key=lambda trace: sessions.index(trace.session))
    chosen = [i for i, trace in enumerate(laps) if (trace.session, trace.lap) == thick]
    return {
        "laps": [_lap(trace, at_m, units) for trace in laps],
        "spoken": chosen[0] if chosen else None,
        "from": round((low_m - corner.turn_in_m) / units.length_m, 1),
        "to": round((high_m - corner.turn_in_m) / units.length_m, 1),
        "left": LEFT,
        "right": WIDTH - RIGHT,
        "turn": str(corner.turn),
        "length": units.length,
        "speed": units.speed,
    }


def _lap(trace: CornerTrace, at_m: FloatArray, units: Units) -> dict[str, Any]:
    """Radius, speed, lean and distance from the marker line of a lap at stations, under the script's short names."""
    # Whichever way it bends, of which the sign of the lean tells.
    radius = 1.0 / np.maximum(np.abs(trace.curvature_1pm), 1e-6) / units.length_m

    def read(values: FloatArray, digits: int = 0) -> list[float | None]:
        found = np.interp(at_m, trace.station_m, values, left=np.nan, right=np.nan)
        return [_number(value, digits) for value in np.round(found, digits).tolist()]

    return {
        "run": display.plain(trace.session),
        "lap": trace.lap,
        "r": read(np.minimum(radius, _FLATTEST)),
        "v": read(trace.speed_mps / units.speed_mps),
        "a": read(trace.lean_deg),
        "w": read(trace.wide_of_line_m / units.length_m, digits=1),
    }


def _number(value: float, digits: int) -> float | None:
    """A rounded number for JSON; None where the lap was not logged."""
    if not math.isfinite(value):
        return None
    return value if digits else int(value)
