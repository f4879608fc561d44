"""Whether a rider's laps at a corner lie further apart than is ordinary."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtr

from lapkit.compare.stats import within_groups
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.cones import FAR_OFF_LINE_M
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.judgement import HOLDS_AT, OF_ALL_RUNS, Judgement, of_all_laps
from lapkit.findings.place import Place
from lapkit.units import FloatArray

UNEVEN_M = 0.9
"""Scatter from lap to lap, one standard deviation, beyond which a corner is ridden unevenly."""


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
    return of_all_laps(Code.UNEVEN, e, float(np.sqrt(variance)), p, Place(e.corner.last_apex_m))


def _from_usual(e: Evidence) -> FloatArray:
    """How far out each lap passes each cone, less the middle one of its run, metres, ``(cones, laps)``."""
    cones = [m for m in e.corner.markers if m.kind is not MarkerKind.SIGHT]
    wide = np.array([e.cones[m.name].wide_of_line_m.value for m in cones])
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
    return float(np.sum(np.square(within_groups(values[used], run[used])))) / free, free
