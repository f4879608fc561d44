"""What is looked for at a corner: each rule turns evidence into judgements.

Tolerances are the trade's: a coach looks for everyone within about a metre of the line, and
scatter of half a metre is ordinary. A rule therefore speaks when a metre is likely, not when it is
possible.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from scipy.special import chdtri, stdtr

from lapkit.compare.corners import TIGHTENED_BELOW
from lapkit.course.course import CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.findings.evidence import Evidence, p_above, spread_of
from lapkit.findings.judgement import FEWEST_LAPS, Judgement, judge
from lapkit.units import FloatArray

OFF_LINE_M = 0.5
"""Wide of cone or line by more than this is worth saying when it is a habit."""

FAR_OFF_LINE_M = 1.5
"""The same for once."""

TURN_IN_M = 3.0
"""Early or late at turn-in by more than this, as a habit; twice as much for once."""

LEAN_ADDED_DEG = 3.0
"""More lean than the marker line would have asked for at the same speed."""

EXIT_LEAN_ADDED_DEG = 1.0
"""The same, in an exit that tightened."""

OWN_APEX = 0.95
"""A tightened exit is tighter than this share of the rider's own radius at the last apex."""

OFF_CAMBER_DEG = -1.0
"""From here on a corner counts as off camber."""

UNEVEN_M = 0.9
"""Scatter from lap to lap, one standard deviation, beyond which a corner is ridden unevenly."""

DRIFT_M = 1.0
"""Wider by this from first lap to last is a drift."""

DRIFT_SURE_AT = 0.995
"""A slope is called when it is this probable: every corner is looked at for one."""

_LINE_OUTSIDE = 0.35
_MOSTLY = 0.5


def judgements(evidence: Evidence) -> list[Judgement]:
    """Everything worth saying about one rider at one corner."""
    if not evidence.count:
        return []
    markers = evidence.corner.markers
    found = [*(_wrong_side(evidence, marker) for marker in markers), _uneven(evidence)]
    if evidence.standard.line is not None:
        found += [
            _exit_tightened(evidence),
            _inside_seam(evidence),
            *_turn_in(evidence),
            *(_cone_missed(evidence, marker) for marker in markers),
            _lean_added(evidence),
            _drifts_wide(evidence),
        ]
    return [judgement for judgement in found if judgement is not None]


def exit_lean_added_deg(e: Evidence) -> FloatArray:
    """Lean that each lap's exit took beyond the marker line's at the same speed, degrees."""
    return e.lap("exit_lean_max_deg") - e.lap("exit_lean_on_line_deg")


def _exit_tightened(e: Evidence) -> Judgement | None:
    """After the last apex tighter than the marker line and than the rider himself at the apex."""
    added = exit_lean_added_deg(e)
    sd = spread_of(e.lap("exit_lean_max_lo_deg"), e.lap("exit_lean_max_hi_deg"))
    p = np.minimum(e.lap("p_tightened"), p_above(added, sd, EXIT_LEAN_ADDED_DEG))
    p = np.where(e.lap("exit_radius_min_m") < OWN_APEX * e.lap("apex_radius_m"), p, 0.0)
    usual, usual_sd = e.usual("exit_curvature_1pm")
    limit = e.standard.exit_curvature_1pm / TIGHTENED_BELOW
    return judge(
        "exit_tightened",
        e,
        np.nan_to_num(p),
        1.0 - e.lap("exit_radius_ratio"),
        p_usual=float(p_above(np.array(usual), np.array(usual_sd), limit)),
        severe=(e.lap("exit_radius_ratio") < 0.75) & (added > LEAN_ADDED_DEG),
        added_deg=added,
        station_m=e.corner.last_apex_m + float(np.nanmedian(e.lap("exit_tightest_after_apex_m"))),
    )


