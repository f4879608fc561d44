"""Grade and vertical curvature: of a line from its heights, and of the road under a path beside it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.course import Course, Profile
from lapkit.course.heights import Nodes, SmoothHeights, smooth_heights
from lapkit.course.smoothing import Smooth, smooth_even
from lapkit.course.stations import LEAST_STRETCH, StationLine

_FINEST_STEP_M = 5.0  # a fifth of the shortest wave that is kept
_SHORTEST_WAVE_M = 25.0  # shorter than any crest that a road has
_LONGEST_WAVE_M = 250.0  # metres: a crest or dip of this length is the road, whatever the noise
_OVERLAP_M = 300.0  # of a loop repeated beyond both ends: heights farther away have no effect
_UNKNOWN_M = 125.0  # farther from any height than this the road is unknown: half the longest wave
_FEWEST_PARTS = 8  # or, on a short course, farther from any height than this share of it
_NO_DOUBT_1PM = 1e-5  # at 30 m/s a thousandth of gravity
_OPENS_OVER_M = 5.0  # each way: the change of the reference's curvature is taken over 10 m


def profile_of(line: StationLine, station_m: FloatArray, height_m: FloatArray) -> Profile | None:
    """Grade and vertical curvature along a line; None when fewer than four points have a height.

    The heights are smoothed as strongly as their own scatter demands at each place. So half a metre of noise does not
    show in the vertical curvature, and a crest drawn exactly keeps its radius. The uncertainty that remains is kept as
    draws. Where no height is known for 125 m the road is taken to have a constant grade; beyond the first and the last
    height of an open line it is taken to be level.

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
    at, height, uniform = _evened(line, *_filled(line, at, height))
    step, beyond, smooth = _smoothed(line, at, height, uniform)
    inner = slice(beyond, len(smooth.height_m) - beyond)
    grade = np.gradient(smooth.height_m, step)[inner]
    # The curvature of the road in profile is the second derivative over (1 + grade²)^1.5.
    longer = (1.0 + grade**2) ** 1.5
    bend = _second_derivative(smooth.height_m, step)[inner] / longer
    doubt = _second_derivative(smooth.deviations_m, step)[inner] / longer[:, None]
    if line.closed:
        grade, bend, doubt[-1] = grade[:-1], bend[:-1], doubt[0]
    sure = np.std(doubt) < _NO_DOUBT_1PM
    return Profile(
        station_m=read_only(step * np.arange(len(grade))),
        grade=read_only(grade),
        vertical_curvature_1pm=read_only(bend),
        length_m=line.period_m,
        doubt_1pm=None if sure else read_only(doubt.T),
    )


