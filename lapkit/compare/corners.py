"""Corner measures of all passes: how tight, how fast, how far over, from turn-in to exit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lapkit.compare.held import WINDOW, Held, HeldMean, sample
from lapkit.compare.passes import Passes, by_corner
from lapkit.compare.seams import CALL_AT
from lapkit.compare.standard import lean_along
from lapkit.compare.tables import interval_columns
from lapkit.compare.turn_in import turn_in_early_m
from lapkit.lean import grip_of_tangents, tyre_width_lean_deg
from lapkit.path.summary import Summary, centred_draws, probability, summarise, summarise_extreme
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "lap", "corner", "turn", "time_s", "entry_speed_mps", "slowest_mps",
    "exit_speed_mps", "radius_min_m", "radius_min_lo_m", "radius_min_hi_m", "radius_min_at_m",
    "exit_radius_min_m", "exit_radius_min_lo_m", "exit_radius_min_hi_m", "exit_radius_at_m",
    "line_exit_radius_min_m", "exit_radius_ratio", "p_tightened", "lean_max_deg", "lean_max_lo_deg",
    "lean_max_hi_deg", "lean_max_at_m", "lean_on_line_deg", "grip_max", "quality",
)  # fmt: skip
"""The published columns of ``corners.csv``, in their order."""

EXTRA_COLUMNS = (
    "lean_with_tyre_width_deg", "apex_radius_m", "exit_tightest_after_apex_m",
    "exit_tightens_after_apex_m", "exit_lean_max_deg", "exit_lean_max_lo_deg",
    "exit_lean_max_hi_deg", "exit_lean_on_line_deg", "exit_camber_deg",
    "exit_tightest_speed_mps", "turn_in_early_m",
    "turn_in_early_lo_m", "turn_in_early_hi_m", "drive_max_mps2", "brake_max_mps2", "tightened",
)  # fmt: skip
"""Further columns, that findings and pages ask for."""

ALL_COLUMNS = COLUMNS + EXTRA_COLUMNS
"""All columns, the published ones first."""

TIGHTENED_BELOW = 0.9
"""An exit is tightened when its tightest radius is below this share of the marker line's."""

CLEARLY_BELOW = 0.86
"""It is called so only where its value is below this share: surely below 0.9 is not yet clearly."""

EXIT_LEAN_ADDED_DEG = 0.75
"""And only where it takes this much more lean than the marker line asks for: a tighter exit that is ridden as much slower
is another line, not a fault."""

FAR_BELOW = 0.7
"""Below this share it is called so whatever its lean: to ride slower is no excuse for giving away that much road."""

STRAIGHT_M = 2000.0
"""Radii beyond this count as this: no log tells them apart from a straight."""


@dataclass(frozen=True, eq=False)
class CornerRows:
    """Measures of all passes in every row of the ensemble, shape ``(rows, passes)``.

    ``_at`` are places on the grid, counted from the pass's first point. Curvature and lean are largest values
    held over 10 m, positive into the turn; ``turn_in_early_m`` is how far before the marker line the rider begins
    to turn. NaN where a row does not run from turn-in to exit, or a measure is not to be had. ``whole`` says
    whether a row passes turn-in, last apex and exit in that order.
    """

    whole: np.ndarray
    curvature_1pm: FloatArray
    curvature_at: FloatArray
    exit_curvature_1pm: FloatArray
    exit_curvature_at: FloatArray
    apex_curvature_1pm: FloatArray
    lean_deg: FloatArray
    lean_at: FloatArray
    exit_lean_deg: FloatArray
    time_s: FloatArray
    turn_in_early_m: FloatArray


def corner_rows(passes: Passes) -> CornerRows:
    """Measure passes in every row of the ensemble."""
    # The whole corner and its exit phase, which end alike.
    first, last = passes.limits[..., :2], passes.limits[..., 2:]
    curvature, curvature_at = passes.held_curvature.largest(first, last)
    lean, lean_at = passes.held_lean.largest(first, last)
    time, begin = sample(passes.time_s, passes.limits), passes.grid.first[:, None]
    return CornerRows(
        whole=np.all(np.diff(passes.limits, axis=-1) > 0.0, axis=-1),
        curvature_1pm=curvature[..., 0],
        curvature_at=(curvature_at - begin)[..., 0],
        exit_curvature_1pm=curvature[..., 1],
        exit_curvature_at=(curvature_at - begin)[..., 1],
        apex_curvature_1pm=passes.held_curvature.at(passes.limits[..., 1:2])[..., 0],
        lean_deg=lean[..., 0],
        lean_at=(lean_at - begin)[..., 0],
        exit_lean_deg=lean[..., 1],
        time_s=time[..., 2] - time[..., 0],
        turn_in_early_m=turn_in_early_m(passes),
    )


