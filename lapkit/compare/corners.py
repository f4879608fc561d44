"""Corner measures of one pass: how tight, how fast, how far over, from turn-in to exit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.compare.held import WINDOW, Held, crossings, sample
from lapkit.compare.passes import Pass
from lapkit.compare.standard import Standard
from lapkit.lean import tyre_width_lean_deg
from lapkit.path.summary import (
    Summary,

    plain,
    probability,
    reflected,
    reflected_draws,
)
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
    "exit_tightens_after_apex_m", "exit_lean_max_deg", "exit_lean_max_lo_deg", "exit_lean_max_hi_deg",
    "exit_lean_on_line_deg", "exit_camber_deg", "exit_tightest_speed_mps", "turn_in_early_m",
    "turn_in_early_lo_m", "turn_in_early_hi_m",
)  # fmt: skip
"""Columns that findings ask for beyond the contract's."""

TIGHTENED_BELOW = 0.9
"""An exit is tightened when its tightest radius is below this share of the marker line's."""

STRAIGHT_M = 2000.0
"""Radii beyond this count as this: no log tells them apart from a straight."""

_TURNING_SHARE = 0.5


@dataclass(frozen=True, eq=False)
class CornerRows:
    """Measures of one pass in every row of the ensemble, shape ``(rows,)``; NaN where not to be had.

    ``_at`` are places on the grid. Curvature and lean are largest values held over 10 m, positive into
    the turn; ``turn_in_early_m`` is how far before the marker line the rider begins to turn.
    """

    curvature_1pm: FloatArray
    curvature_at: FloatArray
    exit_curvature_1pm: FloatArray
    exit_curvature_at: FloatArray
    lean_deg: FloatArray
    lean_at: FloatArray
    exit_lean_deg: FloatArray
    grip: FloatArray
    slowest_mps: FloatArray
    ends_mps: FloatArray
    time_s: FloatArray
    turn_in_early_m: FloatArray


def corner_rows(p: Pass, standard: Standard) -> CornerRows:
    """Measure a whole pass (see :attr:`Pass.whole`) in every row of the ensemble."""
    turn_in, apex, end = p.limits.T
    curvature, curvature_at = p.held_curvature.largest(turn_in, end)
    exit_curvature, exit_curvature_at = p.held_curvature.largest(apex, end)
    lean, lean_at = p.held_lean.largest(turn_in, end)
    camber = np.tan(np.radians(p.corner.camber_at(p.station_m[0])))
    grip = (p.lean_tangent - camber) / np.maximum(1.0 + p.lean_tangent * camber, 0.05)
    time = np.broadcast_to(p.draws.time_s, p.station_m.shape)
    return CornerRows(
        curvature_1pm=curvature,
        curvature_at=curvature_at,
        exit_curvature_1pm=exit_curvature,
        exit_curvature_at=exit_curvature_at,
        lean_deg=lean,
        lean_at=lean_at,
        exit_lean_deg=p.held_lean.largest(apex, end)[0],
        grip=Held.mean_of(grip, p.distance_m).largest(turn_in, end)[0],
        slowest_mps=p.held_speed.smallest(turn_in, end)[0],
        ends_mps=p.held_speed.at(p.limits[:, [0, 2]]),
        time_s=sample(time, end) - sample(time, turn_in),
        turn_in_early_m=_turn_in_early(p, standard),
    )


def corner_record(p: Pass, standard: Standard, rows: CornerRows, tyre_radius_m: float) -> dict[str, object]:
    """The pass's line of ``corners.csv`` without rider, session, lap, corner, turn and quality."""
    radius, leaving = _radius(rows.curvature_1pm), _radius(rows.exit_curvature_1pm)
    lean = reflected(rows.lean_deg)
    entry, leave = plain(rows.ends_mps).value
    limit = standard.exit_curvature_1pm / TIGHTENED_BELOW
    tightened = reflected_draws(rows.exit_curvature_1pm) > limit
    com_height_m = float(p.draws.com_height_m[0, 0])
    return {
        "time_s": rows.time_s[0],
        "entry_speed_mps": entry,
        "slowest_mps": reflected(rows.slowest_mps).value,
        "exit_speed_mps": leave,
        **_named("radius_min", "m", radius),
        "radius_min_at_m": _ridden_m(p, rows.curvature_at[0]),
        **_named("exit_radius_min", "m", leaving),
        "exit_radius_at_m": _ridden_m(p, rows.exit_curvature_at[0]),
        "line_exit_radius_min_m": standard.exit_radius_m,
        "exit_radius_ratio": leaving.value / standard.exit_radius_m,
        "p_tightened": probability(tightened) if np.isfinite(limit) else np.nan,
        **_named("lean_max", "deg", lean),
        "lean_max_at_m": _ridden_m(p, rows.lean_at[0]),
        "lean_on_line_deg": lean_on_line_deg(p, standard, 0),
        "grip_max": reflected(rows.grip).value,
        "lean_with_tyre_width_deg": tyre_width_lean_deg(lean.value, tyre_radius_m, com_height_m),
        **_exit_details(p, standard, rows),
        **_named("turn_in_early", "m", _where_known(rows.turn_in_early_m)),
    }


