"""Corner measures of all passes: how tight, how fast, how far over, from turn-in to exit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lapkit.compare.held import WINDOW, Held, HeldMean, sample
from lapkit.compare.passes import Passes
from lapkit.compare.seams import CALL_AT
from lapkit.compare.standard import Standard
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
"""The contract's columns of ``corners.csv``, in its order."""

EXTRA_COLUMNS = (
    "lean_with_tyre_width_deg", "apex_radius_m", "exit_tightest_after_apex_m",
    "exit_tightens_after_apex_m", "exit_lean_max_deg", "exit_lean_max_lo_deg",
    "exit_lean_max_hi_deg", "exit_lean_on_line_deg", "exit_camber_deg",
    "exit_tightest_speed_mps", "turn_in_early_m",
    "turn_in_early_lo_m", "turn_in_early_hi_m", "drive_max_mps2", "brake_max_mps2", "tightened",
)  # fmt: skip
"""Columns that findings ask for beyond the contract's."""

ALL_COLUMNS = COLUMNS + EXTRA_COLUMNS
"""All columns, the contract's first."""

TIGHTENED_BELOW = 0.9
"""An exit is tightened when its tightest radius is below this share of the marker line's."""

CLEARLY_BELOW = 0.86
"""It is called so only below this share: surely below 0.9, and clearly so."""

EXIT_LEAN_ADDED_DEG = 0.75
"""And where it takes more than this beyond the lean that the marker line asks for: an exit that is tighter
where it is slow asks for no more lean, and is a line, not a fault."""

FAR_BELOW = 0.7
"""Unless it is below this share: so much of the road is then given away that its speed is no excuse."""

STRAIGHT_M = 2000.0
"""Radii beyond this count as this: no log tells them apart from a straight."""

_ENTRY_BEFORE_M = 20.0
_LEAST_SLOPE = 0.02  # rms slope of the line, beyond a steady one, that shows where it turns in


@dataclass(frozen=True, eq=False)
class CornerRows:
    """Measures of all passes of a corner in every row of the ensemble, shape ``(rows, laps)``.

    ``_at`` are places on the grid. Curvature and lean are largest values held over 10 m, positive
    into the turn; ``turn_in_early_m`` is how far before the marker line the rider begins to turn.
    NaN where a row does not run from turn-in to exit, or a measure is not to be had.
    """

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


def corner_rows(p: Passes, standard: Standard) -> CornerRows:
    """Measure all passes of a corner in every row of the ensemble."""
    # The whole corner and its exit phase, which end alike.
    first, last = p.limits[..., :2], p.limits[..., 2:]
    curvature, curvature_at = p.held_curvature.largest(first, last)
    lean, lean_at = p.held_lean.largest(first, last)
    time = sample(np.broadcast_to(p.time_s, p.speed_mps.shape), p.limits)
    return CornerRows(
        curvature_1pm=curvature[..., 0],
        curvature_at=curvature_at[..., 0],
        exit_curvature_1pm=curvature[..., 1],
        exit_curvature_at=curvature_at[..., 1],
        apex_curvature_1pm=p.held_curvature.at(p.limits[..., 1:2])[..., 0],
        lean_deg=lean[..., 0],
        lean_at=lean_at[..., 0],
        exit_lean_deg=lean[..., 1],
        time_s=time[..., 2] - time[..., 0],
        turn_in_early_m=_turn_in_early(p, standard),
    )


