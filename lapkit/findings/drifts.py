"""What changes steadily over the laps of a run, as tyres or rider tire; all corners of a rider are looked at together.

A drift is reported only if it ends as a fault. A rider who begins far inside of what the marker line asks for and comes up to it
has nothing to work on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtr

from lapkit.arrays import FloatArray
from lapkit.compare.corners import TIGHTENED_BELOW
from lapkit.compare.lap_values import LINE
from lapkit.compare.stats import LEAST_SPREAD, adjusted, within_groups
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.cones import OFF_LINE_M
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.judgement import Drift, Judgement, of_all_laps
from lapkit.findings.place import Place
from lapkit.findings.rules import LEAN_ADDED_DEG
from lapkit.path.moderated import moderated
from lapkit.path.summary import CALL_AT

DRIFT_M = 1.2
"""A line that moves out by this from first lap to last drifts, if it ends wide of the marker line by :data:`OFF_LINE_M`;
metres."""

DRIFT_TIGHTER = 0.15
"""An exit drifts if the logarithm of its radius falls by this, that is by 14 % of what it was, and it ends below
:data:`TIGHTENED_BELOW` of the marker line's."""

DRIFT_LEAN_DEG = 3.0
"""Lean beyond what the marker line asks for drifts if it grows by this and ends above :data:`LEAN_ADDED_DEG`; degrees."""

DRIFT_RATE = 0.002
"""False discovery rate: on average no more than this share of the corners said to drift in one measure is wrong."""

MOST_CORNERS = 0.5
"""A drift that shows at more than this share of the corners belongs to the rider or his tyres, not to any corner."""

FEWEST_CORNERS = 3
"""At fewer corners than this a drift is not said to be the rider's."""


@dataclass(frozen=True, eq=False)
class _Measure:
    """A measure at one corner that may grow from lap to lap.

    Attributes:
        evidence: the laps.
        values: its value in each lap, larger being worse, ``(laps,)``.
        least: the smallest growth over a run that is reported, in its unit.
        fault: the value beyond which the end of the run is a fault.
        place: where to look.
        shared_sd: one standard deviation of the error that all laps of a run share.
    """

    evidence: Evidence
    values: FloatArray
    least: float
    fault: float
    place: Place
    shared_sd: float = 0.0


@dataclass(frozen=True, eq=False)
class _Slope:
    """The regression of a measure on the number of the lap, with an intercept for each run; in the measure's unit.

    Attributes:
        of: the measure.
        over_run: growth along the regression line from first lap to last of the last run with enough laps.
        end: the regression line's value at the last lap of that run.
        variance: residual variance of a lap, with ``free`` degrees of freedom.
        growth_laps, end_laps: the variance of ``over_run`` and of ``end`` is that of a lap divided by these.
    """

    of: _Measure
    over_run: float
    end: float
    variance: float
    free: int
    growth_laps: float
    end_laps: float

    def p_by_chance(self, variance: float, free: float) -> float:
        """One-sided p value of the growth at this variance of a lap; 1 where the growth is too small for a word."""
        if self.over_run < self.of.least:
            return 1.0
        sd = np.maximum(np.sqrt(variance / self.growth_laps), LEAST_SPREAD)
        return float(stdtr(free, -self.over_run / sd))

    def p_faulty(self, variance: float, free: float) -> float:
        """Probability that the end is a fault; NaN where the error that all laps share is not known."""
        sd = np.sqrt(variance / self.end_laps + np.square(self.of.shared_sd))
        return float(stdtr(free, (self.end - self.of.fault) / np.maximum(sd, LEAST_SPREAD)))


def drifts(rider: Sequence[Evidence]) -> list[Judgement]:
    """A rider's drifts: wider at the last apex, tighter over the exit, or further over than the marker line asks for.

    Lean is compared with what the line asks for at the same speed, because riding faster as he warms up is no drift. All
    corners together show how far laps scatter about the regression line, and a drift that shows at many corners is believed
    sooner at each. ``rider`` holds his laps at every corner.
    """
    lined = [e for e in rider if e.count and e.standard.line is not None]
    return [
        *_drifting(Code.DRIFTS_WIDE, [_wider(e) for e in lined], equal_scatter=True),
        *_drifting(Code.DRIFTS_TIGHT, [_tighter(e) for e in lined]),
        *_drifting(Code.DRIFTS_OVER, [_further_over(e) for e in lined]),
    ]


def _wider(evidence: Evidence) -> _Measure | None:
    """Metres wide of the marker line at the last apex; None at a corner without one."""
    apex = evidence.last_marker(MarkerKind.APEX)
    if apex is None:
        return None
    return _Measure(
        evidence=evidence,
        values=evidence.cones[apex.name].wide_of_line_m.value,
        least=DRIFT_M,
        fault=OFF_LINE_M,
        place=Place.of_cone(apex),
        shared_sd=evidence.shared_sd(LINE, apex.name),
    )


