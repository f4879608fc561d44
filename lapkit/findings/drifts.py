"""What changes with every lap of a run, as tyres or rider tire; all corners of a rider are looked at together.

A drift is told where it ends as a fault: who began far inside of what the marker line asks for and comes
up to it has nothing to work on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtr

from lapkit.compare.corners import TIGHTENED_BELOW
from lapkit.compare.lap_values import LINE
from lapkit.compare.stats import LEAST_SPREAD, adjusted, moderated, within_groups
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.cones import OFF_LINE_M
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.judgement import HOLDS_AT, Drift, Judgement, of_all_laps
from lapkit.findings.place import Place
from lapkit.findings.rules import LEAN_ADDED_DEG
from lapkit.units import FloatArray

DRIFT_M = 1.2
"""Wider by this from first lap to last is a drift, where it ends off the line by :data:`OFF_LINE_M`."""

DRIFT_TIGHTER = 0.15
"""An exit's radius that falls by this share of what it was, where it ends below :data:`TIGHTENED_BELOW` of the
marker line's."""

DRIFT_LEAN_DEG = 3.0
"""And lean against the marker line's that grows by this, where it ends :data:`LEAN_ADDED_DEG` beyond it."""

DRIFT_RATE = 0.002
"""Of the corners said to drift in one measure no more than this share is wrong, on average."""

MOST_CORNERS = 0.5
"""A drift that shows at more than this share of the corners is the rider's or his tyres', not a corner's."""

FEWEST_CORNERS = 3
"""Fewer corners than this make no such story."""