def corner_columns(
    p: Passes, standard: Standard, rows: CornerRows, tyre_radius_m: float
) -> dict[str, Any]:
    """Columns of ``corners.csv`` from ``time_s`` to ``grip_max``, then extra ones, ``(laps,)``."""
    leaving, lean = _radius(rows.exit_curvature_1pm), summarise_extreme(rows.lean_deg, level=True)
    ratio, p_tightened = leaving.value / standard.exit_radius_m, _p_tightened(standard, rows)
    details, on_line = _exit_details(p, standard, rows), lean_on_line_deg(p, standard)
    added = details["exit_lean_max_deg"] - on_line[:, 1]
    return {
        "time_s": rows.time_s[0],
        **_speeds(p),
        **named("radius_min", "m", _radius(rows.curvature_1pm)),
        "radius_min_at_m": p.ridden_m(rows.curvature_at[0]),
        **named("exit_radius_min", "m", leaving),
        "exit_radius_at_m": p.ridden_m(rows.exit_curvature_at[0]),
        "line_exit_radius_min_m": standard.exit_radius_m,
        "exit_radius_ratio": ratio,
        "p_tightened": p_tightened,
        **named("lean_max", "deg", lean),
        "lean_max_at_m": p.ridden_m(rows.lean_at[0]),
        "lean_on_line_deg": on_line[:, 0],
        "grip_max": _grip_max(p),
        "lean_with_tyre_width_deg": tyre_width_lean_deg(
            lean.value, tyre_radius_m, float(p.com_height_m[0, 0])
        ),
        **details,
        "exit_lean_on_line_deg": on_line[:, 1],
        **named("turn_in_early", "m", summarise(rows.turn_in_early_m)),
        **_drive(p),
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


def _speeds(p: Passes) -> dict[str, FloatArray]:
    """Speeds of the estimate held over 10 m, m/s, ``(laps,)`` each."""
    held, ends = HeldMean(p.speed_mps[0]), p.limits[0]
    at = held.at(ends)
    return {
        "entry_speed_mps": at[:, 0],
        "slowest_mps": held.smallest(ends[:, :1], ends[:, 2:])[0][:, 0],
        "exit_speed_mps": at[:, 2],
    }


def _grip_max(p: Passes) -> FloatArray:
    """Largest grip asked for by the estimate, held over 10 m, ``(laps,)``."""
    camber = np.tan(np.radians(p.corner.camber_at(p.station_m[0])))
    held = HeldMean(grip_of_tangents(p.lean_tangent[0], camber))
    return held.largest(p.limits[0, :, :1], p.limits[0, :, 2:])[0][:, 0]


def lean_on_line_deg(p: Passes, standard: Standard) -> FloatArray:
    """Largest lean held over 10 m that the marker line asks for at the rider's speeds, ``(laps, 2)``.

    First of the whole corner, then of its exit phase.
    """
    line = standard.line
    if line is None:
        return np.full((len(p.laps), 2), np.nan)
    held = HeldMean(line.lean_deg(p.station_m[0], p.speed_mps[0]))
    ends = np.broadcast_to(line.limits, (len(p.laps), 3))
    return held.largest(ends[:, :2], ends[:, 2:])[0]


def _p_tightened(standard: Standard, rows: CornerRows) -> FloatArray:
    """Probability that the exit's tightest radius is below 0.9 of the line's, ``(laps,)``."""
    limit = standard.exit_curvature_1pm / TIGHTENED_BELOW
    if not np.isfinite(limit):
        return np.full(rows.time_s.shape[1], np.nan)
    return probability(centred_draws(rows.exit_curvature_1pm) > limit)


def _exit_details(p: Passes, standard: Standard, rows: CornerRows) -> dict[str, Any]:
    """What happened between the last apex and the exit marker."""
    at = rows.exit_curvature_at[0]
    apex_m = p.ridden_m(p.limits[0, :, 1])
    return {
        "apex_radius_m": _radius(rows.apex_curvature_1pm).value,
        "exit_tightest_after_apex_m": p.ridden_m(at) - apex_m,
        "exit_tightens_after_apex_m": p.ridden_m(_tightens_at(p, standard, rows)) - apex_m,
        **named("exit_lean_max", "deg", summarise_extreme(rows.exit_lean_deg, level=True)),
        "exit_camber_deg": p.corner.camber_at(sample(p.station_m[0], at[:, None])[:, 0]),
        "exit_tightest_speed_mps": HeldMean(p.speed_mps[0]).at(at[:, None])[:, 0],
    }


def _drive(p: Passes) -> dict[str, FloatArray]:
    """Hardest drive and braking of the estimate held over 10 m in and about the corner, m/s²."""
    energy = Held(0.5 * np.square(p.speed_mps[0]), p.distance_m[0]).windows
    return {"drive_max_mps2": energy.max(axis=-1), "brake_max_mps2": -energy.min(axis=-1)}


def _tightens_at(p: Passes, standard: Standard, rows: CornerRows) -> FloatArray:
    """Place after the last apex at which the estimate has become tight, ``(laps,)``.

    That is tighter than the marker line is anywhere in its exit, and than the rider himself was at
    the apex; NaN where it never is.
    """
    windows = p.held_curvature.windows[0]
    middle = np.arange(windows.shape[1]) + 0.5 * WINDOW
    apex, end = p.limits[0, :, 1:2], p.limits[0, :, 2:]
    bound = np.fmax(standard.exit_curvature_1pm, rows.apex_curvature_1pm[0])[:, None]
    tight = (middle >= apex) & (middle <= end - 0.5 * WINDOW) & (windows > bound)
    return np.where(tight.any(axis=1), middle[np.argmax(tight, axis=1)], np.nan)


def _turn_in_early(p: Passes, standard: Standard) -> FloatArray:
    """Metres by which each row turns in before the marker line does, ``(rows, laps)``.

    A path that is d metres ahead of the line lies, at every station, where the line lies d metres on:
    off it by d times the line's slope across the course. From before turn-in to the first apex d is fitted
    by least squares together with a distance from the line that may change steadily, so that neither a
    position offset nor a wide apex counts as early. Where the line keeps its distance from the
    reference, d is the lead in heading instead.
    """
    line = standard.line
    if line is None:
        return np.full(p.limits.shape[:2], np.nan)
    station = p.station_m[0]
    c = p.corner
    entry = (station > c.turn_in_m - _ENTRY_BEFORE_M) & (station < c.apexes_m[0])
    offset = np.interp(station, line.station_m, line.offset_m)
    slope = np.interp(station, line.station_m, line.slope)
    moved = p.station_m - station
    own = _without_trend(slope, station, entry)
    content = np.sum(np.square(own), axis=-1)
    level = content < np.count_nonzero(entry, axis=-1) * _LEAST_SLOPE**2
    away = p.offset_m - offset - slope * moved
    crossing = np.sum(own * away, axis=-1) / np.where(level | (content == 0.0), np.nan, content)
    if not level.any():
        return crossing
    heading = np.interp(station, line.station_m, line.heading_rad)
    bend = np.interp(station, line.station_m, line.curvature_by_station_1pm)
    turning = np.where(entry, np.maximum(bend, 0.0), 0.0)
    total = np.sum(turning * bend, axis=-1)
    lead = np.sum(turning * (p.heading_rad - heading - bend * moved), axis=-1)
    return np.where(level, lead / np.where(total > 0.0, total, np.nan), crossing)


def _without_trend(values: FloatArray, along: FloatArray, part: np.ndarray) -> FloatArray:
    """What a straight line does not explain of values within a part, zero outside; all ``(laps, n)``."""
    count = np.maximum(np.count_nonzero(part, axis=-1, keepdims=True), 1)

    def centred(v: FloatArray) -> FloatArray:
        return (v - np.sum(v * part, axis=-1, keepdims=True) / count) * part

    x, y = centred(along), centred(values)
    square = np.maximum(np.sum(x * x, axis=-1, keepdims=True), 1e-9)
    return y - x * np.sum(x * y, axis=-1, keepdims=True) / square


def _radius(curvature: FloatArray) -> Summary:
    """Radius and its interval from rows of curvature; a path turning away counts as straight."""
    value, hi, lo = (1.0 / np.maximum(k, 1.0 / STRAIGHT_M) for k in summarise_extreme(curvature))
    return Summary(value, lo, hi)


def named(name: str, unit: str, summary: Summary) -> dict[str, Any]:
    """A summary as the three columns of value and interval: ``x_m``, ``x_lo_m``, ``x_hi_m``."""
    return {
        f"{name}_{unit}": summary.value,
        f"{name}_lo_{unit}": summary.lo,
        f"{name}_hi_{unit}": summary.hi,
    }
