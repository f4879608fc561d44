"""The passes of one line of a walk along a reference: their mean, and that mean in degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.course.in_degrees import VERTEX_M, places_in_degrees
from lapkit.course.plane import Plane
from lapkit.course.smoothing import mean_of_known, smooth_even
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine
from lapkit.course.walk_lines import LONGEST_WAVE_M, SHORTEST_WAVE_M, Pass
from lapkit.errors import TrackError

GAP_M = 30.0
"""A gap in a walk up to this length is bridged by a straight line, metres (our choice)."""

BESIDE_M = 40.0
"""What was recorded farther from the reference is not part of the line, metres (our choice)."""

_WALKED_HEIGHT_WAVE_M = 400.0  # metres walked while heights wander by a metre or two
_RIDDEN_HEIGHT_WAVE_M = 40.0  # to a rider the same wander is kilometres long, and a crest is not


@dataclass(frozen=True, eq=False)
class Averaged:
    """The mean of several passes along a reference.

    Attributes:
        station_m, offset_m: along the reference and to its left, metres, ``(n,)`` each.
        height_m: metres, ``(n,)``; all NaN when too few heights were recorded.
        closed: whether the line goes all the way round.
        spread_m: rms difference of the passes from their mean, metres; NaN for a single pass.
        filled_m: length of the gaps between recorded parts that nobody walked, metres.
    """

    station_m: FloatArray
    offset_m: FloatArray
    height_m: FloatArray
    closed: bool
    spread_m: float
    filled_m: float


def averaged(reference: StationLine, passes: Sequence[Pass]) -> Averaged:
    """The smoothed mean offset from the reference of the passes of one line.

    A pass may go either way, and may hold several laps or only a part of the line.

    Raises:
        TrackError: none of them comes near the reference.
    """
    count = max(int(reference.length_m / VERTEX_M), 8)
    step = reference.length_m / (count if reference.closed else count - 1)
    offsets, heights = [], []
    for walked in passes:
        station, offset, turned = reference.follow_either_way(walked.x_m, walked.y_m)
        height = walked.height_m[turned]
        near = np.abs(offset) < BESIDE_M
        if not reference.closed:
            near &= (station >= -step) & (station <= reference.length_m + step)
        place = np.round(reference.wrap(station[near]) / step).astype(int)
        place = place % count if reference.closed else np.clip(place, 0, count - 1)
        most = round(GAP_M / step)
        offsets.append(_bridged(_means(place, offset[near], count), most, reference.closed))
        heights.append(_bridged(_means(place, height[near], count), most, reference.closed))
    mean_offset, spread = _mean_and_spread(np.array(offsets))
    mean_height, _ = _mean_and_spread(np.array(heights))
    return _smoothed(reference, step, mean_offset, mean_height, spread)


def _means(place: np.ndarray, values: FloatArray, count: int) -> FloatArray:
    """Mean of the values at each place, NaN where there is none; shape ``(count,)``."""
    known = np.isfinite(values)
    number = np.bincount(place[known], minlength=count)
    total = np.bincount(place[known], values[known], minlength=count)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan)


def _bridged(values: FloatArray, most: int, closed: bool) -> FloatArray:
    """Values with gaps of at most ``most`` places filled by straight lines."""
    count = len(values)
    known = np.flatnonzero(np.isfinite(values))
    if len(known) < 2:
        return values
    index = np.arange(count)
    filled = np.interp(index, known, values[known], period=count if closed else None)
    after = np.searchsorted(known, index)
    around = np.concatenate([[known[-1] - count], known, [known[0] + count]])
    gap = around[after + 1] - around[after]
    gap[known] = 0
    if not closed:
        gap[(index < known[0]) | (index > known[-1])] = count
    return np.where(gap <= most, filled, np.nan)


def _mean_and_spread(rows: FloatArray) -> tuple[FloatArray, float]:
    """Mean over passes at each place, NaN where none was, and their rms difference from it."""
    mean = mean_of_known(rows)
    known = np.isfinite(rows)
    number = known.sum(axis=0)
    several = known & (number > 1)
    if not np.any(several):
        return mean, float("nan")
    free = np.broadcast_to((number - 1) / np.maximum(number, 1), rows.shape)[several]
    away = (rows - mean)[several]
    return mean, float(np.sqrt(np.sum(away**2) / np.sum(free)))


def _smoothed(
    reference: StationLine, step: float, offsets: FloatArray, heights: FloatArray, spread: float
) -> Averaged:
    """The line of mean offsets, where it runs, its gaps filled and its offsets smoothed."""
    known = np.flatnonzero(np.isfinite(offsets))
    if len(known) < 2:
        raise TrackError(
            "a recording does not run along the course",
            remedy="Check its name, or record it again.",
        )
    count = len(offsets)
    gaps = np.diff(np.append(known, known[0] + count))
    widest = int(np.argmax(gaps))
    closed = reference.closed and gaps[widest] * step < max(GAP_M, 0.05 * reference.length_m)
    if reference.closed and not closed:
        # Places count on from the first one after the widest gap, so that no part is torn apart.
        known = np.concatenate([known[widest + 1 :], known[: widest + 1] + count])
    first, stop = (0, count) if closed else (known[0], known[-1] + 1)
    index = np.arange(first, stop, dtype=np.float64)
    inner = np.diff(np.append(known, known[0] + count) if closed else known)
    filled = float(np.sum(inner[inner * step > GAP_M]) * step)
    period = count if reference.closed else None
    offset = np.interp(index, known, offsets[known % count], period=period)
    smooth = smooth_even(offset, step, closed, SHORTEST_WAVE_M, LONGEST_WAVE_M).values
    height = np.full(len(index), np.nan)
    with_height = np.flatnonzero(np.isfinite(heights))
    if len(with_height) > 0.9 * len(known):
        height = np.interp(index, with_height, heights[with_height], period=period)
    return Averaged(index * step, smooth, height, closed, spread, filled)


def geo_line(
    plane: Plane,
    reference: StationLine,
    line: Averaged,
    *,
    ridden: bool = False,
    name: str = "",
    corner: str = "",
) -> GeoLine:
    """The averaged line in degrees, its first point repeated when closed.

    Heights recorded on foot wander by a metre or two within minutes, which at walking pace looks like a crest. So only
    their long waves are kept. A rider passes a crest in seconds, so heights that were ridden keep it.
    """
    x, y = reference.offset_points(line.station_m, line.offset_m)
    height = line.height_m
    if np.all(np.isfinite(height)) and len(height) > 8:
        wave = _RIDDEN_HEIGHT_WAVE_M if ridden else _WALKED_HEIGHT_WAVE_M
        step = line.station_m[1] - line.station_m[0]
        height = smooth_even(height, step, line.closed, wave, max(wave, 400.0)).values
    lon_lat = places_in_degrees(plane, x, y)
    if line.closed:
        lon_lat, height = np.vstack([lon_lat, lon_lat[:1]]), np.append(height, height[:1])
    has_height = bool(np.all(np.isfinite(height)))
    properties = {} if np.isnan(line.spread_m) else {"spread_m": round(line.spread_m, 2)}
    return GeoLine(
        lon_lat=read_only(lon_lat),
        height_m=read_only(np.round(height, 2)) if has_height else None,
        name=name,
        corner=corner,
        properties=properties,
    )
