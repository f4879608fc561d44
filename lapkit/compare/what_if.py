"""What the marker line would have asked for and given, with the rider's own speeds, lean and drive.

Always in the past conditional: it is geometry with the limits that the rider himself showed, not
advice. Each lap is one observation; intervals are over laps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lapkit.compare.held import STEP_M
from lapkit.compare.results import CornerTrace
from lapkit.compare.speed_profile import Limits, speed_profile, time_along_s
from lapkit.compare.standard import LinePart, Standard
from lapkit.compare.stats import mean_interval
from lapkit.path.summary import Summary
from lapkit.units import FloatArray


@dataclass(frozen=True)
class WhatIf:
    """Means over laps with their intervals.

    ``lean_saved_deg``: less lean that the marker line would have asked for at his own speeds, largest
    against largest over the corner; ``exit_lean_saved_deg`` the same over the exit phase.
    ``slowest_gain_mps``: more speed it would have carried, at the slowest point, at his own
    largest lean; ``seconds``: what that would have been from turn-in to exit. Both are held
    against the same kind of profile on his own path, so that what he leaves unused on any line
    counts on neither side.
    """

    lean_saved_deg: Summary
    exit_lean_saved_deg: Summary
    slowest_gain_mps: Summary
    seconds: Summary


def what_if(laps: pd.DataFrame, traces: Sequence[CornerTrace], standard: Standard) -> WhatIf | None:
    """Work it out for one rider at one corner.

    Args:
        laps: his lines of the table ``corners`` there; each has ``session`` and ``lap``.
        traces: his traces; those of other corners and laps are passed over.
        standard: the corner's standard.

    Returns:
        None without a marker line, or with fewer than two laps to compare.
    """
    own = {(t.session, t.lap): t for t in traces if t.corner == standard.corner.name}
    pairs = [
        (row, own[row.session, row.lap])
        for row in laps.itertuples()
        if (row.session, row.lap) in own and np.isfinite(row.lean_max_deg)
    ]
    if standard.line is None or len(pairs) < 2:
        return None
    compared = [_compare(row, trace, standard) for row, trace in pairs]
    gain, seconds = np.array(compared).T
    lean = np.array([row.lean_max_deg - row.lean_on_line_deg for row, _ in pairs])
    leave = np.array([row.exit_lean_max_deg - row.exit_lean_on_line_deg for row, _ in pairs])
    return WhatIf(*(mean_interval(each) for each in (lean, leave, gain, seconds)))


def _compare(row: tuple, trace: CornerTrace, standard: Standard) -> tuple[float, float]:
    """Gain of speed at the slowest point, m/s, and seconds, of one lap."""
    limits = Limits(
        np.tan(np.radians(np.array(row.lean_max_deg))),
        np.array(max(row.drive_max_mps2, 0.0)),
        np.array(max(row.brake_max_mps2, 0.0)),
    )
    line = standard.line
    ridden = _between(trace, standard)
    asked = _line_between(line)
    start = np.array(row.entry_speed_mps)
    on_own = speed_profile(STEP_M, ridden[0], limits, start, ridden[1])
    on_line = speed_profile(STEP_M, asked[0], limits, start, asked[1])
    seconds = time_along_s(STEP_M, on_own) - time_along_s(STEP_M, on_line)
    return float(on_line.min() - on_own.min()), float(seconds)


def _between(trace: CornerTrace, standard: Standard) -> tuple[FloatArray, FloatArray]:
    """Curvature and vertical curvature every metre of the ridden path from turn-in to exit."""
    corner = standard.corner
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(trace.x_m), np.diff(trace.y_m)))])
    ends = np.interp([corner.turn_in_m, corner.exit_m], trace.station_m, length)
    at = np.arange(ends[0], ends[1], STEP_M)
    line = standard.line
    vertical = np.interp(trace.station_m, line.station_m, line.vertical_curvature_1pm)
    return np.interp(at, length, trace.curvature_1pm), np.interp(at, length, vertical)


def _line_between(line: LinePart) -> tuple[FloatArray, FloatArray]:
    """The same of the marker line."""
    first, last = np.round(line.limits[[0, 2]]).astype(int)
    part = slice(first, last + 1)
    return line.curvature_1pm[part], line.vertical_curvature_1pm[part]
