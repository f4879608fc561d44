"""Why no line can be found: cones that exclude each other, or that no machine can pass as asked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.corridor import Window
from lapkit.course.line_problem import LineProblem
from lapkit.errors import TrackError

TIGHTEST_RIDEABLE_M = 4.0
"""A line that has to turn tighter than this is reported as impossible, metres (our choice)."""

MOST_ACROSS_DEG = 60.0
"""A line that has to cross the track at more than this angle is reported too, degrees (our choice)."""

_NEAR_M = 60.0  # a cone further away is not what forces the line there (our choice)


def check_reach(problem: LineProblem) -> None:
    """Check that a line within the bounds of its points can pass every cone.

    Those bounds keep away from the centre of a tight bend, where normals cross, however wide the road is.

    Raises:
        TrackError: a cone lies beyond the bounds; the error names it.
    """
    positive, negative = problem.rows.maximum(0.0), problem.rows.minimum(0.0)
    lowest = positive @ problem.lower_m + negative @ problem.upper_m
    highest = positive @ problem.upper_m + negative @ problem.lower_m
    for window, low, high in zip(problem.windows, lowest, highest, strict=True):
        if low > window.high_m or high < window.low_m:
            raise TrackError(
                "no line can reach this cone: the course bends too tightly beside it",
                where=window.where,
                remedy="Check the cone's place, and the centre or the edges there.",
            )


def check_together(problem: LineProblem) -> None:
    """Check that cones side by side leave a way between them.

    Raises:
        TrackError: two cones exclude each other; the error names both.
    """
    for i, one in enumerate(problem.windows):
        beside = [
            other
            for other in problem.windows[i + 1 :]
            if problem.between_m(one, other) < problem.step_m
        ]
        if any(_apart(one, other) >= 0.0 for other in beside):
            raise conflict(problem, [one, *beside])


def conflict(problem: LineProblem, windows: Sequence[Window]) -> TrackError:
    """The error for cones that leave no line at all: it names the two that exclude each other most sharply.

    Args:
        problem: the line's problem.
        windows: those of its cones that may be at fault.
    """
    pairs = [(a, b) for i, a in enumerate(windows) for b in windows[i + 1 :]]
    if not pairs:
        return TrackError(
            "no line fits between the edges here",
            where=windows[0].where if windows else "",
            remedy="Check the edges, or the centre and its width.",
        )
    one, other = max(
        pairs,
        key=lambda pair: _apart(*pair) / (1.0 + problem.between_m(*pair)),
    )
    return TrackError(
        f"no line passes both this cone and {other.where}",
        where=one.where,
        remedy="Check the place and the side of both.",
    )


def _apart(one: Window, other: Window) -> float:
    """How far the offsets that two cones allow lie apart, metres; negative where they overlap."""
    return max(one.low_m - other.high_m, other.low_m - one.high_m)


def check_rideable(problem: LineProblem, move_m: FloatArray, forces: FloatArray) -> None:
    """Check that a machine can follow a line.

    Args:
        problem: the line's problem.
        move_m: the line's sideways move, ``(n,)``.
        forces: how hard each cone holds the line, as multipliers of the linear programme, ``(k,)``.

    Raises:
        TrackError: it turns too tightly or crosses the track too squarely; the error names the cone that
            holds it there, or the place where the edges do.
    """
    curvature = np.abs(problem.curvature(move_m)[0])
    tight = int(np.argmax(curvature))
    radius = 1.0 / max(curvature[tight], 1e-9)
    chords = np.diff(problem.points(move_m), axis=0)
    angle_deg = _angle_across_deg(chords, problem.normal[:-1])
    across = int(np.argmax(angle_deg))
    if radius < TIGHTEST_RIDEABLE_M:
        raise _fault(problem, tight, forces, f"turn to a radius of {radius:.1f} m")
    if angle_deg[across] > MOST_ACROSS_DEG:
        raise _fault(problem, across, forces, f"cross the track at {angle_deg[across]:.0f}°")


def _angle_across_deg(chords: FloatArray, normal: FloatArray) -> FloatArray:
    """Angle between chords and the reference, degrees, ``(n,)``; both arguments ``(n, 2)``."""
    to_left = np.sum(chords * normal, axis=1)
    ahead = chords[:, 0] * normal[:, 1] - chords[:, 1] * normal[:, 0]
    return np.abs(np.degrees(np.arctan2(to_left, ahead)))


def _fault(problem: LineProblem, at: int, forces: FloatArray, deed: str) -> TrackError:
    """The error for a line that cannot be ridden about a point; it names the cone that holds the line there.

    Args:
        problem: the line's problem.
        at: index of the point.
        forces: how hard each cone holds the line, ``(k,)``.
        deed: what the line would have to do.
    """
    cones = problem.base_m[problem.rows.argmax(axis=1)] if problem.windows else np.empty((0, 2))
    near = np.hypot(*(cones - problem.base_m[at]).T) < _NEAR_M
    holding = np.where(near, forces, 0.0)
    if not np.any(holding > 1e-3):
        return TrackError(
            f"between the edges the line would have to {deed}",
            where=f"{problem.station_m[at]:.0f} m along the course",
            remedy="Check the edges, or the centre and its width, there.",
        )
    return TrackError(
        f"this cone stands in the way: to meet it the line would have to {deed}",
        where=problem.windows[int(np.argmax(holding))].where,
        remedy="Check its place, its side and its pass_within_m.",
    )