def _tighter(evidence: Evidence) -> _Measure:
    """Logarithm of the marker line's exit radius over the lap's."""
    return _Measure(
        evidence=evidence,
        values=-np.log(
            evidence.laps.exit_radius_min_m.value / evidence.laps.line_exit_radius_min_m
        ),
        least=DRIFT_TIGHTER,
        fault=-float(np.log(TIGHTENED_BELOW)),
        place=Place.of_tightest_exit(evidence),
    )


def _further_over(evidence: Evidence) -> _Measure:
    """Degrees of lean beyond what the marker line asks for."""
    return _Measure(
        evidence=evidence,
        values=evidence.laps.lean_added_deg,
        least=DRIFT_LEAN_DEG,
        fault=LEAN_ADDED_DEG,
        place=Place.of_largest_lean(evidence),
    )


def _slope(of: _Measure | None) -> _Slope | None:
    """The regression of a measure on the number of the lap; None where there are too few laps for one."""
    if of is None:
        return None
    evidence, lap = of.evidence, of.evidence.number
    # Less the mean of their run: runs may begin anywhere.
    x, y = within_groups(lap, evidence.run), within_groups(of.values, evidence.run)
    free = evidence.count - len(np.unique(evidence.run)) - 1
    if free < FEWEST_LAPS or not np.any(x) or not np.isfinite(y).all():
        return None
    squares = float(x @ x)
    slope = float(x @ y) / squares
    last_run = lap[evidence.last_run]
    laps, after_middle = float(np.ptp(last_run)), float(last_run.max() - last_run.mean())
    return _Slope(
        of=of,
        over_run=slope * laps,
        end=float(of.values[evidence.last_run].mean()) + slope * after_middle,
        variance=float(np.sum(np.square(y - slope * x))) / free,
        free=free,
        growth_laps=squares / laps**2,
        end_laps=1.0 / (1.0 / len(last_run) + after_middle**2 / squares),
    )


def _drifting(
    code: Code, measures: Sequence[_Measure | None], *, equal_scatter: bool = False
) -> list[Judgement]:
    """The drifts of one measure over all corners; ``equal_scatter`` if laps scatter as far at one corner as at another."""
    slopes = [slope for measure in measures if (slope := _slope(measure)) is not None]
    if not slopes:
        return []
    p = _p_of_drifts(slopes, equal_scatter)
    shown_at = int(np.count_nonzero(p >= CALL_AT))
    everywhere = shown_at >= FEWEST_CORNERS and shown_at > MOST_CORNERS * len(slopes)
    found = []
    for slope, p_drift in zip(slopes, p.tolist(), strict=True):
        if p_drift >= CALL_AT:
            evidence, place = slope.of.evidence, slope.of.place
            judgement = of_all_laps(code, evidence, place, _size(code, slope), p_drift)
            drift = Drift(_end(code, slope), shown_at, len(slopes), everywhere)
            found.append(replace(judgement, drift=drift))
    return found


def _p_of_drifts(slopes: Sequence[_Slope], equal_scatter: bool) -> FloatArray:
    """Probability that each slope is a drift and ends as a fault, ``(slopes,)``; 0 where it is not to be told.

    Among many corners one will seem to drift by chance, so p values are adjusted for their number. Lines scatter by as
    many metres at one corner as at another, so all corners together tell by how many. The scatter of a radius or of lean is
    the corner's own; other corners may then raise the estimate of it but not lower it.
    """
    own = np.array([s.variance for s in slopes])
    own_free = np.array([float(s.free) for s in slopes])
    variance, free = moderated(own, own_free)
    if not equal_scatter:
        free = np.where(own > variance, own_free, free)
        variance = np.maximum(own, variance)
    known = list(zip(slopes, variance, free, strict=True))
    by_chance = adjusted(np.array([s.p_by_chance(v, f) for s, v, f in known]))
    faulty = np.array([s.p_faulty(v, f) for s, v, f in known])
    return np.where(by_chance <= DRIFT_RATE, np.minimum(1.0 - by_chance, faulty), 0.0)


def _end(code: Code, slope: _Slope) -> float:
    """Where a run ends, as it is told: metres or degrees, and metres of radius instead of the logarithm of a share."""
    if code is not Code.DRIFTS_TIGHT:
        return slope.end
    line = float(np.mean(slope.of.evidence.laps.line_exit_radius_min_m))
    return line * float(np.exp(-slope.end))


def _size(code: Code, slope: _Slope) -> float:
    """Growth over a run in the unit of :func:`_end`; of a radius, how many metres it lost."""
    if code is not Code.DRIFTS_TIGHT:
        return slope.over_run
    return _end(code, slope) * float(np.expm1(slope.over_run))
