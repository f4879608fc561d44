"""Corners by curvature: where riders turn hard, by the measure of the course's own hardest turns.

Lateral acceleration finds the fast bends and curvature the slow ones, both as a share of what the
course asks for at most, so that a runner's oval and a race circuit need no setting.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.course.start import middle_of_longest_run
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn
from lapkit.units import FloatArray

HARD_SHARES = (0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7)
"""Share of the course's largest lateral acceleration from which on riders turn: the first of these
that leaves :data:`LEAST_STRAIGHT` of the course (our choice)."""

LEAST_STRAIGHT = 0.25
"""Share of a course on which riders do not turn hard; an ellipse has no straight but two bends."""

LEAST_TURN_RAD = np.radians(25.0)
"""A bend that turns through less is no corner, radians (our choice)."""

TURNED_OVER_M = 20.0
"""A bend’s curvature is what the line turns over so much, metres: the usual lap has wiggles left in it."""

_LARGEST = 98.0  # percentile: a few wild points are not what the course asks for at most
_TIGHT = 1.25  # as a share of the largest curvature: slow bends count, however slowly ridden
_OWN_SHARE = 0.35  # of its own largest curvature: there a bend begins and ends
_APEX_POWER = 4  # the harder a bend turns somewhere, the more of its apex lies there (our choice)
_PAUSE_S, _PAUSE_M = 1.0, 15.0  # a shorter let-up within a bend is no straight (our choice)


@dataclass(frozen=True)
class Bend:
    """A bend at stations of a line, unwrapped: ``turn_in_m`` < ``apex_m`` < ``exit_m``."""

    turn: Turn
    turn_in_m: float
    apex_m: float
    exit_m: float


def find_bends(line: StationLine, speed_mps: FloatArray) -> tuple[Bend, ...]:
    """Find the bends of a line in order, ``turn_in_m`` within the line's length.

    Args:
        line: the usual lap or pass.
        speed_mps: usual speed at the line's points, shape ``(n,)`` as ``line.station_m``.
    """
    at = line.station_m[:-1] if line.closed else line.station_m
    turned = line.heading_at(at + 0.5 * TURNED_OVER_M) - line.heading_at(at - 0.5 * TURNED_OVER_M)
    curvature, speed = turned / TURNED_OVER_M, speed_mps[: len(at)]
    turning = _turning(curvature, speed)
    if line.closed:
        # Counted from the middle of the longest straight, no bend lies across the start.
        first = int(middle_of_longest_run(turning == 0)) % len(at)
        curvature, speed, turning = (np.roll(v, -first) for v in (curvature, speed, turning))
        at = np.roll(at, -first) + np.where(np.arange(len(at)) >= len(at) - first, line.length_m, 0)
    bends = []
    for run in _runs(turning, speed, line.step_m):
        start, stop = _own_limits(np.abs(curvature), *run)
        turned = line.heading_at(at[stop]) - line.heading_at(at[start])
        if abs(turned) < LEAST_TURN_RAD or stop - start < 2:
            continue
        # The centre of the hardest turning: the middle of a steady bend, the peak of an uneven one.
        apex = np.average(at[start : stop + 1], weights=curvature[start : stop + 1] ** _APEX_POWER)
        lap = np.floor(at[start] / line.length_m) * line.length_m if line.closed else 0.0
        turn = Turn.LEFT if turned > 0 else Turn.RIGHT
        bends.append(Bend(turn, *(float(s - lap) for s in (at[start], apex, at[stop]))))
    return tuple(sorted(bends, key=lambda bend: bend.turn_in_m))


def _turning(curvature: FloatArray, speed: FloatArray) -> np.ndarray:
    """+1 where riders turn left hard, −1 right, 0 where neither; shape ``(n,)``."""
    lateral, tight = np.abs(np.square(speed) * curvature), np.abs(curvature)
    lateral = lateral / max(np.percentile(lateral, _LARGEST), 1e-9)
    tight = tight / max(np.percentile(tight, _LARGEST), 1e-9)
    hard = np.maximum(lateral, tight / _TIGHT)
    for share in HARD_SHARES:
        if np.mean(hard < share) >= LEAST_STRAIGHT:
            return np.where(hard >= share, np.sign(curvature), 0.0).astype(int)
    return np.zeros(len(hard), dtype=int)


def _runs(turning: np.ndarray, speed: FloatArray, step_m: float) -> list[tuple[int, int]]:
    """First and last index of each run of one direction, short pauses in it bridged."""
    edges = np.flatnonzero(np.diff(turning)) + 1
    starts, stops = np.concatenate([[0], edges]), np.concatenate([edges, [len(turning)]]) - 1
    runs: list[tuple[int, int]] = []
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        if turning[start] == 0:
            continue
        if runs and turning[runs[-1][1]] == turning[start]:
            pause = (start - runs[-1][1]) * step_m
            if pause < max(_PAUSE_M, _PAUSE_S * speed[start]):
                runs[-1] = (runs[-1][0], stop)
                continue
        runs.append((start, stop))
    return runs


def _own_limits(size: FloatArray, start: int, stop: int) -> tuple[int, int]:
    """First and last index of a run at which its curvature is a fair share of its own largest."""
    inside = size[start : stop + 1]
    turning = np.flatnonzero(inside >= _OWN_SHARE * np.percentile(inside, _LARGEST))
    return start + int(turning[0]), start + int(turning[-1])
