"""What the marker line would have asked for and given, with the rider's own speeds, lean and drive.

Always in the past conditional: it is geometry with the limits that the rider himself showed, not
advice. Each lap is one observation; intervals are over laps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from lapkit.compare.held import sample
from lapkit.compare.judged_laps import CornerLaps
from lapkit.compare.line_part import LinePart
from lapkit.compare.results import CornerTrace
from lapkit.compare.speed_profile import Limits, speed_profile, time_along_s
from lapkit.compare.standard import Standard
from lapkit.compare.stats import MeanInterval, mean_interval
from lapkit.course.course import Corner
from lapkit.curvature import path_length_m
from lapkit.units import FloatArray

_STEP_M = 1.0  # from point to point of a speed profile


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

    lean_saved_deg: MeanInterval
    exit_lean_saved_deg: MeanInterval
    slowest_gain_mps: MeanInterval
    seconds: MeanInterval


def what_if(
    laps: CornerLaps, traces: Sequence[CornerTrace | None], standard: Standard
) -> WhatIf | None:
    """Work it out for one rider at one corner.

    Args:
        laps: some of his laps there.
        traces: the trace of each, None of a lap without one.
        standard: the corner's standard.

    Returns:
        None without a marker line, or with fewer than two laps that have a trace and a lean.
    """
    known = np.isfinite(laps.lean_max_deg.value)
    pairs = [(i, trace) for i, trace in enumerate(traces) if trace is not None and known[i]]
    if standard.line is None or len(pairs) < 2:
        return None
    laps = laps.of(np.array([i for i, _ in pairs]))
    gain, seconds = _compare(laps, [trace for _, trace in pairs], standard.corner, standard.line)
    saved = laps.lean_added_deg, laps.exit_lean_added_deg
    return WhatIf(*(mean_interval(each) for each in (*saved, gain, seconds)))


def _compare(
    laps: CornerLaps, traces: Sequence[CornerTrace], corner: Corner, line: LinePart
) -> tuple[FloatArray, FloatArray]:
    """Gain of speed at the slowest point, m/s, and seconds, of each lap, ``(laps,)``."""
    limits = Limits(
        np.tan(np.radians(laps.lean_max_deg.value)),
        np.maximum(laps.drive_max_mps2, 0.0),
        np.maximum(laps.brake_max_mps2, 0.0),
    )
    start = laps.entry_speed_mps
    ridden = [_ridden(trace, corner, line) for trace in traces]
    whole = np.array([len(way.curvature_1pm) for way in ridden])
    # A straight put on behind a path changes nothing before it.
    own = np.zeros((2, len(ridden), whole.max()))
    for i, way in enumerate(ridden):
        own[:, i, : whole[i]] = way.curvature_1pm, way.vertical_curvature_1pm
    on_own = speed_profile(_STEP_M, own[0], limits, start, own[1])
    wanted = _on_line(line)
    asked = [np.broadcast_to(one, (len(ridden), len(one))) for one in wanted[:2]]
    on_line = speed_profile(_STEP_M, asked[0], limits, start, asked[1])
    ridden_mps = [speed[:n] for speed, n in zip(on_own, whole, strict=True)]
    slowest = np.array([speed.min() for speed in ridden_mps])
    own_s = [way.seconds(speed) for way, speed in zip(ridden, ridden_mps, strict=True)]
    return on_line.min(axis=-1) - slowest, np.array(own_s) - wanted.seconds(on_line)


class _Way(NamedTuple):
    """Curvature and vertical curvature every metre of a way from turn-in to exit, and what is left of a metre."""

    curvature_1pm: FloatArray
    vertical_curvature_1pm: FloatArray
    rest_m: float

    @classmethod
    def between(cls, ends: FloatArray, length_m: FloatArray, *channels: FloatArray) -> _Way:
        """From channels known at lengths of the way, ``(n,)`` each."""
        at = np.arange(ends[0], ends[1], _STEP_M)
        curvature, vertical = (np.interp(at, length_m, channel) for channel in channels)
        return cls(curvature, vertical, float(ends[1] - at[-1]))

    def seconds(self, speed_mps: FloatArray) -> FloatArray:
        """Seconds on the way from the speeds at its points: ``(..., n)`` → ``(...)``."""
        return time_along_s(_STEP_M, speed_mps) + self.rest_m / speed_mps[..., -1]


def _ridden(trace: CornerTrace, corner: Corner, line: LinePart) -> _Way:
    """A lap's own way; the road under it is taken as it is under the marker line."""
    length = path_length_m(trace.x_m, trace.y_m)
    ends = np.interp([corner.turn_in_m, corner.exit_m], trace.station_m, length)
    vertical = np.interp(trace.station_m, line.station_m, line.vertical_curvature_1pm)
    return _Way.between(ends, length, trace.curvature_1pm, vertical)


def _on_line(line: LinePart) -> _Way:
    """The marker line's way."""
    ends = sample(line.length_m, line.limits[[0, 2]])
    return _Way.between(ends, line.length_m, line.curvature_1pm, line.vertical_curvature_1pm)
