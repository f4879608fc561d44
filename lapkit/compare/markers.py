"""Marker measures of all passes: distance from the cone and from the line, lane, speed, radius and lean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.corners import STRAIGHT_M
from lapkit.compare.grid import STEP_M, crossings, parabola, with_room
from lapkit.compare.held import HeldMean
from lapkit.compare.passes import Passes
from lapkit.compare.standard import Standard
from lapkit.compare.tables import interval_columns
from lapkit.curvature import radius_m
from lapkit.lean import road_lean_deg
from lapkit.path.summary import draws_of, probability, summarise

COLUMNS = (
    "rider", "session", "lap", "corner", "marker", "kind", "gap_m", "gap_lo_m", "gap_hi_m",
    "wide_of_line_m", "wide_lo_m", "wide_hi_m", "lane", "p_lane", "speed_mps", "radius_m",
    "lean_deg", "lean_lo_deg", "lean_hi_deg", "lean_road_deg",
)  # fmt: skip
"""The published columns of ``markers.csv``, in their order."""

EXTRA_COLUMNS = ("line_gap_m", "wide_east", "wide_north")
"""Further columns: the marker line's own gap to the cone, and which way is wide."""

ALL_COLUMNS = COLUMNS + EXTRA_COLUMNS
"""All columns, the published ones first."""

_LINE_SEED = 7  # of the marker line's own error, which is the same for every log, whichever worker measures it
# Grid steps before and after a cone within which the nearest point is searched for.
_NEAR = round(12.0 / STEP_M)


class _Markers(NamedTuple):
    """Markers of corners, or of the passes through them, as arrays ``(corners or passes, markers)``.

    NaN beyond the last marker of a corner that has fewer than others. ``outward`` has a further axis for east and
    north, ``seam_offset_m`` one for the corner's seams; all else is as in
    :class:`~lapkit.compare.standard.MarkerStandard`, with +1 for a cone whose proper side is the rider's left, else −1.
    """

    station_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    proper_sign: FloatArray
    camber_deg: FloatArray
    outward: FloatArray
    line_offset_m: FloatArray
    line_gap_m: FloatArray
    seam_offset_m: FloatArray

    @classmethod
    def of_passes(cls, passes: Passes) -> _Markers:
        """The markers of each pass's corner."""
        return cls(*(values[passes.corner_of] for values in _of_corners(passes.standards)))

    @property
    def there(self) -> np.ndarray:
        """Which entries are markers and no filling."""
        return np.isfinite(self.station_m)


@lru_cache(maxsize=4)
def _of_corners(standards: Sequence[Standard]) -> _Markers:
    """The markers of every corner of a course."""
    shape = len(standards), max(len(standard.markers) for standard in standards)
    seams = max(len(standard.corner.seams) for standard in standards)
    every = _Markers(
        station_m=np.full(shape, np.nan),
        x_m=np.full(shape, np.nan),
        y_m=np.full(shape, np.nan),
        proper_sign=np.full(shape, np.nan),
        camber_deg=np.full(shape, np.nan),
        outward=np.full((*shape, 2), np.nan),
        line_offset_m=np.full(shape, np.nan),
        line_gap_m=np.full(shape, np.nan),
        seam_offset_m=np.full((*shape, seams), np.nan),
    )
    for i, standard in enumerate(standards):
        for k, held in enumerate(standard.markers):
            every.station_m[i, k] = held.marker.station_m
            every.x_m[i, k] = held.marker.x_m
            every.y_m[i, k] = held.marker.y_m
            every.proper_sign[i, k] = held.marker.side.sign
            every.camber_deg[i, k] = held.marker.camber_deg
            every.outward[i, k] = held.outward
            every.line_offset_m[i, k] = held.line_offset_m
            every.line_gap_m[i, k] = held.line_gap_m
            every.seam_offset_m[i, k, : len(held.seam_offset_m)] = held.seam_offset_m
    return every


@dataclass(frozen=True, eq=False)
class MarkerRows:
    """Measures at markers in every row of the ensemble, ``(rows, passes, markers)``.

    NaN where a row does not pass the marker within the pass, and beyond the last marker of a corner that has fewer
    than others. All but ``gap_m`` are means over 10 m.

    Attributes:
        gap_m: distance of the tyre path from the cone, metres, positive on the proper side.
        wide_of_line_m: distance of the tyre path from the marker line, metres, positive to the outside.
        offset_m: offset of the tyre path from the reference, metres, left positive.
        speed_mps: speed, m/s.
        curvature_1pm: curvature, 1/m, positive into the turn.
        lean_deg: lean, degrees, positive into the turn.
    """

    gap_m: FloatArray
    wide_of_line_m: FloatArray
    offset_m: FloatArray
    speed_mps: FloatArray
    curvature_1pm: FloatArray
    lean_deg: FloatArray


def marker_rows(passes: Passes) -> MarkerRows:
    """Measure all passes at their corners' markers in every row."""
    markers = _Markers.of_passes(passes)
    at = with_room(crossings(passes.station_m, markers.station_m, passes.grid), passes.grid)
    offset = HeldMean(passes.offset_m, passes.grid).at(at)
    outside_m = -passes.sign[:, None] * (offset - markers.line_offset_m)
    line_moved_m = _line_moved_m(len(offset), passes.standards[0].line_sd_m, markers.outward)
    return MarkerRows(
        gap_m=np.where(np.isfinite(at), _gaps(passes, markers, at[0]), np.nan),
        wide_of_line_m=outside_m - line_moved_m,
        offset_m=offset,
        speed_mps=HeldMean(passes.speed_mps, passes.grid).at(at),
        curvature_1pm=passes.held_curvature.at(at),
        lean_deg=passes.held_lean.at(at),
    )


