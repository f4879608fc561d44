"""Rules about laps taken together: how far they lie apart, and whether they drift over a run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtr, stdtr

from lapkit.compare.stats import discoveries, moderated
from lapkit.course.types import MarkerKind
from lapkit.findings.cones import FAR_OFF_LINE_M
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.judgement import HOLDS_AT, OF_ALL_RUNS, Judgement
from lapkit.units import FloatArray

UNEVEN_M = 0.9
"""Scatter from lap to lap, one standard deviation, beyond which a corner is ridden unevenly."""

DRIFT_M = 1.2
"""Wider by this from first lap to last is a drift."""

DRIFT_TIGHTER = 0.15
"""An exit's radius that falls by this share of what it was is a drift."""

DRIFT_LEAN_DEG = 3.0
"""And lean beyond the marker line's that grows by this."""

DRIFT_RATE = 0.002
"""Of the corners said to drift in one measure no more than this share is wrong, on average."""

MOST_CORNERS = 0.5
"""A drift that shows at more than this share of the corners is the rider's or his tyres', not a corner's."""

FEWEST_CORNERS = 3
"""Fewer corners than this make no such story."""

_LEAST_SPREAD = 1e-9  # laps exactly on a slope are as sure as can be


def uneven(e: Evidence) -> Judgement | None:
    """Lines that lie clearly further apart from lap to lap than is ordinary, lapses aside.

    A lap far off all others is a lapse and told as one: with it among them a rider on rails would seem to ride
    a different line every lap. ``p`` is that the scatter σ of which n laps show s is beyond the
    limit, by (n − 1)s²/σ² ~ χ² with n − 1 degrees of freedom.
    """
    away = _from_usual(e)
    if not len(away):
        return None
    lapse = np.nan_to_num(np.abs(away)).max(axis=0) > FAR_OFF_LINE_M
    # What most laps do is no lapse.
    kept = ~lapse if np.mean(lapse) < OF_ALL_RUNS else np.ones(e.count, dtype=bool)
    found = [_scatter(each, e.run, kept) for each in away]
    known = [(variance, free) for variance, free in found if free >= FEWEST_LAPS]
    if not known:
        return None
    variance = float(np.mean([each for each, _ in known]))
    # The cones of a corner are passed by one and the same lap: no more freedom than laps.
    free = max(each for _, each in known)
    p = float(chdtr(free, free * variance / UNEVEN_M**2))
    if p < HOLDS_AT:
        return None
    return _of_all_laps("uneven", e, float(np.sqrt(variance)), p, e.corner.last_apex_m)


def _from_usual(e: Evidence) -> FloatArray:
    """How far out each lap passes each cone, less the middle one of its run, metres, ``(cones, laps)``."""
    cones = [m for m in e.corner.markers if m.kind is not MarkerKind.SIGHT]
    wide = np.array([e.markers[m.name]["wide_of_line_m"] for m in cones])
    away = np.full_like(wide, np.nan)
    for run in np.unique(e.run):
        here = e.run == run
        for cone, passed in enumerate(wide):
            known = here & np.isfinite(passed)
            if known.any():
                away[cone, known] = passed[known] - np.median(passed[known])
    return away


def _scatter(values: FloatArray, run: np.ndarray, kept: np.ndarray) -> tuple[float, int]:
    """Variance of a measure ``(laps,)`` within runs and its degrees of freedom, over some laps."""
    used = kept & np.isfinite(values)
    free = int(np.count_nonzero(used)) - len(np.unique(run[used]))
    if free < 1:
        return float("nan"), 0
    return float(np.sum(np.square(_within_runs(values[used], run[used])))) / free, free


@dataclass(frozen=True, eq=False)
class _Slope:
    """A measure's growth from lap to lap within runs.

    ``over_run`` is from first lap to last, so many ``laps`` on, ``variance`` that of a lap about the
    slope with ``free`` degrees of freedom, ``content`` the sum of squared lap numbers that it rests
    on. Growth of less than ``least`` is not worth a word.
    """

    evidence: Evidence
    over_run: float
    laps: float
    variance: float
    free: int
    content: float
    least: float
    station_m: float
    marker: str = ""