@dataclass(frozen=True, eq=False)
class _Measure:
    """What may grow from lap to lap at a corner.

    Attributes:
        evidence: the laps.
        values: in each of them, ``(laps,)``, larger being worse.
        least: the growth over a run that is worth a word.
        fault: what the end of the run has to be beyond.
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
    """A measure's growth from lap to lap within runs, in its own unit.

    Attributes:
        of: the measure.
        over_run: growth from the first lap to the last of the last run with laps enough.
        end: where that run ends.
        variance: of one lap about the slope, with ``free`` degrees of freedom.
        content, end_content: how many laps' worth ``over_run`` and ``end`` are known by: a lap's variance divided
            by these is theirs.
    """

    of: _Measure
    over_run: float
    end: float
    variance: float
    free: int
    content: float
    end_content: float

    def p_of_chance(self, variance: float, free: float) -> float:
        """P value of the growth if laps scattered so far about no slope; 1 where it is too small for a word."""
        if self.over_run < self.of.least:
            return 1.0
        sd = np.maximum(np.sqrt(variance / self.content), LEAST_SPREAD)
        return float(stdtr(free, -self.over_run / sd))

    def p_faulty(self, variance: float, free: float) -> float:
        """Probability that the end is beyond the limit; NaN where what all laps share is not known."""
        sd = np.sqrt(variance / self.end_content + np.square(self.of.shared_sd))
        return float(stdtr(free, (self.end - self.of.fault) / np.maximum(sd, LEAST_SPREAD)))


def drifts(rider: Sequence[Evidence]) -> list[Judgement]:
    """Wider at the last apex, tighter over the exit, or further over than the marker line asks for.

    Lean is held against what the line asks for at the same speed: to ride faster as he warms up is no drift. All corners
    together tell how far laps scatter about a slope, and what shows at many corners is believed sooner at each.
    """
    held = [e for e in rider if e.count and e.standard.line is not None]
    return [
        *_drifting(Code.DRIFTS_WIDE, [_wider(e) for e in held], alike=True),
        *_drifting(Code.DRIFTS_TIGHT, [_tighter(e) for e in held]),
        *_drifting(Code.DRIFTS_OVER, [_further_over(e) for e in held]),
    ]


def _wider(e: Evidence) -> _Measure | None:
    apex = e.last_marker(MarkerKind.APEX)
    if apex is None:
        return None
    wide = e.cones[apex.name].wide_of_line_m.value
    shared = e.shared_sd(LINE, apex.name)
    return _Measure(e, wide, DRIFT_M, OFF_LINE_M, Place.of_cone(apex), shared)


def _tighter(e: Evidence) -> _Measure:
    ratio = e.laps.exit_radius_min_m.value / e.laps.line_exit_radius_min_m
    return _Measure(
        e, -np.log(ratio), DRIFT_TIGHTER, -float(np.log(TIGHTENED_BELOW)), Place.of_tightest_exit(e)
    )


def _further_over(e: Evidence) -> _Measure:
    return _Measure(
        e, e.laps.lean_added_deg, DRIFT_LEAN_DEG, LEAN_ADDED_DEG, Place.of_largest_lean(e)
    )


def _slope(of: _Measure | None) -> _Slope | None:
    """The slope of a measure; None where there are too few laps to tell."""
    if of is None:
        return None
    e, lap = of.evidence, of.evidence.number
    x, y = within_groups(lap, e.run), within_groups(of.values, e.run)
    free = e.count - len(np.unique(e.run)) - 1
    if free < FEWEST_LAPS or not np.any(x) or not np.isfinite(y).all():
        return None
    squares = float(x @ x)
    slope = float(x @ y) / squares
    now = lap[e.now]
    laps, after_middle = float(np.ptp(now)), float(now.max() - now.mean())
    return _Slope(
        of=of,
        over_run=slope * laps,
        end=float(of.values[e.now].mean()) + slope * after_middle,
        variance=float(np.sum(np.square(y - slope * x))) / free,
        free=free,
        content=squares / laps**2,
        end_content=1.0 / (1.0 / len(now) + after_middle**2 / squares),
    )


def _drifting(
    code: Code, measures: Sequence[_Measure | None], *, alike: bool = False
) -> list[Judgement]:
    """Those slopes of one measure that are to be told; ``alike`` where laps scatter as far at all corners."""
    slopes = [slope for measure in measures if (slope := _slope(measure)) is not None]
    if not slopes:
        return []
    p = _sure(slopes, alike)
    told = p >= HOLDS_AT
    count = int(np.count_nonzero(told))
    common = count >= FEWEST_CORNERS and count > MOST_CORNERS * len(slopes)
    return [
        replace(
            of_all_laps(code, s.of.evidence, _size(code, s), float(p[i]), s.of.place),
            drift=Drift(_end(code, s), count, len(slopes), common),
        )
        for i, s in enumerate(slopes)
        if told[i]
    ]


def _sure(slopes: Sequence[_Slope], alike: bool) -> FloatArray:
    """How sure it is of each slope that it is one and ends as a fault, ``(slopes,)``; 0 where not to be told.

    Where many corners are looked at, laps that only scatter climb at one of them by chance: p values are adjusted
    for that. Lines scatter by as many metres at all corners, so all corners tell how far. A radius or the lean scatters
    as its own corner lets it: there the other corners may make the scatter larger, never smaller.
    """
    own = np.array([s.variance for s in slopes])
    own_free = np.array([float(s.free) for s in slopes])
    variance, free = moderated(own, own_free)
    if not alike:
        free = np.where(own > variance, own_free, free)
        variance = np.maximum(own, variance)
    known = list(zip(slopes, variance, free, strict=True))
    chance = adjusted(np.array([s.p_of_chance(v, f) for s, v, f in known]))
    faulty = np.array([s.p_faulty(v, f) for s, v, f in known])
    return np.where(chance <= DRIFT_RATE, np.minimum(1.0 - chance, faulty), 0.0)


def _end(code: Code, slope: _Slope) -> float:
    """Where a run ends, as it is told: a radius in metres instead of as a share of the line's."""
    if code is not Code.DRIFTS_TIGHT:
        return slope.end
    line = float(np.mean(slope.of.evidence.laps.line_exit_radius_min_m))
    return line * float(np.exp(-slope.end))


def _size(code: Code, slope: _Slope) -> float:
    """How much over a run, in the same unit."""
    if code is not Code.DRIFTS_TIGHT:
        return slope.over_run
    return _end(code, slope) * float(np.expm1(slope.over_run))
