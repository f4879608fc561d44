"""Corner measures of all passes from turn-in to exit: radius, speed, lean and grip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.grid import WINDOW, sample
from lapkit.compare.held import Held, HeldMean
from lapkit.compare.line_part import lean_along
from lapkit.compare.passes import Passes, by_corner
from lapkit.compare.tables import interval_columns
from lapkit.compare.turn_in import turn_in_early_m
from lapkit.lean import grip_of_tangents, tyre_width_lean_deg
from lapkit.path.summary import (
    CALL_AT,
    Summary,
    probability_above,
    summarise,
    summarise_extreme,
)

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
    "off_road_m", "left_road",
)  # fmt: skip
"""Further columns, that findings and pages ask for."""

ALL_COLUMNS = COLUMNS + EXTRA_COLUMNS
"""All columns, the published ones first."""

TIGHTENED_BELOW = 0.9
"""An exit is tightened when its tightest radius is below this share of the marker line's."""

CLEARLY_BELOW = 0.86
"""It is called tightened only where its radius is below this share: an exit may surely be below 0.9 and yet not clearly."""

EXIT_LEAN_ADDED_DEG = 0.75
"""And only where it takes this much more lean than the marker line asks for at the same speeds, degrees: a tighter exit
that is ridden correspondingly slower is another line, not a fault."""

FAR_BELOW = 0.7
"""Below this share it is called tightened whatever its lean: riding slower is no excuse for giving away that much road."""

STRAIGHT_M = 2000.0
"""Larger radii are reported as this one, metres: no log tells them apart from a straight."""


@dataclass(frozen=True, eq=False)
class CornerRows:
    """Measures of all passes in every row of the ensemble, ``(rows, passes)``.

    NaN where a row does not run from turn-in to exit, or a measure is not known. Curvature and lean are the largest values
    held over 10 m, positive into the turn; ``_at`` is the place of each, counted from the first grid point of its pass.

    Attributes:
        whole: whether a row passes turn-in, last apex and exit in that order.
        curvature_1pm, curvature_at: over the corner.
        exit_curvature_1pm, exit_curvature_at: over the exit phase.
        apex_curvature_1pm: curvature held over the 10 m centred on the last apex.
        lean_deg, lean_at: over the corner, degrees.
        exit_lean_deg: over the exit phase, degrees.
        time_s: time from turn-in to exit, seconds.
        turn_in_early_m: how far before the marker line the rider begins to turn, metres.
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
    # Two stretches, the corner from turn-in and its exit phase from the last apex, which both end at the exit.
    first, last = passes.limits[..., :2], passes.limits[..., 2:]
    curvature, curvature_at = passes.held_curvature.largest(first, last)
    lean, lean_at = passes.held_lean.largest(first, last)
    time = sample(passes.time_s, passes.limits)
    begin = passes.grid.first[:, None]
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
    """Columns of ``corners.csv`` from ``time_s`` to ``grip_max``, then the extra ones, ``(passes,)`` each.

    Args:
        passes: the passes, at least their estimate.
        rows: what was measured in every row.
        tyre_radius_m: crown radius of the tyres, metres.
    """
    exit_radius = _radius(rows.exit_curvature_1pm)
    lean = summarise_extreme(rows.lean_deg, level=True)
    line_radius_m = passes.per_pass([standard.exit_radius_m for standard in passes.standards])
    line_1pm = passes.per_pass([standard.exit_curvature_1pm for standard in passes.standards])
    ratio, p_tightened = exit_radius.value / line_radius_m, _p_tightened(line_1pm, rows)
    places = np.stack([rows.curvature_at[0], rows.exit_curvature_at[0], rows.lean_at[0]], axis=-1)
    tightest_m, exit_tightest_m, lean_m = passes.ridden_m(passes.grid.first[:, None] + places).T
    details, lean_on_line = _exit_details(passes, line_1pm, rows), lean_on_line_deg(passes)
    exit_lean_added = details["exit_lean_max_deg"] - lean_on_line[:, 1]
    judged = passes.per_pass([standard.judges_exit for standard in passes.standards])
    return {
        "time_s": rows.time_s[0],
        **_speeds(passes),
        **interval_columns("radius_min", "m", _radius(rows.curvature_1pm)),
        "radius_min_at_m": tightest_m,
        **interval_columns("exit_radius_min", "m", exit_radius),
        "exit_radius_at_m": exit_tightest_m,
        "line_exit_radius_min_m": line_radius_m,
        "exit_radius_ratio": ratio,
        "p_tightened": p_tightened,
        **interval_columns("lean_max", "deg", lean),
        "lean_max_at_m": lean_m,
        "lean_on_line_deg": lean_on_line[:, 0],
        "grip_max": _grip_max(passes),
        "lean_with_tyre_width_deg": tyre_width_lean_deg(
            lean.value, tyre_radius_m, float(passes.com_height_m[0, 0])
        ),
        **details,
        "exit_lean_on_line_deg": lean_on_line[:, 1],
        **interval_columns("turn_in_early", "m", summarise(rows.turn_in_early_m)),
        **_drive(passes),
        "tightened": tightened(np.where(judged, p_tightened, np.nan), ratio, exit_lean_added),
    }


def tightened(
    p_tightened: FloatArray, exit_radius_ratio: FloatArray, exit_lean_added_deg: FloatArray
) -> FloatArray:
    """Whether an exit is called tightened: 1 where it is, 0 where it is not, NaN where that is not known.

    Findings, pages and the season all go by this rule. Arguments have any equal shape.
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
    """Largest lean held over 10 m that the marker line asks for at the estimate's speeds, degrees, ``(passes, 2)``.

    Over the whole corner, then over its exit phase; NaN where a corner has no line.
    """
    numbers, lines, ridden = [], [], []
    for number, corner in enumerate(passes.corner_of):
        if (line := passes.standards[corner].line) is not None:
            points = slice(passes.grid.first[number], passes.grid.last[number] + 1)
            numbers.append(number)
            lines.append(line)
            ridden.append((passes.station_m[0, points], passes.speed_mps[0, points]))
    largest = np.full((len(passes.laps), 2), np.nan)
    if lines:
        lean, grid = lean_along(lines, ridden)
        limits = grid.first[:, None] + np.array([line.limits for line in lines])
        largest[numbers] = HeldMean(lean, grid).largest(limits[:, :2], limits[:, 2:])[0]
    return largest


