"""What stands in the way of a line: cones that exclude each other, or that no machine can meet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lapkit.course.corridor import Window
from lapkit.course.line_problem import LineProblem
from lapkit.errors import TrackError
from lapkit.units import FloatArray

TIGHTEST_RIDEABLE_M = 4.0
"""A line that has to turn tighter than this is reported as impossible, metres (our choice)."""

MOST_ACROSS_DEG = 60.0
"""So is one that has to cross the track at more than this angle, degrees (our choice)."""

_NEAR_M = 60.0  # a cone further away does not hold the line there (our choice)


def check_reach(problem: LineProblem) -> None:
    """Check that points within their bounds can pass every cone.

    They come no nearer to the centre of a tight bend than its normals allow, however wide the road is.

    Raises:
        TrackError: a cone lies beyond them; names it.
    """
    with_it, against = problem.rows.maximum(0.0), problem.rows.minimum(0.0)
    lowest = with_it @ problem.lower_m + against @ problem.upper_m
    highest = with_it @ problem.upper_m + against @ problem.lower_m
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
        TrackError: two cones exclude each other; names both.
    """
    step = problem.station_m[1] - problem.station_m[0]
    for i, one in enumerate(problem.windows):
        beside = [
            other
            for other in problem.windows[i + 1 :]
            if abs(one.marker.station_m - other.marker.station_m) < step
        ]
        if any(_apart(one, other) >= 0.0 for other in beside):
            raise conflict([one, *beside])


def conflict(windows: Sequence[Window]) -> TrackError:
    """Describe cones that leave no line at all: the two that exclude each other most sharply."""
    pairs = [(a, b) for i, a in enumerate(windows) for b in windows[i + 1 :]]
    if not pairs:
        return TrackError(
            "no line fits between the edges here",
            where=windows[0].where if windows else "",
            remedy="Check the edges, or the centre and its width.",
        )
    one, other = max(
        pairs,
        key=lambda p: _apart(*p) / (1.0 + abs(p[0].marker.station_m - p[1].marker.station_m)),
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
        move_m: the line, (n,).
        forces: how hard each cone holds it, as the linear programme's multipliers, (k,).

    Raises:
        TrackError: it turns too tightly or crosses the track too squarely; names the cone that
            holds it there, or the place where the edges do.
    """
    curvature = np.abs(problem.curvature(move_m)[0])
    tight = int(np.argmax(curvature))
    radius = 1.0 / max(curvature[tight], 1e-9)
    chords = np.diff(problem.points(move_m), axis=0)
    squareness = np.degrees(np.arctan2(*_seen_along(chords, problem.normal[:-1]).T))
    across = int(np.argmax(np.abs(squareness)))
    if radius < TIGHTEST_RIDEABLE_M:
        raise _fault(problem, tight, forces, f"turn to a radius of {radius:.1f} m")
    if abs(squareness[across]) > MOST_ACROSS_DEG:
        angle = f"cross the track at {abs(squareness[across]):.0f}°"
        raise _fault(problem, across, forces, angle)


def _seen_along(chords: FloatArray, normal: FloatArray) -> FloatArray:
    """Chords as (to the left, ahead) of the reference, shape ``(n, 2)``."""
    ahead = chords[:, 0] * normal[:, 1] - chords[:, 1] * normal[:, 0]
    return np.stack([np.sum(chords * normal, axis=1), ahead], axis=-1)


def _fault(problem: LineProblem, at: int, forces: FloatArray, deed: str) -> TrackError:
    """Describe a line that cannot be ridden about a point, with the cone that holds it there."""
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