def corner_columns(passes: Passes, rows: CornerRows, tyre_radius_m: float) -> dict[str, Any]:
    """Columns of ``corners.csv`` from ``time_s`` to ``grip_max``, then extra ones, ``(passes,)``."""
    leaving, lean = _radius(rows.exit_curvature_1pm), summarise_extreme(rows.lean_deg, level=True)
    line_radius, limit = map(passes.of_standard, ("exit_radius_m", "exit_curvature_1pm"))
    ratio, p_tightened = leaving.value / line_radius, _p_tightened(limit, rows)
    places = np.stack([rows.curvature_at[0], rows.exit_curvature_at[0], rows.lean_at[0]], axis=-1)
    tightest_m, exit_m, lean_m = passes.ridden_m(passes.grid.first[:, None] + places).T
    details, on_line = _exit_details(passes, limit, rows), lean_on_line_deg(passes)
    added = details["exit_lean_max_deg"] - on_line[:, 1]
    return {
        "time_s": rows.time_s[0],
        **_speeds(passes),
        **interval_columns("radius_min", "m", _radius(rows.curvature_1pm)),
        "radius_min_at_m": tightest_m,
        **interval_columns("exit_radius_min", "m", leaving),
        "exit_radius_at_m": exit_m,
        "line_exit_radius_min_m": line_radius,
        "exit_radius_ratio": ratio,
        "p_tightened": p_tightened,
        **interval_columns("lean_max", "deg", lean),
        "lean_max_at_m": lean_m,
        "lean_on_line_deg": on_line[:, 0],
        "grip_max": _grip_max(passes),
        "lean_with_tyre_width_deg": tyre_width_lean_deg(
            lean.value, tyre_radius_m, float(passes.com_height_m[0, 0])
        ),
        **details,
        "exit_lean_on_line_deg": on_line[:, 1],
        **interval_columns("turn_in_early", "m", summarise(rows.turn_in_early_m)),
        **_drive(passes),
        "tightened": tightened(p_tightened, ratio, added),
    }


def tightened(
    p_tightened: FloatArray, exit_radius_ratio: FloatArray, exit_lean_added_deg: FloatArray
) -> FloatArray:
    """Whether an exit is called tightened: 1 where it is, 0 where not, NaN where it cannot be told.

    The one rule, for findings, pages and the season alike; arguments of any equal shape.
    """
    with np.errstate(invalid="ignore"):
        called = (
            (p_tightened >= CALL_AT)
            & (exit_radius_ratio < CLEARLY_BELOW)
            & ((exit_lean_added_deg > EXIT_LEAN_ADDED_DEG) | (exit_radius_ratio < FAR_BELOW))
        )
    return np.where(np.isfinite(p_tightened), called.astype(np.float64), np.nan)


def _speeds(passes: Passes) -> dict[str, FloatArray]:
    """Speeds of the estimate held over 10 m, m/s, ``(passes,)`` each."""
    held, ends = HeldMean(passes.speed_mps[0], passes.grid), passes.limits[0]
    at = held.at(ends)
    return {
        "entry_speed_mps": at[:, 0],
        "slowest_mps": held.smallest(ends[:, :1], ends[:, 2:])[0][:, 0],
        "exit_speed_mps": at[:, 2],
    }


def _grip_max(passes: Passes) -> FloatArray:
    """Largest grip asked for by the estimate, held over 10 m, ``(passes,)``."""
    camber = by_corner(passes.corner_at, passes.camber_at, passes.station_m[0])
    held = HeldMean(
        grip_of_tangents(passes.lean_tangent[0], np.tan(np.radians(camber))), passes.grid
    )
    return held.largest(passes.limits[0, :, :1], passes.limits[0, :, 2:])[0][:, 0]


