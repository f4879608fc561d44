"""The coach's own laps, recorded beside a walk: their mean, with the curvature that he rode.

Walked lines are averaged over five metres and smoothed as offsets from the walked centre. A marker line made in that
way has the curvature of the walk: for a lap of the sample course that was ridden and logged without any error the
tightest radii came out 10 to 44 % too tight. Made as here they come out 1 to 2 % too tight.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy.interpolate import CubicSpline

from lapkit.arrays import FloatArray, read_only
from lapkit.course.in_degrees import RIDDEN_VERTEX_M, VERTEX_M, line_in_degrees
from lapkit.course.marker_line import SHORTEST_WAVE_M
from lapkit.course.plane import Plane
from lapkit.course.smoothing import mean_of_known, smooth_even
from lapkit.course.stations import StationLine, growing
from lapkit.course.types import GeoLine
from lapkit.course.walk_average import BESIDE_M, GAP_M, Averaged, geo_line
from lapkit.course.walk_lines import Pass
from lapkit.curvature import path_length_m

_LONGEST_WAVE_M = 80.0  # longer waves are how he rode, whatever the noise
_MORE = 3  # fixes that a lap takes from the lap before and from the one after


def ridden_line(
    plane: Plane, reference: StationLine, passes: Sequence[Pass], along: Averaged
) -> GeoLine:
    """The mean of the coach's laps in degrees, its first point repeated when closed.

    Args:
        plane: the plane of the walk.
        reference: the line along which laps are measured.
        passes: his recordings, each of one lap, of several, or of a part of one.
        along: their average made as for walked lines, for how far the line goes and for its heights.
    """
    rough = geo_line(plane, reference, along, ridden=True)
    laps = [lap for each in passes for lap in _laps(reference, each)]
    last_m = reference.length_m if along.closed else along.station_m[-1] - along.station_m[0]
    # As far apart as his fixes: more closely spaced, their errors would look like riding.
    steps = [np.diff(station) for station, _ in laps]
    apart_m = np.median(np.concatenate(steps)) if steps else VERTEX_M
    count = max(int(last_m / apart_m), 8)
    at = along.station_m[0] + np.linspace(0.0, last_m, count + 1)[: count if along.closed else None]
    period = reference.length_m if along.closed else None
    offset = np.interp(at, along.station_m, along.offset_m, period=period)
    filled = np.stack(reference.offset_points(at, offset), axis=-1)
    ridden = [_points_at(reference, at, *lap) for lap in laps]
    points = mean_of_known(np.array(ridden).reshape(-1, *filled.shape))
    # Where no lap was recorded the average of the walked kind takes over.
    points = np.where(np.isfinite(points), points, filled)
    waves = SHORTEST_WAVE_M, _LONGEST_WAVE_M
    x, y = smooth_even(points, last_m / count, along.closed, *waves).values.T
    line = line_in_degrees(plane, StationLine.through(x, y, along.closed), RIDDEN_VERTEX_M)
    height = None
    if rough.height_m is not None:
        own = rough.height_m[: len(along.station_m)]
        fine = along.station_m[0] + np.linspace(0.0, last_m, len(line.lon_lat))
        height = read_only(np.round(np.interp(fine, along.station_m, own, period=period), 2))
    return replace(rough, lon_lat=line.lon_lat, height_m=height)


def _laps(reference: StationLine, ridden: Pass) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Increasing stations ``(n,)`` and places ``(n, 2)``, metres, of each lap of a recording made either way round."""
    station, offset, turned = reference.follow_either_way(ridden.x_m, ridden.y_m)
    points = np.stack([ridden.x_m, ridden.y_m], axis=-1)[turned]
    kept = growing(station) & (np.abs(offset) < BESIDE_M)
    station, points = station[kept], points[kept]
    length = reference.length_m if reference.closed else np.inf
    lap = np.floor((station - station[:1]) / length)
    for number in np.unique(lap):
        # With a few more fixes at either end, so that laps join with the same curvature.
        own = np.flatnonzero(lap == number)
        part = slice(max(own[0] - _MORE, 0), own[-1] + 1 + _MORE)
        if len(own) > _MORE:
            yield station[part], points[part]


def _points_at(
    reference: StationLine, at_m: FloatArray, station_m: FloatArray, points_m: FloatArray
) -> FloatArray:
    """A lap's places at stations, metres, ``(n, 2)``; NaN where it was not recorded.

    They lie on a spline through the lap, so that between two fixes it bends as it was ridden and not as the reference.
    """
    if reference.closed:
        at_m = at_m + reference.length_m * np.ceil((station_m[0] - at_m) / reference.length_m)
    length = path_length_m(*points_m.T)
    at = CubicSpline(length, points_m)(np.interp(at_m, station_m, length))
    after = np.clip(np.searchsorted(station_m, at_m), 1, len(station_m) - 1)
    recorded = (at_m <= station_m[-1]) & (np.diff(station_m)[after - 1] < GAP_M)
    return np.where(recorded[:, None], at, np.nan)