def drifts(rider: Sequence[Evidence]) -> list[Judgement]:
    """What changes with every lap of a run, as tyres or rider tire; a rider's corners together.

    Wider at the last apex, tighter over the exit, or further over than the marker line asks for at the
    rider's own speed: who only rides faster as he warms up has no drift. How far laps scatter about a
    slope is drawn from all corners, and a rider who drifts at many is believed at each sooner.
    """
    known = [e for e in rider if e.count]
    lined = [e for e in known if e.standard.line is not None]
    return [
        *_drifting("drifts_wide", [_wider(e) for e in lined]),
        *_drifting("drifts_tight", [_tighter(e) for e in lined]),
        *_drifting("drifts_over", [_further_over(e) for e in lined]),
    ]


def _wider(e: Evidence) -> _Slope | None:
    apex = e.last_marker(MarkerKind.APEX)
    if apex is None:
        return None
    wide = e.markers[apex.name]["wide_of_line_m"]
    return _slope(e, wide, DRIFT_M, apex.station_m, apex.name)


def _tighter(e: Evidence) -> _Slope | None:
    tightest = e.corner.last_apex_m + float(np.median(e.lap("exit_tightest_after_apex_m")))
    return _slope(e, -np.log(e.lap("exit_radius_min_m")), DRIFT_TIGHTER, tightest)


def _further_over(e: Evidence) -> _Slope | None:
    most = e.corner.turn_in_m + float(np.median(e.lap("lean_max_at_m")))
    added = e.lap("lean_max_deg") - e.lap("lean_on_line_deg")
    return _slope(e, added, DRIFT_LEAN_DEG, most)


def _slope(
    e: Evidence, values: FloatArray, least: float, station_m: float, marker: str = ""
) -> _Slope | None:
    """The slope of a measure ``(laps,)``; None where there are too few laps to tell."""
    lap = e.lap("lap")
    x, y = _within_runs(lap, e.run), _within_runs(values, e.run)
    free = e.count - len(np.unique(e.run)) - 1
    if free < FEWEST_LAPS or not np.any(x) or not np.isfinite(y).all():
        return None
    content = float(x @ x)
    slope = float(x @ y) / content
    laps = float(np.ptp(lap[e.run == e.run[-1]]))
    variance = float(np.sum(np.square(y - slope * x))) / free
    return _Slope(e, slope * laps, laps, variance, free, content, least, station_m, marker)


def _drifting(code: str, found: Sequence[_Slope | None]) -> list[Judgement]:
    """Those slopes of one measure that are to be told."""
    slopes = [slope for slope in found if slope is not None]
    if not slopes:
        return []
    variance, free = moderated(
        np.array([s.variance for s in slopes]), np.array([float(s.free) for s in slopes])
    )
    over_run, laps, content, least = (
        np.array([getattr(s, name) for s in slopes])
        for name in ("over_run", "laps", "content", "least")
    )
    sd = np.maximum(laps * np.sqrt(variance / content), _LEAST_SPREAD)
    p = stdtr(free, -over_run / sd)
    told = discoveries(np.where(over_run >= least, p, 1.0), DRIFT_RATE)
    count = int(np.count_nonzero(told))
    common = count >= FEWEST_CORNERS and count > MOST_CORNERS * len(slopes)
    return [
        replace(
            _of_all_laps(
                code, s.evidence, _in_unit(code, s), 1.0 - float(p[i]), s.station_m, s.marker
            ),
            corners=(count, len(slopes)) if common else (0, 0),
        )
        for i, s in enumerate(slopes)
        if told[i]
    ]


def _in_unit(code: str, slope: _Slope) -> float:
    """How much over a run, as it is told: a radius in metres instead of as a share of itself."""
    if code != "drifts_tight":
        return slope.over_run
    radius = float(np.mean(slope.evidence.lap("exit_radius_min_m")))
    return 2.0 * radius * float(np.sinh(0.5 * slope.over_run))


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
