"""Corners found by curvature: where riders turn hard, measured by the hardest turns of the same course.

Lateral acceleration finds the fast bends and curvature the slow ones. Both are taken as a share of their largest
value on the course, so that a runner's oval and a race circuit need no settings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.start import middle_of_longest_run
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn

HARD_SHARES = (0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7)
"""Shares of the course's largest lateral acceleration above which riders turn hard. The first of them that leaves
:data:`LEAST_STRAIGHT` of the course below it is used (our choice)."""

LEAST_STRAIGHT = 0.25
"""Least share of a course on which riders do not turn hard; an ellipse has two bends and yet no straight."""

LEAST_TURN_RAD = np.radians(25.0)
"""A bend that turns through less is no corner, radians (our choice)."""

TURNED_OVER_M = 20.0
"""Curvature of a bend is averaged over this length, metres, because the usual lap still has wiggles."""

_LARGEST = 98.0  # percentile that counts as the largest, so that a few wild points do not decide it
_TIGHT = 1.25  # share of curvature counts this much less; through it slow bends count too
_OWN_SHARE = 0.35  # share of its own largest curvature, at which a bend begins and ends
_APEX_POWER = 4  # of curvature, as the weight of a place in the apex (our choice)
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
        # The weighted mean lies in the middle of a steady bend and at the peak of an uneven one.
        apex = np.average(at[start : stop + 1], weights=curvature[start : stop + 1] ** _APEX_POWER)
        lap = np.floor(at[start] / line.length_m) * line.length_m if line.closed else 0.0
        turn = Turn.LEFT if turned > 0 else Turn.RIGHT
        bends.append(Bend(turn, *(float(s - lap) for s in (at[start], apex, at[stop]))))
    return tuple(sorted(bends, key=lambda bend: bend.turn_in_m))


def _turning(curvature: FloatArray, speed: FloatArray) -> np.ndarray:
    """+1 where riders turn hard to the left, −1 to the right, 0 elsewhere; shape ``(n,)``."""
    lateral, tight = np.abs(np.square(speed) * curvature), np.abs(curvature)
    lateral = lateral / max(np.percentile(lateral, _LARGEST), 1e-9)
    tight = tight / max(np.percentile(tight, _LARGEST), 1e-9)
    hard = np.maximum(lateral, tight / _TIGHT)
    for share in HARD_SHARES:
        if np.mean(hard < share) >= LEAST_STRAIGHT:
            return np.where(hard >= share, np.sign(curvature), 0.0).astype(int)
    return np.zeros(len(hard), dtype=int)


def _runs(turning: np.ndarray, speed: FloatArray, step_m: float) -> list[tuple[int, int]]:
    """First and last index of each run in one direction; short pauses within a run are bridged."""
    changes = np.flatnonzero(np.diff(turning)) + 1
    starts = np.concatenate([[0], changes])
    stops = np.concatenate([changes, [len(turning)]]) - 1
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
    """First and last index at which the curvature of a run is a fair share of its own largest."""
    inside = size[start : stop + 1]
    turning = np.flatnonzero(inside >= _OWN_SHARE * np.percentile(inside, _LARGEST))
    return start + int(turning[0]), start + int(turning[-1])