def _inside_seam(e: Evidence) -> Judgement | None:
    """Inside a seam over the exit where the marker line is outside of it: the inmost such seam."""
    last = _of_kind(e, MarkerKind.EXIT)
    line = e.standard.line_inside_share
    for i, seam in enumerate(e.corner.seams):
        if not line[i] < _LINE_OUTSIDE or last is None:
            continue
        rows = e.seams[seam.name]
        wide, sd = _marker_value(e.markers[last.name], "wide_of_line_m", "wide")
        inside = rows["p_inside"].to_numpy(dtype=np.float64)
        p = np.minimum(np.nan_to_num(inside), p_above(-wide, sd, OFF_LINE_M))
        found = judge(
            "inside_seam",
            e,
            p,
            -wide,
            p_usual=float(np.mean(inside)),
            severe=(-wide > FAR_OFF_LINE_M) & (rows["inside_share"].to_numpy() > _MOSTLY),
            added_deg=exit_lean_added_deg(e),
            station_m=0.5 * (e.corner.last_apex_m + e.corner.exit_m),
            marker=seam.name,
        )
        if found is not None:
            return found
    return None


def _turn_in(e: Evidence) -> Iterator[Judgement | None]:
    early = e.lap("turn_in_early_m")
    sd = spread_of(e.lap("turn_in_early_lo_m"), e.lap("turn_in_early_hi_m"))
    usual, usual_sd = e.usual("turn_in_early_m")
    for code, way in (("turn_in_early", 1.0), ("turn_in_late", -1.0)):
        yield judge(
            code,
            e,
            p_above(way * early, sd, TURN_IN_M),
            way * early,
            p_usual=float(p_above(np.array(way * usual), np.array(usual_sd), TURN_IN_M)),
            severe=way * early > 2.0 * TURN_IN_M,
            added_deg=e.lap("lean_max_deg") - e.lap("lean_on_line_deg"),
            station_m=e.corner.turn_in_m,
            marker=next((m.name for m in e.corner.markers if m.kind is MarkerKind.TURN_IN), ""),
        )


def _cone_missed(e: Evidence, marker: CourseMarker) -> Judgement | None:
    """Further from a cone than the marker line passes it."""
    codes = {
        MarkerKind.TURN_IN: "turn_in_cone_missed",
        MarkerKind.APEX: "apex_missed",
        MarkerKind.EXIT: "exit_cone_missed",
    }
    if marker.kind not in codes:
        return None
    rows = e.markers[marker.name]
    gap, sd = _marker_value(rows, "gap_m", "gap")
    asked = rows["line_gap_m"].to_numpy(dtype=np.float64)
    usual, usual_sd = e.usual("gap_m", marker.name)
    return judge(
        codes[marker.kind],
        e,
        p_above(gap - asked, sd, OFF_LINE_M),
        gap - asked,
        p_usual=float(p_above(np.array(usual), np.array(usual_sd), asked[0] + OFF_LINE_M)),
        severe=p_above(gap - asked, sd, FAR_OFF_LINE_M) > _MOSTLY,
        added_deg=e.lap("lean_max_deg") - e.lap("lean_on_line_deg"),
        station_m=marker.station_m,
        marker=marker.name,
    )


def _wrong_side(e: Evidence, marker: CourseMarker) -> Judgement | None:
    """Past a cone on the wrong side, clearly nearer than the marker line goes."""
    if marker.kind is MarkerKind.SIGHT:
        return None
    rows = e.markers[marker.name]
    gap, sd = _marker_value(rows, "gap_m", "gap")
    asked = rows["line_gap_m"].to_numpy(dtype=np.float64)
    limit = np.fmin(asked - 2.0 * OFF_LINE_M, 0.0)
    usual, usual_sd = e.usual("gap_m", marker.name)
    return judge(
        "cone_wrong_side",
        e,
        p_above(-gap, sd, -limit),
        -gap,
        p_usual=float(p_above(np.array(-usual), np.array(usual_sd), -limit[0])),
        severe=gap < -FAR_OFF_LINE_M,
        added_deg=np.zeros_like(gap),
        station_m=marker.station_m,
        marker=marker.name,
    )


