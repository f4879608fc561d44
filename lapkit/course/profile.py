"""Grade and vertical curvature from the heights along a line."""

from __future__ import annotations

import numpy as np

from lapkit.course.course import Profile
from lapkit.course.smoothing import smooth_even
from lapkit.course.stations import StationLine
from lapkit.units import FloatArray, read_only

_FINEST_STEP_M = 5.0  # a fifth of the shortest wave that is kept
_SHORTEST_WAVE_M = 25.0  # shorter than any crest that a road has
_LONGEST_WAVE_M = 250.0  # a crest or dip of such a length is the road, whatever the noise


def profile_of(line: StationLine, station_m: FloatArray, height_m: FloatArray) -> Profile | None:
    """Grade and vertical curvature along a line; None when fewer than four points have a height.

    The heights are smoothed as much as their own scatter asks for, so that half a metre of noise
    does not shake the vertical curvature and a crest drawn exactly keeps its radius.

    Args:
        line: the line along which stations count.
        station_m: where heights are known, any order, shape ``(n,)``.
        height_m: metres, shape ``(n,)``; NaN where unknown.
    """
    known = np.isfinite(height_m)
    if np.count_nonzero(known) < 4:
        return None
    order = np.argsort(line.wrap(station_m[known]))
    at, height = line.wrap(station_m[known])[order], height_m[known][order]
    spacing = line.length_m / len(at)
    count = max(int(line.length_m / max(spacing, _FINEST_STEP_M)), 8)
    grid = np.arange(count, dtype=np.float64) * (line.length_m / count)
    if not line.closed:
        grid = np.linspace(0.0, line.length_m, count + 1)
    level = _averaged(at, height, grid, line.length_m if line.closed else None)
    smooth = smooth_even(level, grid[1], line.closed, _SHORTEST_WAVE_M, _LONGEST_WAVE_M)
    return Profile(
        station_m=read_only(grid),
        grade=read_only(smooth.first),
        # Curvature of the road in profile, not of its graph: the slope makes it longer.
        vertical_curvature_1pm=read_only(smooth.second / (1.0 + smooth.first**2) ** 1.5),
        length_m=line.length_m if line.closed else None,
    )


def _averaged(
    at: FloatArray, height: FloatArray, grid: FloatArray, period: float | None
) -> FloatArray:
    """Mean height around each grid station, by straight lines between where there are several."""
    step = grid[1]
    fine = np.broadcast_to((np.arange(-2, 3) / 5.0) * step, (len(grid), 5))
    if period is None:
        # Near an end the mean is taken over less, or it would be of one side only.
        room = np.minimum(grid, grid[-1] - grid)[:, None]
        fine = np.clip(fine, -room, room)
    return np.interp(grid[:, None] + fine, at, height, period=period).mean(axis=1)