def lean_on_line_deg(passes: Passes) -> FloatArray:
    """Largest lean held over 10 m that the marker line asks for at the rider's speeds, ``(passes, 2)``.

    First of the whole corner, then of its exit phase; NaN where a corner has no line.
    """
    largest = np.full((len(passes.laps), 2), np.nan)
    lines = [passes.standards[corner].line for corner in passes.corner_of]
    lined = [i for i, line in enumerate(lines) if line is not None]
    if lined:
        lines = [lines[i] for i in lined]
        parts = [slice(passes.grid.first[i], passes.grid.last[i] + 1) for i in lined]
        lean, grid = lean_along(
            lines, [(passes.station_m[0, n], passes.speed_mps[0, n]) for n in parts]
        )
        limits = grid.first[:, None] + np.array([line.limits for line in lines])
        largest[lined] = HeldMean(lean, grid).largest(limits[:, :2], limits[:, 2:])[0]
    return largest


def _p_tightened(limit_1pm: FloatArray, rows: CornerRows) -> FloatArray:
    """Probability that the exit's tightest radius is below 0.9 of the line's, ``(passes,)``.

    ``limit_1pm`` is the line's own curvature there, NaN where a corner has no line.
    """
    tighter = centred_draws(rows.exit_curvature_1pm) > limit_1pm / TIGHTENED_BELOW
    return np.where(np.isfinite(limit_1pm), probability(tighter), np.nan)


def _exit_details(passes: Passes, limit_1pm: FloatArray, rows: CornerRows) -> dict[str, Any]:
    """What happened between the last apex and the exit marker."""
    at = passes.grid.first + rows.exit_curvature_at[0]
    station = sample(passes.station_m[0], at)
    places = (passes.limits[0, :, 1], at, _tightens_at(passes, limit_1pm, rows))
    apex_m, tightest_m, tightens_m = passes.ridden_m(np.stack(places, axis=-1)).T
    return {
        "apex_radius_m": _radius(rows.apex_curvature_1pm).value,
        "exit_tightest_after_apex_m": tightest_m - apex_m,
        "exit_tightens_after_apex_m": tightens_m - apex_m,
        **interval_columns(
            "exit_lean_max", "deg", summarise_extreme(rows.exit_lean_deg, level=True)
        ),
        "exit_camber_deg": by_corner(passes.corner_of, passes.camber_at, station),
        "exit_tightest_speed_mps": HeldMean(passes.speed_mps[0], passes.grid).at(at[:, None])[:, 0],
    }


def _drive(passes: Passes) -> dict[str, FloatArray]:
    """Hardest drive and braking of the estimate held over 10 m in and about the corner, m/s²."""
    energy = Held(0.5 * np.square(passes.speed_mps[0]), passes.distance_m[0]).windows
    own = np.arange(len(energy)) <= passes.grid.spread(passes.grid.last - WINDOW)[:-WINDOW]
    drive = np.maximum.reduceat(np.where(own, energy, -np.inf), passes.grid.first)
    brake = np.maximum.reduceat(np.where(own, -energy, -np.inf), passes.grid.first)
    return {"drive_max_mps2": drive, "brake_max_mps2": brake}


def _tightens_at(passes: Passes, limit_1pm: FloatArray, rows: CornerRows) -> FloatArray:
    """Place after the last apex at which the estimate has become tight, ``(passes,)``.

    That is tighter than the marker line is anywhere in its exit, and than the rider himself was at
    the apex; NaN where it never is.
    """
    bound = np.fmax(limit_1pm, rows.apex_curvature_1pm[0])
    begin, end = passes.limits[0, :, 1] - 0.5 * WINDOW, passes.limits[0, :, 2] - WINDOW
    begin, end, bound = (passes.grid.spread(each)[:-WINDOW] for each in (begin, end, bound))
    windows = passes.held_curvature.windows[0]
    place = np.arange(len(windows))
    tight = (place >= begin) & (place <= end) & (windows > bound)
    first = np.minimum.reduceat(np.where(tight, place, np.inf), passes.grid.first)
    return np.where(np.isfinite(first), first + 0.5 * WINDOW, np.nan)


def _radius(curvature: FloatArray) -> Summary:
    """Radius and its interval from rows of curvature; a path turning away counts as straight."""
    value, hi, lo = (1.0 / np.maximum(k, 1.0 / STRAIGHT_M) for k in summarise_extreme(curvature))
    return Summary(value, lo, hi)
