"""Rules about laps taken together: how far they lie apart, and whether they drift over a run."""

from __future__ import annotations

from collections.abc import Iterator

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

DRIFT_TIGHTER = 0.15
"""An exit's radius that falls by this share of what it was is a drift."""

DRIFT_LEAN_DEG = 3.0
"""And lean beyond the marker line's that grows by this."""

DRIFT_SURE_AT = 0.999
"""A slope is called when it is this probable: every corner is looked at for one, in several measures."""


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


def drifts(e: Evidence) -> Iterator[Judgement | None]:
    """What changes with every lap of a run, as tyres or rider tire.

    Wider at the last apex, tighter over the exit, or further over than the marker line asks for at the
    rider's own speed: who only rides faster as he warms up has no drift.
    """
    apex = e.last_marker(MarkerKind.APEX)
    if apex is not None:
        wide = e.markers[apex.name]["wide_of_line_m"].to_numpy(dtype=np.float64)
        yield _drift("drifts_wide", e, wide, DRIFT_M, apex.station_m, apex.name)
    radius = e.lap("exit_radius_min_m")
    least = DRIFT_TIGHTER * float(np.mean(radius))
    tightest = e.corner.last_apex_m + float(np.median(e.lap("exit_tightest_after_apex_m")))
    yield _drift("drifts_tight", e, -radius, least, tightest)
    added = e.lap("lean_max_deg") - e.lap("lean_on_line_deg")
    most = e.corner.turn_in_m + float(np.median(e.lap("lean_max_at_m")))
    yield _drift("drifts_over", e, added, DRIFT_LEAN_DEG, most)


def _drift(
    code: str, e: Evidence, values: FloatArray, least: float, station_m: float, marker: str = ""
) -> Judgement | None:
    """A measure ``(laps,)`` that surely grows from lap to lap within runs, by as much as is worth a word."""
    lap = e.lap("lap")
    x, y = _within_runs(lap, e.run), _within_runs(values, e.run)
    free = e.count - len(np.unique(e.run)) - 1
    if free < FEWEST_LAPS or not np.any(x) or not np.isfinite(y).all():
        return None
    slope = float(x @ y / (x @ x))
    sd = float(np.sqrt(np.sum(np.square(y - slope * x)) / free / (x @ x)))
    over_run = slope * float(np.ptp(lap[e.run == e.run[-1]]))
    p = float(stdtr(free, slope / max(sd, 1e-9)))
    if p < DRIFT_SURE_AT or over_run < least:
        return None
    return _of_all_laps(code, e, over_run, p, station_m, marker)


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
