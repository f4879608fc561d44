"""What is told at a corner as a fact and is no fault: running inside the seam on a longer radius than the marker line's.

A rider who runs inside the seam usually tightens his exit by doing so. Where his radius is longer all the same, there is
nothing to work on and nothing to praise: either he knows why he does it, or a cone stands in the wrong place.
"""

from __future__ import annotations

import numpy as np

from lapkit.compare.usual import BEND
from lapkit.findings.codes import Code
from lapkit.findings.evidence import Evidence, p_above
from lapkit.findings.judgement import Judgement, Observed, judge
from lapkit.findings.place import Place
from lapkit.path.summary import CALL_AT

LONGER = 1.03
"""A radius counts as longer than the marker line's from this multiple of it on: logs do not resolve less."""


def inside_openly(evidence: Evidence) -> Judgement | None:
    """A habit of running inside a seam that the marker line stays outside of, with a surely longer exit radius.

    One that was given up is returned as mended: it is not told, but what was no fault is not praised as mended either.
    """
    if evidence.standard.line is None or not evidence.count:
        return None
    usual = evidence.usual(BEND)
    line = evidence.standard.exit_curvature_1pm / LONGER
    if p_above(-usual.mean, usual.sd, -line) < CALL_AT:
        return None
    ratio = evidence.laps.exit_radius_ratio
    for seam in evidence.standard.seams_to_mind:
        observed = Observed(p=np.nan_to_num(evidence.seams[seam.name].p_inside), size=ratio - 1.0)
        found = judge(Code.INSIDE_OPENLY, evidence, Place.of_seam(seam, evidence.corner), observed)
        if found is not None and found.typical(ratio) >= LONGER:
            return found
    return None
