"""What changes with every lap of a run, as tyres or rider tire; a rider's corners together.

A drift is told where it ends as a fault: who began far inside of what the marker line asks for and comes
up to it has nothing to work on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtr

from lapkit.compare.corners import TIGHTENED_BELOW
from lapkit.compare.stats import LEAST_SPREAD, adjusted, moderated, within_groups
from lapkit.course.types import MarkerKind
from lapkit.findings.cones import OFF_LINE_M
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.judgement import HOLDS_AT, Judgement, of_all_laps
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
    """What may grow from lap to lap at a corner: its value in each lap, ``(laps,)``, larger being worse.

    ``least`` is the growth over a run that is worth a word, ``fault`` what the end has to be beyond.
    ``shared_sd`` is what is not known of all laps of a run alike.
    """

    evidence: Evidence
    values: FloatArray
    least: float
    fault: float
    place: Place
    shared_sd: float = 0.0


@dataclass(frozen=True, eq=False)
class _Slope:
    """A measure's growth from lap to lap within runs.

    ``over_run`` is from first lap to last of the last run, ``end`` where that ends. ``variance`` is a lap's
    about the slope, with ``free`` degrees of freedom; of ``over_run`` and ``end`` it is that divided by
    ``content`` and ``end_content``.
    """

    of: _Measure
    over_run: float
    end: float
    variance: float
    free: int
    content: float
    end_content: float


def drifts(rider: Sequence[Evidence]) -> list[Judgement]:
    """Wider at the last apex, tighter over the exit, or further over than the marker line asks for.

    Lean is held against the line's at the rider's own speed: who only rides faster as he warms up has no
    drift. How far laps scatter about a slope is drawn from all corners, and a rider who drifts at many is
    believed at each sooner.
    """
    lined = [e for e in rider if e.count and e.standard.line is not None]
    return [
        *_drifting("drifts_wide", [_wider(e) for e in lined], alike=True),
        *_drifting("drifts_tight", [_tighter(e) for e in lined]),
        *_drifting("drifts_over", [_further_over(e) for e in lined]),
    ]


def _wider(e: Evidence) -> _Measure | None:
    apex = e.last_marker(MarkerKind.APEX)
    if apex is None:
        return None
    wide = e.cones[apex.name].wide_of_line_m.value
    shared = e.shared_sd("wide_of_line_m", apex.name)
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
    code: str, measures: Sequence[_Measure | None], *, alike: bool = False
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
            corners=(count, len(slopes)) if common else (0, 0),
            end=_end(code, s),
        )
        for i, s in enumerate(slopes)
        if told[i]
    ]


def _sure(slopes: Sequence[_Slope], alike: bool) -> FloatArray:
    """How sure it is of each slope that it is one and ends as a fault, ``(slopes,)``; 0 where not to be told.

    Laps of independent scatter climb by chance somewhere where many corners are looked at: that it is one is 1 less
    the p value adjusted for that. Lines scatter by as many metres at all corners. How far a radius and the lean scatter by
    it is the corner's own: what is drawn from the others may only make the scatter larger there.
    """
    over_run, end, own, own_free, content, end_content = (
        np.array([float(getattr(s, name)) for s in slopes])
        for name in ("over_run", "end", "variance", "free", "content", "end_content")
    )
    shared_sd, least, fault = np.array([(s.of.shared_sd, s.of.least, s.of.fault) for s in slopes]).T
    variance, free = moderated(own, own_free)
    if not alike:
        free = np.where(own > variance, own_free, free)
        variance = np.maximum(own, variance)
    sd = np.maximum(np.sqrt(variance / content), LEAST_SPREAD)
    chance = adjusted(np.where(over_run >= least, stdtr(free, -over_run / sd), 1.0))
    end_sd = np.sqrt(variance / end_content + np.square(shared_sd))
    ends = stdtr(free, (end - fault) / np.maximum(end_sd, LEAST_SPREAD))
    return np.where(chance <= DRIFT_RATE, np.minimum(1.0 - chance, ends), 0.0)


def _end(code: str, slope: _Slope) -> float:
    """Where a run ends, as it is told: a radius in metres instead of as a share of the line's."""
    if code != "drifts_tight":
        return slope.end
    line = float(np.mean(slope.of.evidence.laps.line_exit_radius_min_m))
    return line * float(np.exp(-slope.end))


def _size(code: str, slope: _Slope) -> float:
    """How much over a run, in the same unit."""
    if code != "drifts_tight":
        return slope.over_run
    return _end(code, slope) * float(np.expm1(slope.over_run))