def lean_on_line_deg(p: Pass, standard: Standard, phase: int) -> float:
    """Largest lean held over 10 m that the marker line asks for at the rider's own speeds, degrees.

    Args:
        p: the pass.
        standard: its corner's standard.
        phase: 0 for the whole corner, 1 for the exit phase.
    """
    line = standard.line
    if line is None:
        return float("nan")
    asked = line.lean_deg(p.station_m[0], p.speed_mps[0])
    held = Held.mean_of(asked[None], line.length_m[None])
    return float(held.largest(line.limits[:, phase], line.limits[:, 2])[0][0])


def _exit_details(p: Pass, standard: Standard, rows: CornerRows) -> dict[str, object]:
    """What happened between the last apex and the exit marker."""
    apex, at = p.limits[:1, 1], rows.exit_curvature_at[:1]
    own = p.held_curvature.at(p.limits[:, 1:2])[:, 0]
    return {
        "apex_radius_m": _radius(own, extreme=False).value,
        "exit_tightest_after_apex_m": _ridden_m(p, at[0]) - _ridden_m(p, apex[0]),
        "exit_tightens_after_apex_m": _tightens_after_m(p, standard, float(own[0])),
        **_named("exit_lean_max", "deg", reflected(rows.exit_lean_deg)),
        "exit_lean_on_line_deg": lean_on_line_deg(p, standard, 1),
        "exit_camber_deg": float(p.corner.camber_at(sample(p.station_m[:1], at))[0]),
        "exit_tightest_speed_mps": p.held_speed.at(rows.exit_curvature_at)[0],
    }


def _tightens_after_m(p: Pass, standard: Standard, apex_curvature_1pm: float) -> float:
    """Metres after the last apex at which the path is first tighter than the marker line's exit and
    than the rider's own path at the apex; NaN where it never is."""
    windows = p.held_curvature.windows[0]
    middle = np.arange(len(windows)) + 0.5 * WINDOW
    apex, end = p.limits[0, 1:]
    bound = max(standard.exit_curvature_1pm, apex_curvature_1pm)
    tight = (middle >= apex) & (middle <= end - 0.5 * WINDOW) & (windows > bound)
    if not tight.any():
        return float("nan")
    return _ridden_m(p, middle[np.argmax(tight)]) - _ridden_m(p, apex)


def _turn_in_early(p: Pass, standard: Standard) -> FloatArray:
    """Metres of station by which each row begins to turn before the marker line does, ``(rows,)``.

    A path begins to turn where curvature held over 10 m reaches half of its largest before the first
    apex; NaN where it never lay below that, as in bends that follow each other the same way.
    """
    line = standard.line
    if line is None:
        return np.full(len(p.station_m), np.nan)
    first_apex = np.array(p.corner.apexes_m[:1])
    rider = _turning_place(p.held_curvature, crossings(p.station_m[:1], first_apex)[0, 0])
    asked = _turning_place(line.held_curvature, crossings(line.station_m[None], first_apex)[0, 0])
    return sample(line.station_m[None], asked) - sample(p.station_m, rider)


def _turning_place(held: Held, apex: float) -> FloatArray:
    """Place in each row where held curvature rises through half of its peak before the apex."""
    windows = held.windows[:, : max(int(apex - 0.5 * WINDOW) + 1, 2)]
    index = np.arange(windows.shape[1])
    peak = np.argmax(windows, axis=1)
    row = np.arange(len(windows))
    half = _TURNING_SHARE * windows[row, peak]
    below = (windows < half[:, None]) & (index < peak[:, None])
    last = len(index) - 1 - np.argmax(below[:, ::-1], axis=1)
    after = np.minimum(last + 1, len(index) - 1)
    low, high = windows[row, last], windows[row, after]
    share = (half - low) / np.where(high > low, high - low, 1.0)
    return np.where(below.any(axis=1), last + share + 0.5 * WINDOW, np.nan)


def _radius(curvature: FloatArray, extreme: bool = True) -> Summary:
    """Radius and its interval from rows of curvature; a path turning away counts as straight."""
    held = reflected(curvature) if extreme else plain(curvature)
    value, hi, lo = (1.0 / np.maximum(k, 1.0 / STRAIGHT_M) for k in held)
    return Summary(value, lo, hi)


def _where_known(rows: FloatArray) -> Summary:
    """Plain summary over the rows in which a value was found; NaN where it was not in most."""
    known = np.isfinite(rows)
    if not known[0] or np.mean(known) < 0.9:
        return Summary(np.nan, np.nan, np.nan)
    return plain(rows[known])


def _ridden_m(p: Pass, place: float) -> float:
    """Metres of the estimate's path from turn-in to a place."""
    at = np.array([[place, p.limits[0, 0]]])
    there, turn_in = sample(p.distance_m[:1], at)[0]
    return float(there - turn_in)


def _named(name: str, unit: str, summary: Summary) -> dict[str, object]:
    return {
        f"{name}_{unit}": summary.value,
        f"{name}_lo_{unit}": summary.lo,
        f"{name}_hi_{unit}": summary.hi,
    }
