"""What the marker line would have asked for and given, at the rider's own speeds, lean and drive.

It is always told in the past conditional: it is geometry within the limits that the rider himself showed, not advice. Each
lap is one observation; intervals are over laps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import sample
from lapkit.compare.judged_laps import CornerLaps
from lapkit.compare.line_part import LinePart
from lapkit.compare.results import CornerTrace
from lapkit.compare.speed_profile import Limits, speed_profile, time_along_s
from lapkit.compare.standard import Standard
from lapkit.compare.stats import MeanInterval, mean_interval
from lapkit.course.course import Corner
from lapkit.curvature import path_length_m

_STEP_M = 1.0  # between the points of a speed profile


@dataclass(frozen=True)
class WhatIf:
    """Means over laps with their intervals.

    Speed and time compare the fastest profile on the marker line with the fastest profile on his own path, within the same
    limits. What he leaves unused on any line therefore counts on neither side.

    Attributes:
        lean_saved_deg: lean that the marker line would have saved at his own speeds, degrees: his largest over the corner
            less the line's largest.
        exit_lean_saved_deg: the same over the exit phase.
        slowest_gain_mps: speed that the line would have carried more at the slowest point, at his own largest lean, m/s.
        seconds: time that this would have saved from turn-in to exit.
    """

    lean_saved_deg: MeanInterval
    exit_lean_saved_deg: MeanInterval
    slowest_gain_mps: MeanInterval
    seconds: MeanInterval


def what_if(
    laps: CornerLaps, traces: Sequence[CornerTrace | None], standard: Standard
) -> WhatIf | None:
    """What the marker line would have asked for and given one rider at one corner.

    Args:
        laps: some of his laps there.
        traces: the trace of each lap, None for a lap without one.
        standard: the corner's standard.

    Returns:
        None without a marker line, or with fewer than two laps that have a trace and a lean.
    """
    has_lean = np.isfinite(laps.lean_max_deg.value)
    known = {i: trace for i, trace in enumerate(traces) if trace is not None and has_lean[i]}
    if standard.line is None or len(known) < 2:
        return None
    laps = laps.of(np.array(list(known)))
    gain, seconds = _gains(laps, list(known.values()), standard.corner, standard.line)
    return WhatIf(
        lean_saved_deg=mean_interval(laps.lean_added_deg),
        exit_lean_saved_deg=mean_interval(laps.exit_lean_added_deg),
        slowest_gain_mps=mean_interval(gain),
        seconds=mean_interval(seconds),
    )


def _gains(
    laps: CornerLaps, traces: Sequence[CornerTrace], corner: Corner, line: LinePart
) -> tuple[FloatArray, FloatArray]:
    """Speed gained at the slowest point, m/s, and time saved, seconds, in each lap, ``(laps,)`` each."""
    limits = Limits(
        np.tan(np.radians(laps.lean_max_deg.value)),
        np.maximum(laps.drive_max_mps2, 0.0),
        np.maximum(laps.brake_max_mps2, 0.0),
    )
    start = laps.entry_speed_mps
    ridden = [_ridden_way(trace, corner, line) for trace in traces]
    points = [len(way.curvature_1pm) for way in ridden]
    # All ways get the length of the longest: a straight added behind a way changes no speed before it.
    curvature, vertical = np.zeros((2, len(ridden), max(points)))
    for i, way in enumerate(ridden):
        curvature[i, : points[i]] = way.curvature_1pm
        vertical[i, : points[i]] = way.vertical_curvature_1pm
    speeds = speed_profile(_STEP_M, curvature, limits, start, vertical)
    own_mps = [speed[:count] for speed, count in zip(speeds, points, strict=True)]
    own_slowest = np.array([speed.min() for speed in own_mps])
    own_s = np.array([way.seconds(speed) for way, speed in zip(ridden, own_mps, strict=True)])
    marker = _marker_way(line)
    shape = len(ridden), len(marker.curvature_1pm)
    line_mps = speed_profile(
        _STEP_M,
        np.broadcast_to(marker.curvature_1pm, shape),
        limits,
        start,
        np.broadcast_to(marker.vertical_curvature_1pm, shape),
    )
    return line_mps.min(axis=-1) - own_slowest, own_s - marker.seconds(line_mps)


class _Way(NamedTuple):
    """A way from turn-in to exit, with a point every metre.

    Attributes:
        curvature_1pm, vertical_curvature_1pm: curvature of the way and of the road under it at each point, 1/m, ``(n,)``.
        rest_m: distance from the last point to the exit, less than a metre.
    """

    curvature_1pm: FloatArray
    vertical_curvature_1pm: FloatArray
    rest_m: float

    @classmethod
    def between(
        cls, ends: FloatArray, length_m: FloatArray, curvature: FloatArray, vertical: FloatArray
    ) -> _Way:
        """The way between two lengths, from both curvatures at ``length_m``, ``(m,)`` each."""
        at = np.arange(ends[0], ends[1], _STEP_M)
        return cls(
            np.interp(at, length_m, curvature),
            np.interp(at, length_m, vertical),
            float(ends[1] - at[-1]),
        )

    def seconds(self, speed_mps: FloatArray) -> FloatArray:
        """Seconds for the way at the speeds of its points: ``(..., n)`` → ``(...)``."""
        return time_along_s(_STEP_M, speed_mps) + self.rest_m / speed_mps[..., -1]


def _ridden_way(trace: CornerTrace, corner: Corner, line: LinePart) -> _Way:
    """A lap's own way; the road under it is taken to be as under the marker line at the same station."""
    length = path_length_m(trace.x_m, trace.y_m)
    ends = np.interp([corner.turn_in_m, corner.exit_m], trace.station_m, length)
    vertical = np.interp(trace.station_m, line.station_m, line.vertical_curvature_1pm)
    return _Way.between(ends, length, trace.curvature_1pm, vertical)


def _marker_way(line: LinePart) -> _Way:
    """The marker line's way."""
    ends = sample(line.length_m, line.limits[[0, 2]])
    return _Way.between(ends, line.length_m, line.curvature_1pm, line.vertical_curvature_1pm)
