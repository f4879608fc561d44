"""A line of the track file without the jitter of the walk it was recorded on and without the rounding of its digits.

The usual six decimals of a degree are eleven centimetres. A spline through points a metre apart on such a grid is,
somewhere in every corner, a third tighter than the line that was drawn.
"""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, step_deg
from lapkit.course.smoothing import smooth_even
from lapkit.course.stations import StationLine
from lapkit.curvature import path_length_m

_WALKED_SPACING_M = 4.0  # vertices usually further apart were drawn, and are believed (our choice)
_JITTER_M = 0.04  # a receiver errs by more
_SHORTEST_WAVE_M = 16.0  # a bend of 10 m radius is a quarter of a 63 m wave
_LONGEST_WAVE_M = 60.0  # longer waves belong to the course, whatever the noise
_ROUNDED_M = 0.001  # less changes no radius by a per cent
_WAVES_M = np.geomspace(_LONGEST_WAVE_M, 10.0, 12)  # tried in turn, each 15 % shorter


def rounding_m(lon_lat: FloatArray) -> FloatArray:
    """Standard deviation of the rounding of a line's vertices east and north, metres, ``(2,)``.

    Args:
        lon_lat: vertices, degrees, shape ``(n, 2)``; the step they were rounded to is found from them.
    """
    lon, lat = lon_lat.T
    step = step_deg(lat, lon)
    if np.isnan(step):
        return np.zeros(2)
    east = np.cos(np.radians(np.mean(lat)))
    # Rounding errors are uniform over a step.
    return np.array([east, 1.0]) * METRES_PER_DEGREE * step / np.sqrt(12.0)


def without_jitter(
    x_m: FloatArray, y_m: FloatArray, drawn: StationLine, rounded_m: FloatArray
) -> StationLine:
    """The line through vertices, without their jitter; ``drawn`` itself when they have none.

    Args:
        x_m, y_m: vertices, metres, shape ``(n,)``.
        drawn: the line through them.
        rounded_m: standard deviation of their rounding, east and north (:func:`rounding_m`).
    """
    if np.median(np.hypot(np.diff(x_m), np.diff(y_m))) <= _WALKED_SPACING_M:
        walked = _walked(x_m, y_m, drawn)
        if walked is not None:
            return walked
    return _unrounded(x_m, y_m, drawn, rounded_m) if rounded_m.max() > _ROUNDED_M else drawn


def _walked(x_m: FloatArray, y_m: FloatArray, drawn: StationLine) -> StationLine | None:
    """A densely recorded line, smoothed as its own noise demands; None where the noise is too small to be a receiver's."""
    length = path_length_m(x_m, y_m)
    count = max(int(length[-1] / 2.0), 8)
    at = np.linspace(0.0, length[-1], count + 1)[: count if drawn.closed else None]
    points = np.stack([np.interp(at, length, x_m), np.interp(at, length, y_m)], axis=-1)
    smooth = smooth_even(points, at[1], drawn.closed, _SHORTEST_WAVE_M, _LONGEST_WAVE_M)
    if smooth.removed_sd < _JITTER_M:
        return None
    return StationLine.through(smooth.values[:, 0], smooth.values[:, 1], drawn.closed)


def _unrounded(
    x_m: FloatArray, y_m: FloatArray, drawn: StationLine, rounded_m: FloatArray
) -> StationLine:
    """The smoothest line that lies no further from the vertices than their rounding explains.

    Smoothing keeps the long waves of the rounding too, which are 2 · spacing / wavelength of its variance. Only the
    component across the line counts, since rounding along it does not move the line.
    """
    spacing = drawn.length_m / len(x_m)
    points = np.stack([drawn.x_m, drawn.y_m], axis=-1)[: -1 if drawn.closed else None]
    _, nearest = drawn.tree.query(np.stack([x_m, y_m], axis=-1))
    heading = drawn.heading_rad[nearest]
    sideways = np.stack([-np.sin(heading), np.cos(heading)], axis=-1)
    explained = np.mean(np.square(sideways * rounded_m).sum(axis=1))
    for wave_m in _WAVES_M:
        smooth = smooth_even(points, drawn.step_m, drawn.closed, wave_m, wave_m).values
        moved = np.sum((smooth - points)[nearest] * sideways, axis=1)
        if np.mean(np.square(moved)) <= explained * (1.0 - 2.0 * spacing / wave_m):
            return StationLine.through(smooth[:, 0], smooth[:, 1], drawn.closed)
    return drawn
