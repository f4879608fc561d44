"""Whether a habit that the last run does not show was surely left off.

A tolerance that laps lie about is passed by more of them in one run than in another by chance, or
because the two runs' position offsets differ: counted laps alone are no reason to say so.
"""

from __future__ import annotations

import numpy as np

from lapkit.compare.changes import LINE, Between
from lapkit.findings.judgement import Judgement

_MENDS = {
    "inside_seam": LINE, "cone_wrong_side": LINE, "apex_missed": LINE, "exit_cone_missed": LINE,
    "wrong_lane": LINE, "exit_tightened": "exit_radius_min_m", "turn_in_early": "turn_in_early_m",
    "turn_in_late": "turn_in_early_m", "turn_in_cone_missed": "turn_in_early_m",
    "lean_off_camber": "lean_max_deg", "lean_added": "lean_max_deg",
}  # fmt: skip
"""Code → the measure whose change from run to run shows that it was mended."""


def surely_mended(judgement: Judgement, between: Between) -> bool:
    """Whether its measure surely changed for the better since the run that showed it most.

    Args:
        judgement: a habit that the last run does not show.
        between: what changed between the rider's runs.
    """
    measure = _MENDS.get(judgement.code)
    if measure is None:
        return False
    e = judgement.evidence
    last = int(e.run[e.now][-1])
    of_run = [judgement.seen[e.run == number] for number in range(last)]
    shown = int(np.argmax([float(np.mean(seen)) if len(seen) else 0.0 for seen in of_run]))
    at = judgement.at_cone if measure == LINE else ""
    changed = between.changes(shown, last).get((e.corner.name, at, measure))
    if changed is None or not changed.found:
        return False
    if measure == "exit_radius_min_m":
        return changed.change > 0.0
    return abs(changed.before + changed.change) < abs(changed.before)
