"""What is looked for at a corner: each rule turns evidence into a judgement.

Tolerances are the trade's: a coach looks for everyone within about a metre of the line, and scatter
of half a metre is ordinary. What is said once, of a single lap, has to be far beyond that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from lapkit.compare.stats import spread_of
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.cones import FAR_OFF_LINE_M, OFF_LINE_M, cone_missed, wrong_lane, wrong_side
from lapkit.findings.evidence import Evidence, p_above
from lapkit.findings.judgement import Judgement, judge
from lapkit.findings.place import Place
from lapkit.findings.uneven import uneven

TURN_IN_M = 3.0
"""Early or late at turn-in by more than this, as a habit."""

FAR_TURN_IN_M = 12.0
"""The same for once."""

VERY_TIGHT_EXIT = 0.55
"""An exit below this share of the marker line's radius is worth saying first for once; others at their corner."""

LEAN_ADDED_DEG = 3.0
"""More lean than the marker line would have asked for at the same speed, as a habit."""

FAR_LEAN_ADDED_DEG = 10.0
"""The same for once."""

OFF_CAMBER_DEG = -1.0
"""From here on a corner counts as off camber."""


def judgements(evidence: Evidence, *, openly: bool) -> list[Judgement]:
    """Everything worth saying about one rider at one corner, but for drifts.

    ``openly`` says that he runs inside the seam and yet more open than the line: that is told as a fact
    (:mod:`lapkit.findings.facts`).
    """
    if not evidence.count:
        return []
    markers = evidence.corner.markers
    found = [*(wrong_side(evidence, marker) for marker in markers), uneven(evidence)]
    if evidence.standard.line is not None:
        found += [
            _exit_tightened(evidence),
            _inside_seam(evidence),
            *_turn_in(evidence),
            *(cone_missed(evidence, marker) for marker in markers),
            _lean_added(evidence),
        ]
    told = [judgement for judgement in found if judgement is not None]
    last = evidence.last_marker(MarkerKind.EXIT)
    if openly:
        # Then it is no fault, nor is the exit cone that is left aside by it.
        told = [j for j in told if j.code not in (Code.INSIDE_SEAM, Code.EXIT_CONE_MISSED)]
        markers = tuple(marker for marker in markers if marker is not last)
    # Who misses a cone is told his lane along with it (telling.py), not as another thing.
    missed = {(judgement.at_cone, judgement.habit) for judgement in told}
    lanes = [wrong_lane(evidence, marker) for marker in markers]
    return [*told, *(j for j in lanes if j is not None and (j.at_cone, j.habit) not in missed)]


def exit_aside(e: Evidence) -> Judgement | None:
    """Exits that tightened and are no fault to work on; None where there is nothing to tell.

    Either too few laps for a habit tightened, one of them clearly, or most laps did, but hardly, or without more lean.
    """
    if not e.count or e.standard.line is None:
        return None
    every = np.ones(e.count, dtype=bool)
    found = _exit_tightened(e, clear=every, severe=every)
    if found is None or not (found.habit or e.laps.exit_called.any()):
        return None
    return replace(found, mended=False)


def _exit_tightened(
    e: Evidence, *, clear: np.ndarray | None = None, severe: np.ndarray | None = None
) -> Judgement | None:
    """After the last apex tighter than the marker line is anywhere in its exit.

    Riding along the limit is no fault: whether there is a habit is decided by the laps that are called tightened, clearly
    tighter and further over. Where there is one, every lap that is surely below the limit shows it.
    """
    ratio = e.laps.exit_radius_ratio
    return judge(
        Code.EXIT_TIGHTENED,
        e,
        np.nan_to_num(e.laps.p_tightened),
        1.0 - ratio,
        clear=e.laps.exit_called if clear is None else clear,
        severe=ratio < VERY_TIGHT_EXIT if severe is None else severe,
        added_deg=e.laps.exit_lean_added_deg,
        place=Place.of_tightest_exit(e),
    )


def _inside_seam(e: Evidence) -> Judgement | None:
    """Inside a seam over the exit where the marker line is outside of it: the innermost such seam."""
    last = e.last_marker(MarkerKind.EXIT)
    if last is None:
        return None
    passed = e.cones[last.name].wide_of_line_m
    wide, sd = passed.value, spread_of(passed)
    for seam in e.standard.seams_to_mind:
        inside = e.seams[seam.name].p_inside
        found = judge(
            Code.INSIDE_SEAM,
            e,
            np.minimum(np.nan_to_num(inside), p_above(-wide, sd, OFF_LINE_M)),
            -wide,
            severe=-wide > FAR_OFF_LINE_M,
            added_deg=e.laps.exit_lean_added_deg,
            place=Place.of_seam(seam, e.corner),
        )
        if found is not None:
            return found
    return None


def _turn_in(e: Evidence) -> Iterator[Judgement | None]:
    """Ahead of the marker line at turn-in, or behind it."""
    early, sd = e.laps.turn_in_early_m.value, spread_of(e.laps.turn_in_early_m)
    cone = e.last_marker(MarkerKind.TURN_IN)
    place = Place(e.corner.turn_in_m, cone.name if cone else "")
    for code, way in ((Code.TURN_IN_EARLY, 1.0), (Code.TURN_IN_LATE, -1.0)):
        yield judge(
            code,
            e,
            p_above(way * early, sd, TURN_IN_M),
            way * early,
            severe=way * early > FAR_TURN_IN_M,
            added_deg=e.laps.exit_lean_added_deg,
            place=place,
        )


def _lean_added(e: Evidence) -> Judgement | None:
    """Clearly more lean in the corner than the marker line asks for at the same speed."""
    added, sd = e.laps.lean_added_deg, spread_of(e.laps.lean_max_deg)
    place = Place.of_largest_lean(e)
    off_camber = place.camber_deg(e.corner) <= OFF_CAMBER_DEG
    return judge(
        Code.LEAN_OFF_CAMBER if off_camber else Code.LEAN_ADDED,
        e,
        p_above(added, sd, LEAN_ADDED_DEG),
        added,
        severe=added > FAR_LEAN_ADDED_DEG,
        added_deg=added,
        place=place,
    )
