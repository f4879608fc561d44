"""What is looked for at a corner: each rule turns evidence into a judgement.

Tolerances are those of the trade: a coach expects everyone within about a metre of the line, and half a metre of scatter is
ordinary. What is said of a single lap has to be far beyond that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from lapkit.compare.stats import spread_of
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.cones import FAR_OFF_LINE_M, OFF_LINE_M, cone_missed, past_cone, wrong_lane
from lapkit.findings.evidence import Evidence, p_above
from lapkit.findings.judgement import Judgement, Observed, judge
from lapkit.findings.place import Place
from lapkit.findings.uneven import uneven

TURN_IN_M = 3.0
"""A habit of turning in earlier or later than the marker line by more than this is worth saying, metres."""

FAR_TURN_IN_M = 12.0
"""The same for a single lap."""

VERY_TIGHT_EXIT = 0.55
"""A single exit below this share of the marker line's radius is worth saying first; others are told at their corner."""

LEAN_ADDED_DEG = 3.0
"""A habit of leaning further than the marker line asks for at the same speed, by more than this, is worth saying, degrees."""

FAR_LEAN_ADDED_DEG = 10.0
"""The same for a single lap."""

OFF_CAMBER_DEG = -1.0
"""Road with this camber or less counts as off camber, degrees."""


def judgements(evidence: Evidence, *, openly: bool) -> list[Judgement]:
    """Everything worth saying about one rider at one corner, except drifts.

    Args:
        evidence: his laps there.
        openly: whether he runs inside the seam on a longer radius than the marker line's, which is told as a fact and no
            fault (:mod:`lapkit.findings.facts`).
    """
    if not evidence.count:
        return []
    markers = evidence.corner.ridden_past
    found = [*(j for marker in markers for j in past_cone(evidence, marker)), uneven(evidence)]
    if evidence.standard.line is not None:
        found += [
            _exit_tightened(evidence),
            _inside_seam(evidence),
            *_turn_in(evidence),
            *(cone_missed(evidence, marker) for marker in markers),
            _lean_added(evidence),
        ]
    judged = [judgement for judgement in found if judgement is not None]
    if openly:
        # Then the exit cone that he passes far away, and the lane he passes it in, are no faults either.
        judged = [j for j in judged if j.code not in (Code.INSIDE_SEAM, Code.EXIT_CONE_MISSED)]
        last = evidence.last_marker(MarkerKind.EXIT)
        markers = tuple(marker for marker in markers if marker is not last)
    # A rider who misses a cone reads his lane in that finding (effects.py) and not in one of its own.
    missed = {(judgement.at_cone, judgement.habit) for judgement in judged}
    for marker in markers:
        lane = wrong_lane(evidence, marker)
        if lane is not None and (lane.at_cone, lane.habit) not in missed:
            judged.append(lane)
    return judged


def left_road(evidence: Evidence) -> Judgement | None:
    """Off the road and back again, from evidence that includes the laps on which he left it."""
    off_m, left = evidence.laps.off_road_m, evidence.laps.left_road == 1.0
    observed = Observed(p=left.astype(np.float64), size=off_m, severe=left)
    return judge(Code.LEFT_ROAD, evidence, Place(evidence.corner.last_apex_m), observed)


def exit_aside(evidence: Evidence) -> Judgement | None:
    """Exits that tightened and are yet no fault to work on; None where there are none.

    Either too few laps tightened for a habit, and one of them is called tightened; or most laps did, but only a little or
    without more lean.
    """
    if not evidence.count or evidence.standard.line is None:
        return None
    every = np.ones(evidence.count, dtype=bool)
    found = _exit_tightened(evidence, clear=every, severe=every)
    if found is None or not (found.habit or evidence.laps.exit_called.any()):
        return None
    return replace(found, mended=False)


def _exit_tightened(
    evidence: Evidence, *, clear: np.ndarray | None = None, severe: np.ndarray | None = None
) -> Judgement | None:
    """Tighter after the last apex than the marker line is anywhere in its exit.

    Riding along the limit is no fault, so laps that are called tightened (clearly tighter, and further over) decide whether
    there is a habit. Where there is one, every lap that is surely below the limit shows it. ``clear`` and ``severe`` are
    as in :class:`~lapkit.findings.judgement.Observed`, by default the laps called so and the very tight ones.
    """
    ratio = evidence.laps.exit_radius_ratio
    observed = Observed(
        p=np.nan_to_num(evidence.laps.p_exit_tightened),
        size=1.0 - ratio,
        severe=ratio < VERY_TIGHT_EXIT if severe is None else severe,
        clear=evidence.laps.exit_called if clear is None else clear,
        added_deg=evidence.laps.exit_lean_added_deg,
    )
    return judge(Code.EXIT_TIGHTENED, evidence, Place.of_tightest_exit(evidence), observed)


def _inside_seam(evidence: Evidence) -> Judgement | None:
    """Inside a seam over the exit that the marker line stays outside of; the innermost such seam."""
    last = evidence.last_marker(MarkerKind.EXIT)
    if last is None:
        return None
    passed = evidence.cones[last.name].wide_of_line_m
    wide, sd = passed.value, spread_of(passed)
    for seam in evidence.standard.seams_to_mind:
        p_inside = np.nan_to_num(evidence.seams[seam.name].p_inside)
        observed = Observed(
            p=np.minimum(p_inside, p_above(-wide, sd, OFF_LINE_M)),
            size=-wide,
            severe=-wide > FAR_OFF_LINE_M,
            added_deg=evidence.laps.exit_lean_added_deg,
        )
        found = judge(Code.INSIDE_SEAM, evidence, Place.of_seam(seam, evidence.corner), observed)
        if found is not None:
            return found
    return None


def _turn_in(evidence: Evidence) -> Iterator[Judgement | None]:
    """Ahead of the marker line at turn-in, or behind it."""
    early, sd = evidence.laps.turn_in_early_m.value, spread_of(evidence.laps.turn_in_early_m)
    cone = evidence.last_marker(MarkerKind.TURN_IN)
    place = Place(evidence.corner.turn_in_m, cone.name if cone else "")
    for code, by in ((Code.TURN_IN_EARLY, early), (Code.TURN_IN_LATE, -early)):
        observed = Observed(
            p=p_above(by, sd, TURN_IN_M),
            size=by,
            severe=by > FAR_TURN_IN_M,
            added_deg=evidence.laps.exit_lean_added_deg,
        )
        yield judge(code, evidence, place, observed)


def _lean_added(evidence: Evidence) -> Judgement | None:
    """Clearly more lean in the corner than the marker line asks for at the same speed."""
    added, sd = evidence.laps.lean_added_deg, spread_of(evidence.laps.lean_max_deg)
    place = Place.of_largest_lean(evidence)
    off_camber = place.camber_deg(evidence.corner) <= OFF_CAMBER_DEG
    observed = Observed(
        p=p_above(added, sd, LEAN_ADDED_DEG),
        size=added,
        severe=added > FAR_LEAN_ADDED_DEG,
        added_deg=added,
    )
    return judge(Code.LEAN_OFF_CAMBER if off_camber else Code.LEAN_ADDED, evidence, place, observed)
