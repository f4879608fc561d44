"""Marker measures of one pass: how close to the cone, how wide of the line, which lane, how far over."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.compare.held import STEP_M, Held, crossings
from lapkit.compare.passes import Pass
from lapkit.compare.standard import Standard
from lapkit.path.summary import Summary, draws_of, plain, probability
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "lap", "corner", "marker", "kind", "gap_m", "gap_lo_m", "gap_hi_m",
    "wide_of_line_m", "wide_lo_m", "wide_hi_m", "lane", "p_lane", "speed_mps", "radius_m", "lean_deg",
    "lean_lo_deg", "lean_hi_deg", "lean_road_deg",
)  # fmt: skip
"""The contract's columns of ``markers.csv``, in its order."""

EXTRA_COLUMNS = ("line_gap_m",)
"""Columns that findings ask for beyond the contract's: the marker line's own gap to the cone."""

_NEAR_M = 12.0


@dataclass(frozen=True, eq=False)
class MarkerRows:
    """Measures at a corner's markers in every row of the ensemble, shape ``(rows, markers)``.

    NaN where a row does not pass the marker within the pass. ``offset_m`` is the tyre path's mean offset
    from the reference over 10 m, left positive.
    """

    gap_m: FloatArray
    wide_of_line_m: FloatArray
    offset_m: FloatArray
    speed_mps: FloatArray
    curvature_1pm: FloatArray
    lean_deg: FloatArray


def marker_rows(p: Pass, standard: Standard) -> MarkerRows:
    """Measure a pass at its corner's markers in every row of the ensemble."""
    at = crossings(p.station_m, standard.marker_m)
    offset = Held.mean_of(p.offset_m, p.distance_m).at(at)
    return MarkerRows(
        gap_m=np.where(np.isfinite(at), _gaps(p, standard), np.nan),
        wide_of_line_m=-p.sign * (offset - standard.line_offset_m),
        offset_m=offset,
        speed_mps=p.held_speed.at(at),
        curvature_1pm=p.held_curvature.at(at),
        lean_deg=p.held_lean.at(at),
    )


def marker_records(p: Pass, standard: Standard, rows: MarkerRows) -> list[dict[str, object]]:
    """The pass's lines of ``markers.csv`` without rider, session and lap, in the markers' order."""
    gap, wide, lean = plain(rows.gap_m), plain(rows.wide_of_line_m), plain(rows.lean_deg)
    lane, p_lane = _lanes(p, standard, rows.offset_m)
    with np.errstate(divide="ignore"):
        radius = 1.0 / np.abs(plain(rows.curvature_1pm).value)
    records = []
    for i, marker in enumerate(p.corner.markers):
        records.append(
            {
                "marker": marker.name,
                "kind": marker.kind.value,
                **_named("gap", "m", gap, i),
                "wide_of_line_m": wide.value[i],
                "wide_lo_m": wide.lo[i],
                "wide_hi_m": wide.hi[i],
                "lane": lane[i],
                "p_lane": p_lane[i],
                "speed_mps": rows.speed_mps[0, i],
                "radius_m": radius[i],
                **_named("lean", "deg", lean, i),
                "lean_road_deg": lean.value[i] - standard.camber_deg[i],
                "line_gap_m": standard.line_gap_m[i],
            }
        )
    return records


def _gaps(p: Pass, standard: Standard) -> FloatArray:
    """Closest distance of the tyre path to each cone, positive on the proper side, ``(rows, k)``."""
    x, y = p.draws.tyre_xy_m
    n = x.shape[1]
    near = round(_NEAR_M / STEP_M)
    beside = np.searchsorted(p.station_m[0], standard.marker_m)
    index = np.clip(beside[:, None] + np.arange(-near, near + 1), 0, n - 1)
    east = standard.cone_x_m[:, None] - x[:, index]
    north = standard.cone_y_m[:, None] - y[:, index]
    along_x, along_y = east[..., :-1] - east[..., 1:], north[..., :-1] - north[..., 1:]
    square = np.maximum(along_x**2 + along_y**2, 1e-12)
    east, north = east[..., :-1], north[..., :-1]
    foot = np.clip((east * along_x + north * along_y) / square, 0.0, 1.0)
    distance = np.hypot(east - foot * along_x, north - foot * along_y)
    nearest = np.argmin(distance, axis=-1)[..., None]
    on_left = np.sign(along_x * north - along_y * east)
    gap = np.take_along_axis(distance, nearest, -1) * np.take_along_axis(on_left, nearest, -1)
    return gap[..., 0] * standard.proper


def _lanes(
    p: Pass, standard: Standard, offset_m: FloatArray
) -> tuple[list[int | None], FloatArray]:
    """The likeliest lane at each marker, counted from 1 on the inside, and its probability."""
    seams = standard.seam_offset_m
    if len(seams) == 0:
        return [None] * offset_m.shape[1], np.full(offset_m.shape[1], np.nan)
    outside = p.sign * (draws_of(offset_m)[:, None, :] - seams) <= 0.0
    lane = np.count_nonzero(outside, axis=1)
    share = np.stack([probability(lane == j) for j in range(len(seams) + 1)])
    best = np.argmax(share, axis=0)
    passed = np.isfinite(offset_m).all(axis=0)
    lanes = [int(j) + 1 if ok else None for j, ok in zip(best, passed, strict=True)]
    return lanes, np.where(passed, np.max(share, axis=0), np.nan)


def _named(name: str, unit: str, summary: Summary, i: int) -> dict[str, object]:
    return {
        f"{name}_{unit}": summary.value[i],
        f"{name}_lo_{unit}": summary.lo[i],
        f"{name}_hi_{unit}": summary.hi[i],
    }
