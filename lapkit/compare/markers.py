"""Marker measures of all passes: how near the cone, how wide of the line, which lane, what lean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lapkit.compare.corners import STRAIGHT_M
from lapkit.compare.held import STEP_M, WINDOW, Grid, HeldMean, crossings, parabola
from lapkit.compare.passes import Passes
from lapkit.compare.tables import interval_columns
from lapkit.curvature import radius_m
from lapkit.lean import road_lean_deg
from lapkit.path.summary import draws_of, probability, summarise
from lapkit.units import FloatArray

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

_LINE_SEED = 7  # the same in every worker and every log
_NEAR = round(12.0 / STEP_M)  # grid steps before and after a cone in which its gap is looked for


@dataclass(frozen=True, eq=False)
class MarkerRows:
    """Measures at markers in every row of the ensemble, shape ``(rows, passes, markers)``.

    NaN where a row does not pass the marker within the pass, and beyond the last marker of a corner that has fewer
    than others. ``offset_m`` is the tyre path's mean offset from the reference over 10 m, left positive.
    """

    gap_m: FloatArray
    wide_of_line_m: FloatArray
    offset_m: FloatArray
    speed_mps: FloatArray
    curvature_1pm: FloatArray
    lean_deg: FloatArray


def marker_rows(passes: Passes) -> MarkerRows:
    """Measure all passes at their corners' markers in every row."""
    at = _within(
        passes.grid, crossings(passes.station_m, passes.of_standard("marker_m"), passes.grid)
    )
    offset = HeldMean(passes.offset_m, passes.grid).at(at)
    away = offset - passes.of_standard("line_offset_m")
    outward = passes.of_standard("outward")
    return MarkerRows(
        gap_m=np.where(np.isfinite(at), _gaps(passes, at[0]), np.nan),
        wide_of_line_m=-passes.sign[:, None] * away
        - _line_moved(len(away), passes.standards[0].line_sd_m, outward),
        offset_m=offset,
        speed_mps=HeldMean(passes.speed_mps, passes.grid).at(at),
        curvature_1pm=passes.held_curvature.at(at),
        lean_deg=passes.held_lean.at(at),
    )


def _line_moved(rows: int, line_sd_m: float, outward: FloatArray) -> FloatArray:
    """How far outward each row has the marker line from where it was told to be, ``(rows, passes, markers)``.

    A line that the coach rode is off by his receiver's error: all of it, and by the same for every rider, so each
    row moves it alike in every log. Row 0 leaves it.
    """
    moved = line_sd_m * np.random.default_rng(_LINE_SEED).standard_normal((rows, 2))
    moved[0] = 0.0
    return np.moveaxis(outward @ moved.T, -1, 0)


def _within(grid: Grid, at: FloatArray) -> FloatArray:
    """Places at which 10 m can be looked at whole, ``(rows, passes, markers)``; NaN for others."""
    first, last = grid.first[:, None] + 0.5 * WINDOW, grid.last[:, None] - 0.5 * WINDOW
    return np.where((at >= first) & (at <= last), at, np.nan)


def marker_columns(passes: Passes, rows: MarkerRows) -> dict[str, Any]:
    """Columns of ``markers.csv`` from ``gap_m`` on, a line for each marker of each pass, ``(lines,)``."""
    stand = np.isfinite(passes.of_standard("marker_m"))

    def of_line(name: str) -> FloatArray:
        return passes.of_standard(name)[stand]

    gap, wide, lean = (
        summarise(each[:, stand]) for each in (rows.gap_m, rows.wide_of_line_m, rows.lean_deg)
    )
    lane, p_lane = _lanes(passes, rows.offset_m)
    return {
        **interval_columns("gap", "m", gap),
        "wide_of_line_m": wide.value,
        "wide_lo_m": wide.lo,
        "wide_hi_m": wide.hi,
        "lane": lane[stand],
        "p_lane": p_lane[stand],
        "speed_mps": rows.speed_mps[0][stand],
        "radius_m": np.minimum(radius_m(rows.curvature_1pm[0][stand]), STRAIGHT_M),
        **interval_columns("lean", "deg", lean),
        "lean_road_deg": road_lean_deg(lean.value, of_line("camber_deg")),
        "line_gap_m": of_line("line_gap_m"),
        "wide_east": of_line("outward")[:, 0],
        "wide_north": of_line("outward")[:, 1],
    }


def _gaps(passes: Passes, beside: FloatArray) -> FloatArray:
    """Closest distance of the tyre path to each cone, as in :class:`MarkerRows`.

    ``beside`` are the places at which the estimate passes them, ``(passes, markers)``.
    """
    middle = np.rint(np.nan_to_num(beside)).astype(np.int64)[..., None]
    begin, end = passes.grid.first[:, None, None], passes.grid.last[:, None, None]
    near = np.clip(middle + np.arange(-_NEAR, _NEAR + 1), begin, end)
    east = passes.tyre_x_m.take(near, axis=1) - passes.of_standard("cone_x_m")[..., None]
    north = passes.tyre_y_m.take(near, axis=1) - passes.of_standard("cone_y_m")[..., None]
    square = east * east + north * north
    nearest = np.argmin(square[..., 1:-1], axis=-1)[..., None] + np.array([0, 1, 2])

    def three(values: FloatArray) -> FloatArray:
        return np.moveaxis(np.take_along_axis(values, nearest, -1), -1, 0)

    # Parabolas through the nearest three points, from the middle one on: of the squared distance, whose
    # vertex is the foot, and then of the path.
    _, slope, bend = parabola(*three(square))
    foot = np.clip(-0.5 * slope / np.maximum(bend, 1e-9), -1.0, 1.0)
    beside_cone = [parabola(*three(way)) for way in (east, north)]
    (x, y) = (at + foot * (slope + foot * bend) for at, slope, bend in beside_cone)
    (along_x, along_y) = (slope + 2.0 * foot * bend for _, slope, bend in beside_cone)
    on_left = along_y * x - along_x * y
    proper = passes.of_standard("proper")
    return on_left / np.maximum(np.hypot(along_x, along_y), 1e-9) * proper


def _lanes(passes: Passes, offset_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The likeliest lane at each marker and its probability, ``(passes, markers)`` each."""
    seams = np.moveaxis(passes.of_standard("seam_offset_m"), 1, 0)
    draws = draws_of(offset_m)
    lane = np.zeros(draws.shape, dtype=np.int64)
    for seam in seams:
        lane += passes.sign[:, None] * (draws - seam) <= 0.0
    share = np.stack([probability(lane == j) for j in range(len(seams) + 1)])
    laned = np.array([len(standard.seam_offset_m) > 0 for standard in passes.standards])[
        passes.corner_of
    ]
    known = np.isfinite(offset_m).all(axis=0) & laned[:, None]
    best = 1.0 + np.argmax(share, axis=0)
    return np.where(known, best, np.nan), np.where(known, np.max(share, axis=0), np.nan)
