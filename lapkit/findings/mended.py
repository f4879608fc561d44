"""Whether a habit that one run shows and another does not surely changed between them.

A tolerance that laps lie about is passed by more of them in one run than in another by chance, or
because the two runs' position offsets differ: counted laps alone are no reason to say so.
"""

from __future__ import annotations

import numpy as np

from lapkit.compare.changes import Changed, RunChanges
from lapkit.compare.lap_values import LINE, RADIUS
from lapkit.compare.results import MeasureAt
from lapkit.findings.cones import FAR_OFF_LINE_M
from lapkit.findings.judgement import OF_ALL_RUNS, Judgement


def surely_mended(judgement: Judgement, between: RunChanges) -> bool:
    """Whether its measure surely changed for the better since the run that showed it most.

    Args:
        judgement: a habit that the last run does not show.
        between: what changed between the rider's runs.
    """
    shown = max(_share_of_runs(judgement), key=lambda each: each[1], default=(0, 0.0))
    changed = _changed(judgement, between, shown[0])
    if changed is None:
        return False
    if changed.measure == RADIUS:
        return changed.change > 0.0
    return abs(changed.before + changed.change) < abs(changed.before)


def may_be_offset(judgement: Judgement, between: RunChanges) -> bool:
    """Whether a habit that the last run alone shows may be nothing but its position offset.

    So it may where it rests on places, is not as far off as would be told of a single lap, and its measure is not
    surely worse than in the run that showed it least.

    Args:
        judgement: what was found.
        between: what changed between the rider's runs.
    """
    new = judgement.habit and np.mean(judgement.seen) <= OF_ALL_RUNS
    before = _share_of_runs(judgement)
    if not new or not judgement.code.means.placed or not before:
        return False
    if judgement.typical(judgement.size) > FAR_OFF_LINE_M:
        return False
    changed = _changed(judgement, between, min(before, key=lambda each: each[1])[0])
    return changed is None or abs(changed.before + changed.change) <= abs(changed.before)


def _share_of_runs(judgement: Judgement) -> list[tuple[int, float]]:
    """Number of each run before the last with laps enough, and the share of its laps that showed it."""
    e = judgement.evidence
    before = np.unique(e.run[e.run < e.run[e.now][-1]])
    return [(int(run), float(np.mean(judgement.seen[e.run == run]))) for run in before]


def _changed(judgement: Judgement, between: RunChanges, since: int) -> Changed | None:
    """How its measure changed from that run to the last with laps enough; None where it did not surely."""
    measure, e = judgement.code.means.measure, judgement.evidence
    if not measure:
        return None
    cone = judgement.at_cone if measure == LINE else ""
    changes = between.changes(since, int(e.run[e.now][-1]))
    changed = changes.get(MeasureAt(e.corner.name, cone, measure))
    return changed if changed is not None and changed.found else None
