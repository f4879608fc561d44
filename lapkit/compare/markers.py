"""Marker measures of all passes: how near the cone, how wide of the line, which lane, what lean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lapkit.compare.corners import STRAIGHT_M, named
from lapkit.compare.held import STEP_M, HeldMean, crossings, parabola
from lapkit.compare.passes import Passes
from lapkit.compare.standard import Standard
from lapkit.lean import road_lean_deg
from lapkit.path.summary import draws_of, probability, summarise
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "lap", "corner", "marker", "kind", "gap_m", "gap_lo_m", "gap_hi_m",
    "wide_of_line_m", "wide_lo_m", "wide_hi_m", "lane", "p_lane", "speed_mps", "radius_m",
    "lean_deg", "lean_lo_deg", "lean_hi_deg", "lean_road_deg",
)  # fmt: skip
"""The contract's columns of ``markers.csv``, in its order."""

EXTRA_COLUMNS = ("line_gap_m", "wide_east", "wide_north")
"""Columns beyond the contract's: the marker line's own gap to the cone, and which way is wide."""

ALL_COLUMNS = COLUMNS + EXTRA_COLUMNS
"""All columns, the contract's first."""

_NEAR = round(12.0 / STEP_M)  # grid steps before and after a cone in which its gap is looked for


@dataclass(frozen=True, eq=False)
class MarkerRows:
    """Measures at a corner's markers in every row of the ensemble, shape ``(rows, laps, markers)``.

    NaN where a row does not pass the marker within the pass. ``offset_m`` is the tyre path's mean
    offset from the reference over 10 m, left positive.
    """

    gap_m: FloatArray
    wide_of_line_m: FloatArray
    offset_m: FloatArray
    speed_mps: FloatArray
    curvature_1pm: FloatArray
    lean_deg: FloatArray


def marker_rows(p: Passes, standard: Standard) -> MarkerRows:
    """Measure all passes at their corner's markers in every row of the ensemble."""
    at = crossings(p.station_m, standard.marker_m)
    offset = HeldMean(p.offset_m).at(at)
    return MarkerRows(
        gap_m=np.where(np.isfinite(at), _gaps(p, standard), np.nan),
        wide_of_line_m=-p.sign * (offset - standard.line_offset_m),
        offset_m=offset,
        speed_mps=p.held_speed.at(at),
        curvature_1pm=p.held_curvature.at(at),
        lean_deg=p.held_lean.at(at),
    )


def marker_columns(p: Passes, standard: Standard, rows: MarkerRows) -> dict[str, Any]:
    """The measures' columns of ``markers.csv`` from ``gap_m`` on, shape ``(laps, markers)``."""
    gap, wide, lean = (
        summarise(rows.gap_m),
        summarise(rows.wide_of_line_m),
        summarise(rows.lean_deg),
    )
    lane, p_lane = _lanes(p, standard, rows.offset_m)
    with np.errstate(divide="ignore"):
        radius = 1.0 / np.abs(rows.curvature_1pm[0])
    return {
        **named("gap", "m", gap),
        "wide_of_line_m": wide.value,
        "wide_lo_m": wide.lo,
        "wide_hi_m": wide.hi,
        "lane": lane,
        "p_lane": p_lane,
        "speed_mps": rows.speed_mps[0],
        "radius_m": np.minimum(radius, STRAIGHT_M),
        **named("lean", "deg", lean),
        "lean_road_deg": road_lean_deg(lean.value, standard.camber_deg),
        "line_gap_m": np.broadcast_to(standard.line_gap_m, gap.value.shape),
        "wide_east": np.broadcast_to(standard.outward[:, 0], gap.value.shape),
        "wide_north": np.broadcast_to(standard.outward[:, 1], gap.value.shape),
    }


def _gaps(p: Passes, standard: Standard) -> FloatArray:
    """Closest distance of the tyre path to each cone, as in :class:`MarkerRows`."""
    n = p.station_m.shape[-1]
    away = np.abs(p.station_m[0][:, None] - standard.marker_m[:, None])
    beside = np.argmin(away, axis=-1)[..., None]
    near = np.clip(beside + np.arange(-_NEAR, _NEAR + 1), 0, n - 1)
    index = near + n * np.arange(len(p.laps))[:, None, None]
    east, north = (
        tyre.reshape(len(tyre), -1).take(index, axis=1) - cone[:, None]
        for cone, tyre in ((standard.cone_x_m, p.tyre_x_m), (standard.cone_y_m, p.tyre_y_m))
    )
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
    return on_left / np.maximum(np.hypot(along_x, along_y), 1e-9) * standard.proper


def _lanes(p: Passes, standard: Standard, offset_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The likeliest lane at each marker and its probability: ``(laps, markers)`` each."""
    seams = standard.seam_offset_m
    if len(seams) == 0:
        nothing = np.full(offset_m.shape[1:], np.nan)
        return nothing, nothing
    draws = draws_of(offset_m)
    lane = sum((p.sign * (draws - seam) <= 0.0).astype(np.int64) for seam in seams)
    share = np.stack([probability(lane == j) for j in range(len(seams) + 1)])
    passed = np.isfinite(offset_m).all(axis=0)
    best = 1.0 + np.argmax(share, axis=0)
    return np.where(passed, best, np.nan), np.where(passed, np.max(share, axis=0), np.nan)