def _p_tightened(line_1pm: FloatArray, rows: CornerRows) -> FloatArray:
    """Probability that the exit's tightest radius is below 0.9 of the marker line's, ``(passes,)``.

    ``line_1pm`` is the line's largest curvature in the exit phase, NaN where a corner has no line.
    """
    tight = probability_above(rows.exit_curvature_1pm, line_1pm / TIGHTENED_BELOW)
    return np.where(np.isfinite(line_1pm), tight, np.nan)


def _exit_details(passes: Passes, line_1pm: FloatArray, rows: CornerRows) -> dict[str, Any]:
    """Columns about the exit phase, ``(passes,)`` each; ``line_1pm`` as in :func:`_p_tightened`."""
    at = passes.grid.first + rows.exit_curvature_at[0]
    station = sample(passes.station_m[0], at)
    places = (passes.limits[0, :, 1], at, _tightens_at(passes, line_1pm, rows))
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
    """Hardest drive and braking of the estimate held over 10 m of each pass, m/s², ``(passes,)`` each.

    Along a path, kinetic energy per mass is the integral of the acceleration.
    """
    acceleration = Held(0.5 * np.square(passes.speed_mps[0]), passes.distance_m[0]).windows
    last_window = passes.grid.spread(passes.grid.last - WINDOW)[:-WINDOW]
    within_pass = np.arange(len(acceleration)) <= last_window
    drive = np.maximum.reduceat(np.where(within_pass, acceleration, -np.inf), passes.grid.first)
    brake = np.maximum.reduceat(np.where(within_pass, -acceleration, -np.inf), passes.grid.first)
    return {"drive_max_mps2": drive, "brake_max_mps2": brake}


def _tightens_at(passes: Passes, line_1pm: FloatArray, rows: CornerRows) -> FloatArray:
    """Place after the last apex at which the estimate has become tight, ``(passes,)``.

    Tight means tighter than the marker line is anywhere in its exit phase and than the rider himself was at the apex;
    NaN where it never becomes so.
    """
    bound = np.fmax(line_1pm, rows.apex_curvature_1pm[0])
    begin, end = passes.limits[0, :, 1] - 0.5 * WINDOW, passes.limits[0, :, 2] - WINDOW
    begin, end, bound = (passes.grid.spread(each)[:-WINDOW] for each in (begin, end, bound))
    windows = passes.held_curvature.windows[0]
    place = np.arange(len(windows))
    tight = (place >= begin) & (place <= end) & (windows > bound)
    first = np.minimum.reduceat(np.where(tight, place, np.inf), passes.grid.first)
    return np.where(np.isfinite(first), first + 0.5 * WINDOW, np.nan)


def _radius(curvature_1pm: FloatArray) -> Summary:
    """Tightest radius and its interval, metres, from rows of curvature; a path that turns away counts as straight."""
    tightest = summarise_extreme(curvature_1pm)

    def radius(each_1pm: FloatArray) -> FloatArray:
        return 1.0 / np.maximum(each_1pm, 1.0 / STRAIGHT_M)

    # The largest curvature is the smallest radius.
    return Summary(radius(tightest.value), radius(tightest.hi), radius(tightest.lo))
