"""Whether a habit that shows in one run and not in another surely changed between them.

Laps that lie close to a tolerance exceed it more often in one run than in another by chance, or because the two runs'
position offsets differ. Counts of laps alone are no reason to say that something changed.
"""

from __future__ import annotations

import numpy as np

from lapkit.compare.changes import Changed, RunChanges
from lapkit.compare.lap_values import LINE, RADIUS
from lapkit.compare.results import MeasureAt
from lapkit.findings.cones import FAR_OFF_LINE_M
from lapkit.findings.judgement import OF_ALL_RUNS, Judgement


def surely_mended(judgement: Judgement, between: RunChanges) -> bool:
    """Whether the measure of a mended habit surely changed for the better since the run that showed it most.

    Args:
        judgement: a habit that the last run does not show.
        between: what changed between the rider's runs.
    """
    shares = _shares_before(judgement)
    showed_most = max(shares, key=lambda run: shares[run], default=0)
    changed = _changed(judgement, between, showed_most)
    if changed is None:
        return False
    if changed.measure == RADIUS:
        return changed.change > 0.0
    return abs(changed.before + changed.change) < abs(changed.before)


def may_be_offset(judgement: Judgement, between: RunChanges) -> bool:
    """Whether a habit that only the last run shows may be nothing but that run's position offset.

    It may be if it rests on where the tyres ran, is not so large that even one lap would be reported, and its measure did not
    surely get worse since the run that showed it least.

    Args:
        judgement: what was found.
        between: what changed between the rider's runs.
    """
    new = judgement.habit and np.mean(judgement.seen) <= OF_ALL_RUNS
    shares = _shares_before(judgement)
    if not new or not judgement.code.means.placed or not shares:
        return False
    if judgement.typical(judgement.size) > FAR_OFF_LINE_M:
        return False
    showed_least = min(shares, key=lambda run: shares[run])
    changed = _changed(judgement, between, showed_least)
    return changed is None or abs(changed.before + changed.change) <= abs(changed.before)


def _shares_before(judgement: Judgement) -> dict[int, float]:
    """Index of each run before the last one with enough laps → the share of its laps that show the habit."""
    evidence = judgement.evidence
    earlier = np.unique(evidence.run[evidence.run < evidence.run[evidence.last_run][-1]])
    return {int(run): float(np.mean(judgement.seen[evidence.run == run])) for run in earlier}


def _changed(judgement: Judgement, between: RunChanges, since: int) -> Changed | None:
    """How a judgement's measure changed from the run ``since`` to the last run; None unless it surely did."""
    measure, evidence = judgement.code.means.measure, judgement.evidence
    if not measure:
        return None
    cone = judgement.at_cone if measure == LINE else ""
    changes = between.changes(since, int(evidence.run[evidence.last_run][-1]))
    changed = changes.get(MeasureAt(evidence.corner.name, cone, measure))
    return changed if changed is not None and changed.found else None
