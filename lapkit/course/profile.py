"""Grade and vertical curvature: of a line from its heights, and of the road under a path beside it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.course.course import Course, Profile
from lapkit.course.heights import Nodes, SmoothHeights, smooth_heights
from lapkit.course.smoothing import Smooth, smooth_even
from lapkit.course.stations import FLATTEST, StationLine
from lapkit.units import FloatArray, read_only

_FINEST_STEP_M = 5.0  # a fifth of the shortest wave that is kept
_SHORTEST_WAVE_M = 25.0  # shorter than any crest that a road has
_LONGEST_WAVE_M = 250.0  # a crest or dip of such a length is the road, whatever the noise
_ROUND_M = 300.0  # of a loop that is gone on over its ends: what lies further bends nothing
_UNKNOWN_M = 125.0  # farther from any height nothing is left of one: half of the longest wave
_FEWEST_PARTS = 8  # of a short course; and farther than such a part
_NO_DOUBT_1PM = 1e-5  # at 30 m/s a thousandth of gravity
_OPENS_OVER_M = 5.0  # each way: how fast the reference opens or closes is looked at over 10 m


def profile_of(line: StationLine, station_m: FloatArray, height_m: FloatArray) -> Profile | None:
    """Grade and vertical curvature along a line; None when fewer than four points have a height.

    The heights are smoothed as much as their own scatter at each place needs, so that half a metre of noise does not
    show in the vertical curvature and a crest drawn exactly keeps its radius. How uncertain they stay is kept as draws.
    Where no height is known for 125 m the road is taken to run straight, and beyond the first and the last height of an
    open line level.

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
    at, height, alike = _evened(line, *_filled(line, at, height))
    step, beyond, smooth = _smoothed(line, at, height, alike)
    inner = slice(beyond, len(smooth.height_m) - beyond)
    grade = np.gradient(smooth.height_m, step)[inner]
    # Curvature of the road in profile, not of its graph: the slope makes it longer.
    longer = (1.0 + grade**2) ** 1.5
    bend = _bend(smooth.height_m, step)[inner] / longer
    doubt = _bend(smooth.deviations_m, step)[inner] / longer[:, None]
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
    """Heights in order of their stations with more of them, between their neighbours, where none is near.

    Without them the smoothed road would go on with the last known change of grade: an open line of 5 km with heights
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
    """Stations and heights to smooth, ``(m,)`` each, and the heights smoothed as if all of the line were alike.

    Heights closer to each other than a step are averaged over it first, because errors of neighbours are correlated.
    """
    spacing = line.length_m / len(at)
    count = max(int(line.length_m / max(spacing, _FINEST_STEP_M)), 8)
    grid = np.arange(count, dtype=np.float64) * (line.length_m / count)
    if not line.closed:
        grid = np.linspace(0.0, line.length_m, count + 1)
    level = _averaged(at, height, grid, line.period_m)
    alike = smooth_even(level, grid[1], line.closed, _SHORTEST_WAVE_M, _LONGEST_WAVE_M)
    return (grid, level, alike) if spacing < _FINEST_STEP_M else (at, height, alike)


def _smoothed(
    line: StationLine, at: FloatArray, height: FloatArray, alike: Smooth
) -> tuple[float, int, SmoothHeights]:
    """From node to node, metres; how many nodes lie beyond each end of the line; the smoothed heights at all of them."""
    nodes = max(round(line.length_m / _FINEST_STEP_M), 8)
    step, beyond = line.length_m / nodes, 1
    if line.closed:
        beyond = min(round(_ROUND_M / step), nodes)
        at = (at + line.length_m * np.array([[-1.0], [0.0], [1.0]])).ravel()
        near = np.abs(at - 0.5 * line.length_m) < 0.5 * line.length_m + beyond * step
        at, height = at[near], np.tile(height, 3)[near]
    all_nodes = Nodes(nodes + 1 + 2 * beyond, step)
    return step, beyond, smooth_heights(at + beyond * step, height, all_nodes, alike)


def _bend(height_m: FloatArray, step_m: float) -> FloatArray:
    """Second derivative at nodes, ``(n, ...)``, that of the neighbour at both ends."""
    inner = np.diff(height_m, 2, axis=0) / step_m**2
    return np.concatenate([inner[:1], inner, inner[-1:]])


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


class RoadUnder(NamedTuple):
    """Grade and vertical curvature (1/m, positive in a dip) of the road along a path, of one shape.

    ``sharper`` is by which factor a crest or dip is sharper for the path than along the reference.
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
    """The road under a path; level without heights.

    Across the road the height is taken to be that of the reference. A path at an offset o, turned by δ from a reference
    of curvature κ, passes S′ = cos δ / (1 − κ o) metres of station a metre: inside a bend it is over a crest sooner, and
    the crest is sharper for it by S′². Where S′ changes, the grade bends the path too: z″ = z_SS S′² + z_S S″. All
    arrays have one shape.

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
    flat = np.maximum(1.0 - bend * offset_m, FLATTEST)
    rate = cos / flat
    # S″, from the changes of δ and of 1 − κ o along the path.
    closing = opens / (2.0 * _OPENS_OVER_M) * rate * offset_m + bend * sin
    quickens = (cos * closing / flat - sin * (curvature_1pm - bend * rate)) / flat
    slope, sharp = course.profile.at(at)
    grade = slope * rate
    longer = (1.0 + grade * grade) ** 1.5
    sharper = (1.0 + slope * slope) ** 1.5 * rate * rate / longer
    return RoadUnder(grade, sharp * sharper + slope * quickens / longer, sharper)