def _line_moved_m(rows: int, line_sd_m: float, outward: FloatArray) -> FloatArray:
    """How far outward of its given place each row has the marker line, metres, ``(rows, passes, markers)``.

    A line that the coach rode is off by the error of his receiver, the whole line alike and for every rider. So each
    row moves it by one vector, and by the same one in every log. Row 0 leaves it in place.
    """
    moved = line_sd_m * np.random.default_rng(_LINE_SEED).standard_normal((rows, 2))
    moved[0] = 0.0
    return np.moveaxis(outward @ moved.T, -1, 0)


def marker_columns(passes: Passes, rows: MarkerRows) -> dict[str, Any]:
    """Columns of ``markers.csv`` from ``gap_m`` on, with a line for each marker of each pass, ``(lines,)``."""
    markers = _Markers.of_passes(passes)
    there = markers.there
    gap = summarise(rows.gap_m[:, there])
    wide = summarise(rows.wide_of_line_m[:, there])
    lean = summarise(rows.lean_deg[:, there])
    lane, p_lane = _lanes(passes, markers.seam_offset_m, rows.offset_m)
    return {
        **interval_columns("gap", "m", gap),
        "wide_of_line_m": wide.value,
        "wide_lo_m": wide.lo,
        "wide_hi_m": wide.hi,
        "lane": lane[there],
        "p_lane": p_lane[there],
        "speed_mps": rows.speed_mps[0][there],
        "radius_m": np.minimum(radius_m(rows.curvature_1pm[0][there]), STRAIGHT_M),
        **interval_columns("lean", "deg", lean),
        "lean_road_deg": road_lean_deg(lean.value, markers.camber_deg[there]),
        "line_gap_m": markers.line_gap_m[there],
        "wide_east": markers.outward[there][:, 0],
        "wide_north": markers.outward[there][:, 1],
    }


def _gaps(passes: Passes, markers: _Markers, beside: FloatArray) -> FloatArray:
    """As :attr:`MarkerRows.gap_m`, at the point of the tyre path that is nearest to each cone.

    ``beside`` are the places at which the estimate passes the cones, ``(passes, markers)``.
    """
    middle = np.rint(np.nan_to_num(beside)).astype(np.int64)[..., None]
    begin, end = passes.grid.first[:, None, None], passes.grid.last[:, None, None]
    near = np.clip(middle + np.arange(-_NEAR, _NEAR + 1), begin, end)
    east = passes.tyre_x_m.take(near, axis=1) - markers.x_m[..., None]
    north = passes.tyre_y_m.take(near, axis=1) - markers.y_m[..., None]
    squared_m2 = east * east + north * north
    nearest = np.argmin(squared_m2[..., 1:-1], axis=-1)[..., None] + np.array([0, 1, 2])

    def about_nearest(values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The parabola through the nearest grid point and its neighbours."""
        before, at, after = np.moveaxis(np.take_along_axis(values, nearest, -1), -1, 0)
        return parabola(before, at, after)

    # The vertex of the squared distance is the foot of the perpendicular, in steps from the nearest grid point.
    _, slope, bend = about_nearest(squared_m2)
    foot = np.clip(-0.5 * slope / np.maximum(bend, 1e-9), -1.0, 1.0)
    at, slope, bend = about_nearest(east)
    x, along_x = at + foot * (slope + foot * bend), slope + 2.0 * foot * bend
    at, slope, bend = about_nearest(north)
    y, along_y = at + foot * (slope + foot * bend), slope + 2.0 * foot * bend
    cone_on_left = along_y * x - along_x * y
    return cone_on_left / np.maximum(np.hypot(along_x, along_y), 1e-9) * markers.proper_sign


def _lanes(
    passes: Passes, seam_offset_m: FloatArray, offset_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The most probable lane at each marker and its probability, ``(passes, markers)`` each; NaN without seams.

    Args:
        passes: the passes.
        seam_offset_m: offsets of the seams, ``(passes, markers, seams)``.
        offset_m: offsets of the tyre path in every row, ``(rows, passes, markers)``.
    """
    draws = draws_of(offset_m)
    seams = seam_offset_m.shape[-1]
    # A lane is numbered by the seams on the inner side of the tyres: 0 for the innermost lane, which is told as 1.
    lane = np.zeros(draws.shape, dtype=np.int64)
    for number in range(seams):
        lane += passes.sign[:, None] * (draws - seam_offset_m[..., number]) <= 0.0
    p_of_lanes = np.stack([probability(lane == number) for number in range(seams + 1)])
    has_seams = np.isfinite(seam_offset_m).any(axis=-1)
    known = np.isfinite(offset_m).all(axis=0) & has_seams
    likeliest = 1.0 + np.argmax(p_of_lanes, axis=0)
    return np.where(known, likeliest, np.nan), np.where(known, np.max(p_of_lanes, axis=0), np.nan)
