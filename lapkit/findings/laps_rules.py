"""Rules about laps taken together: how far they lie apart, and whether they drift over a run."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtri, stdtr

from lapkit.course.types import MarkerKind
from lapkit.findings.evidence import Evidence
from lapkit.findings.judgement import FEWEST_LAPS, HOLDS_AT, Judgement
from lapkit.units import FloatArray

UNEVEN_M = 0.9
"""Scatter from lap to lap, one standard deviation, beyond which a corner is ridden unevenly."""

DRIFT_M = 1.2
"""Wider by this from first lap to last is a drift."""

DRIFT_SURE_AT = 0.999
"""A slope is called when it is this probable: every corner is looked at for one."""


def uneven(e: Evidence) -> Judgement | None:
    """Lines that lie clearly further apart from lap to lap than is ordinary."""
    found = [e.scatter("wide_of_line_m", m.name) for m in e.corner.markers]
    known = [(sd, free) for sd, free in found if free >= FEWEST_LAPS]
    if not known:
        return None
    sd = float(np.sqrt(np.mean([each**2 for each, _ in known])))
    # The cones of a corner are passed by one and the same lap: no more freedom than laps.
    free = known[0][1]
    least = sd * float(np.sqrt(free / chdtri(free, 1.0 - HOLDS_AT)))
    if not least > UNEVEN_M:
        return None
    return _of_all_laps("uneven", e, sd, HOLDS_AT, e.corner.last_apex_m)


def drifts_wide(e: Evidence) -> Judgement | None:
    """Wider at the last apex with every lap of a run, as tyres or rider tire."""
    apex = e.last_marker(MarkerKind.APEX)
    if apex is None:
        return None
    lap = e.lap("lap")
    x = _within_runs(lap, e.run)
    y = _within_runs(e.markers[apex.name]["wide_of_line_m"].to_numpy(dtype=np.float64), e.run)
    free = e.count - len(np.unique(e.run)) - 1
    if free < FEWEST_LAPS or not np.any(x) or not np.isfinite(y).all():
        return None
    slope = float(x @ y / (x @ x))
    sd = float(np.sqrt(np.sum(np.square(y - slope * x)) / free / (x @ x)))
    over_run = slope * float(np.ptp(lap[e.run == e.run[-1]]))
    p = float(stdtr(free, slope / max(sd, 1e-9)))
    if p < DRIFT_SURE_AT or over_run < DRIFT_M:
        return None
    return _of_all_laps("drifts_wide", e, over_run, p, apex.station_m, apex.name)


def _within_runs(values: FloatArray, run: np.ndarray) -> FloatArray:
    """Values less the mean of their run."""
    _, of_run = np.unique(run, return_inverse=True)
    return values - (np.bincount(of_run, weights=values) / np.bincount(of_run))[of_run]


def _of_all_laps(
    code: str, e: Evidence, size: float, p: float, station_m: float, marker: str = ""
) -> Judgement:
    return Judgement(
        code=code,
        evidence=e,
        seen=np.ones(e.count, dtype=bool),
        size=np.full(e.count, size),
        p=p,
        habit=True,
        mended=False,
        added_deg=np.full(e.count, np.nan),
        marker=marker,
        station_m=station_m,
    )
