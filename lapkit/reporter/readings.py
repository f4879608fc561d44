"""What the page's script may read out of a lap along a corner."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Corner
from lapkit.reporter import display
from lapkit.reporter.figures.frame import LEFT, RIGHT, Frame
from lapkit.reporter.figures.style import WIDTH
from lapkit.units import Units

READ_EVERY_M = 4.0
"""Distance between the places at which the script can read a lap out, metres."""

_FLATTEST_M = 999.0  # in the unit shown: three digits, and straight to any eye


def readings(
    corner: Corner, traces: Sequence[CornerTrace], spoken: tuple[str, int] | None, units: Units
) -> dict[str, Any]:
    """Numbers along the corner for each lap, in the order in which the drawings have their laps.

    Args:
        corner: where.
        traces: laps through it.
        spoken: run and lap that are brought forward.
        units: what is read.
    """
    low, high = Frame(corner, units).span_m
    at = np.linspace(low, high, max(int((high - low) / READ_EVERY_M), 1) + 1)
    laps = []
    for t in sorted(traces, key=lambda t: [s.session for s in traces].index(t.session)):
        radius = np.minimum(1.0 / np.maximum(t.curvature_1pm, 1e-6) / units.length_m, _FLATTEST_M)
        wide = t.wide_of_line_m / units.length_m
        shown = {
            "r": (radius, 0),
            "v": (t.speed_mps / units.speed_mps, 0),
            "a": (t.lean_deg, 0),
            "w": (wide, 1),
        }
        laps.append(
            {"run": display.plain(t.session), "lap": t.lap}
            | {
                k: _read_at(at, t.station_m, values, digits)
                for k, (values, digits) in shown.items()
            }
        )
    chosen = [i for i, t in enumerate(traces) if (t.session, t.lap) == spoken]
    return {
        "laps": laps,
        "spoken": chosen[0] if chosen else None,
        "from": round((low - corner.turn_in_m) / units.length_m, 1),
        "to": round((high - corner.turn_in_m) / units.length_m, 1),
        "left": LEFT,
        "right": WIDTH - RIGHT,
        "turn": str(corner.turn),
        "length": units.length,
        "speed": units.speed,
    }


def _read_at(
    at: np.ndarray, station: np.ndarray, values: np.ndarray, digits: int
) -> list[float | None]:
    read = np.interp(at, station, values, left=np.nan, right=np.nan)
    return [
        None if not np.isfinite(v) else int(v) if not digits else v
        for v in np.round(read, digits).tolist()
    ]
