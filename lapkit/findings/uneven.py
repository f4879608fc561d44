"""Whether a rider's lines through a corner scatter more from lap to lap than is ordinary."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtr

from lapkit.arrays import FloatArray
from lapkit.compare.stats import within_groups
from lapkit.findings.codes import Code
from lapkit.findings.cones import FAR_OFF_LINE_M
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.judgement import OF_ALL_RUNS, Judgement, of_all_laps
from lapkit.findings.place import Place
from lapkit.path.summary import CALL_AT

UNEVEN_M = 0.9
"""Standard deviation from lap to lap beyond which a corner is ridden unevenly, metres."""


def uneven(evidence: Evidence) -> Judgement | None:
    """Lines that scatter clearly more from lap to lap than is ordinary, lapses left out.

    A lap far from all others is a lapse and reported as one. Counted here, it would make a rider on rails seem to ride a
    different line every lap.

    The judgement's ``p`` is the probability that the true scatter σ exceeds :data:`UNEVEN_M`, given the standard deviation
    s of n laps: (n − 1)s²/σ² has the χ² distribution with n − 1 degrees of freedom.
    """
    deviation = _from_median_lap(evidence)
    if not len(deviation):
        return None
    lapse = np.nan_to_num(np.abs(deviation)).max(axis=0) > FAR_OFF_LINE_M
    # What most laps do is no lapse.
    kept = ~lapse if np.mean(lapse) < OF_ALL_RUNS else np.ones(evidence.count, dtype=bool)
    variances = []
    # The cones of a corner are passed on the same laps: several cones have no more degrees of freedom than one.
    free = 0
    for of_cone in deviation:
        variance, own_free = _scatter(of_cone, evidence.run, kept)
        if own_free >= FEWEST_LAPS:
            variances.append(variance)
            free = max(free, own_free)
    if not variances:
        return None
    variance = float(np.mean(variances))
    p = float(chdtr(free, free * variance / UNEVEN_M**2))
    if p < CALL_AT:
        return None
    return of_all_laps(
        Code.UNEVEN, evidence, Place(evidence.corner.last_apex_m), float(np.sqrt(variance)), p
    )


def _from_median_lap(evidence: Evidence) -> FloatArray:
    """How much further out each lap passes each cone than the median lap of its run, metres, ``(cones, laps)``."""
    cones = [evidence.cones[marker.name] for marker in evidence.corner.ridden_past]
    wide = np.array([cone.wide_of_line_m.value for cone in cones])
    deviation = np.full_like(wide, np.nan)
    for run in np.unique(evidence.run):
        here = evidence.run == run
        for cone, passed in enumerate(wide):
            known = here & np.isfinite(passed)
            if known.any():
                deviation[cone, known] = passed[known] - np.median(passed[known])
    return deviation


def _scatter(values: FloatArray, run: np.ndarray, kept: np.ndarray) -> tuple[float, int]:
    """Variance of a measure ``(laps,)`` within runs over the laps that are kept, and its degrees of freedom."""
    used = kept & np.isfinite(values)
    free = int(np.count_nonzero(used)) - len(np.unique(run[used]))
    if free < 1:
        return float("nan"), 0
    return float(np.sum(np.square(within_groups(values[used], run[used])))) / free, free