def _filled(line: StationLine, at: FloatArray, height: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The heights in order of their stations, with interpolated ones added where none is near.

    Without these the smoothed road would continue the last known change of grade: an open line of 5 km with heights
    along 500 m would end in a wall, and a few heights in one place would determine nothing.
    """
    near = min(_UNKNOWN_M, line.length_m / _FEWEST_PARTS)
    tried = np.linspace(0.0, line.length_m, int(np.ceil(line.length_m / near)) + 1)
    if line.closed:
        tried = tried[:-1]
    away = np.abs(line.way(tried[:, None] - at))
    more = tried[away.min(axis=1) > near]
    known = np.interp(more, at, height, period=line.period_m)
    order = np.argsort(np.concatenate([at, more]), kind="stable")
    return np.concatenate([at, more])[order], np.concatenate([height, known])[order]


def _evened(
    line: StationLine, at: FloatArray, height: FloatArray
) -> tuple[FloatArray, FloatArray, Smooth]:
    """Stations and heights to smooth, ``(m,)`` each, and the same heights smoothed with one strength for all of the line.

    Heights closer together than a step are averaged over it first, because the errors of neighbours are correlated.
    """
    spacing = line.length_m / len(at)
    count = max(int(line.length_m / max(spacing, _FINEST_STEP_M)), 8)
    grid = np.arange(count, dtype=np.float64) * (line.length_m / count)
    if not line.closed:
        grid = np.linspace(0.0, line.length_m, count + 1)
    level = _averaged(at, height, grid, line.period_m)
    uniform = smooth_even(level, grid[1], line.closed, _SHORTEST_WAVE_M, _LONGEST_WAVE_M)
    return (grid, level, uniform) if spacing < _FINEST_STEP_M else (at, height, uniform)


def _smoothed(
    line: StationLine, at: FloatArray, height: FloatArray, uniform: Smooth
) -> tuple[float, int, SmoothHeights]:
    """The step between nodes, metres; the number of nodes beyond each end of the line; the heights at all nodes."""
    nodes = max(round(line.length_m / _FINEST_STEP_M), 8)
    step, beyond = line.length_m / nodes, 1
    if line.closed:
        beyond = min(round(_OVERLAP_M / step), nodes)
        at = (at + line.length_m * np.array([[-1.0], [0.0], [1.0]])).ravel()
        near = np.abs(at - 0.5 * line.length_m) < 0.5 * line.length_m + beyond * step
        at, height = at[near], np.tile(height, 3)[near]
    all_nodes = Nodes(nodes + 1 + 2 * beyond, step)
    return step, beyond, smooth_heights(at + beyond * step, height, all_nodes, uniform)


def _second_derivative(height_m: FloatArray, step_m: float) -> FloatArray:
    """Second derivative at nodes, ``(n, ...)``; both end nodes take that of their neighbour."""
    inner = np.diff(height_m, 2, axis=0) / step_m**2
    return np.concatenate([inner[:1], inner, inner[-1:]])


def _averaged(
    at: FloatArray, height: FloatArray, grid: FloatArray, period: float | None
) -> FloatArray:
    """Mean height over a step about each grid station, of the heights joined by straight lines."""
    step = grid[1]
    fine = np.broadcast_to((np.arange(-2, 3) / 5.0) * step, (len(grid), 5))
    if period is None:
        # Near an end the mean is taken over less, so that it stays symmetric.
        room = np.minimum(grid, grid[-1] - grid)[:, None]
        fine = np.clip(fine, -room, room)
    return np.interp(grid[:, None] + fine, at, height, period=period).mean(axis=1)


class RoadUnder(NamedTuple):
    """Grade and vertical curvature (1/m, positive in a dip) of the road along a path; arrays of one shape.

    ``sharper`` is the factor by which a crest or dip is sharper along the path than along the reference.
    """

    grade: FloatArray
    vertical_curvature_1pm: FloatArray
    sharper: FloatArray


def road_under(
    course: Course,
    station_m: FloatArray,
    offset_m: FloatArray,
    heading_rad: FloatArray,
    curvature_1pm: FloatArray,
) -> RoadUnder:
    """The road under a path; level where the course has no heights.

    The height is taken to be constant across the road. A path at an offset o, turned by δ from a reference of curvature
    κ, covers S′ = cos δ / (1 − κ o) metres of station for each of its own. So on the inside of a bend it crosses a crest
    in fewer metres, and the crest is sharper by the factor S′². Where S′ changes, the grade bends the path too:
    z″ = z_SS S′² + z_S S″. All arrays have one shape.

    Args:
        course: where the road's profile is known, along its reference.
        station_m: where the path is beside the reference, metres.
        offset_m: how far to its left, metres.
        heading_rad: of the path, counter-clockwise from east.
        curvature_1pm: of the path, left positive.

    Source: differential geometry of curves beside a curve (algebra).
    """
    if course.profile is None:
        level = np.zeros_like(station_m)
        return RoadUnder(level, level, level)
    line, at = course.reference, course.reference.wrap(station_m)
    bend = line.curvature_at(at)
    opens = line.curvature_at(at + _OPENS_OVER_M) - line.curvature_at(at - _OPENS_OVER_M)
    turned = heading_rad - line.heading_at(at)
    cos, sin = np.cos(turned), np.sin(turned)
    stretch = np.maximum(1.0 - bend * offset_m, LEAST_STRETCH)
    rate = cos / stretch
    # S″, from the changes of δ and of 1 − κ o along the path.
    closing = opens / (2.0 * _OPENS_OVER_M) * rate * offset_m + bend * sin
    quickens = (cos * closing / stretch - sin * (curvature_1pm - bend * rate)) / stretch
    slope, sharp = course.profile.at(at)
    grade = slope * rate
    longer = (1.0 + grade * grade) ** 1.5
    sharper = (1.0 + slope * slope) ** 1.5 * rate * rate / longer
    return RoadUnder(grade, sharp * sharper + slope * quickens / longer, sharper)