def _lean_added(e: Evidence) -> Judgement | None:
    """Clearly more lean in the corner than the marker line would have asked for at the same speed."""
    added = e.lap("lean_max_deg") - e.lap("lean_on_line_deg")
    sd = spread_of(e.lap("lean_max_lo_deg"), e.lap("lean_max_hi_deg"))
    station = e.corner.turn_in_m + float(np.nanmedian(e.lap("lean_max_at_m")))
    off_camber = float(e.corner.camber_at(np.array(station))) <= OFF_CAMBER_DEG
    usual, usual_sd = e.usual("lean_deg")
    limit = float(np.nanmean(e.lap("lean_on_line_deg"))) + LEAN_ADDED_DEG
    return judge(
        "lean_off_camber" if off_camber else "lean_added",
        e,
        p_above(added, sd, LEAN_ADDED_DEG),
        added,
        p_usual=float(p_above(np.array(usual), np.array(usual_sd), limit)),
        severe=added > 2.0 * LEAN_ADDED_DEG,
        added_deg=added,
        station_m=station,
    )


def _uneven(e: Evidence) -> Judgement | None:
    """Lines that lie clearly further apart from lap to lap than is ordinary."""
    found = [e.scatter("wide_of_line_m", m.name) for m in e.corner.markers]
    known = [(sd, free) for sd, free in found if free >= 3]
    if not known:
        return None
    sd = float(np.sqrt(np.mean([each**2 for each, _ in known])))
    free = known[0][1]
    # The cones of a corner are passed by one and the same lap: no more freedom than laps.
    least = sd * float(np.sqrt(free / chdtri(free, 1.0 - 0.9)))
    if not least > UNEVEN_M:
        return None
    laps = np.ones(e.count, dtype=bool)
    return Judgement(
        "uneven", e, laps, np.full(e.count, sd), 0.9, True, False,
        np.full(e.count, np.nan), "", e.corner.last_apex_m,
    )  # fmt: skip


def _drifts_wide(e: Evidence) -> Judgement | None:
    """Wider at the last apex with every lap of a run, as tyres or rider tire."""
    apex = _of_kind(e, MarkerKind.APEX)
    if apex is None:
        return None
    wide, _ = _marker_value(e.markers[apex.name], "wide_of_line_m", "wide")
    number, runs = e.lap("lap"), np.unique(e.run)
    x, y = number.copy(), wide.copy()
    for run in runs:
        of_run = e.run == run
        x[of_run] -= x[of_run].mean()
        y[of_run] -= y[of_run].mean()
    free = e.count - len(runs) - 1
    if free < FEWEST_LAPS or not np.any(x) or not np.isfinite(y).all():
        return None
    slope = float(x @ y / (x @ x))
    slope_sd = float(np.sqrt(np.sum(np.square(y - slope * x)) / free / (x @ x)))
    run_laps = float(np.ptp(number[e.run == e.run[-1]]))
    p = float(stdtr(free, slope / max(slope_sd, 1e-9)))
    if p < DRIFT_SURE_AT or slope * run_laps < DRIFT_M:
        return None
    return Judgement(
        "drifts_wide", e, x > 0.0, np.full(e.count, slope * run_laps), p, True, False,
        np.full(e.count, np.nan), apex.name, apex.station_m,
    )  # fmt: skip


def _of_kind(e: Evidence, kind: MarkerKind) -> CourseMarker | None:
    """The last marker of a kind."""
    return next((m for m in reversed(e.corner.markers) if m.kind is kind), None)


def _marker_value(rows: pd.DataFrame, column: str, stem: str) -> tuple[FloatArray, FloatArray]:
    """A marker's measure and its spread in each lap."""
    value, lo, hi = (
        rows[name].to_numpy(dtype=np.float64) for name in (column, f"{stem}_lo_m", f"{stem}_hi_m")
    )
    return value, spread_of(lo, hi)
