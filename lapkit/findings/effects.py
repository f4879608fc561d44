"""What a fault did to lane, radius and lean, and what the marker line would have asked for, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lapkit.compare.results import RunResult
from lapkit.compare.stats import MeanInterval
from lapkit.compare.what_if import WhatIf, what_if
from lapkit.course.types import MarkerKind
from lapkit.findings import numbers, sentences
from lapkit.findings.codes import Code
from lapkit.findings.cones import wrong_lane
from lapkit.findings.figures import figures, lanes
from lapkit.findings.judgement import Judgement
from lapkit.findings.meaning import Part
from lapkit.findings.rules import LEAN_ADDED_DEG, OFF_CAMBER_DEG
from lapkit.findings.sentences import Detail
from lapkit.units import Units

NOVICES = ("novice", "beginner", "newcomer")
"""Riders of a group with one of these words in its name never read of seconds to be gained."""

LEAST_LEAN_DEG = 1.0
"""A smaller difference of lean is not known of a lap, degrees."""

_LEAST_SHARE = 0.1  # a smaller difference of radius is not worth a sentence
# Share of his slowest speed: with a larger gain nobody knows what he would have done.
_MOST_GAIN = 0.2


def on_the_line(judgement: Judgement, runs: Sequence[RunResult]) -> WhatIf | None:
    """What the marker line would have asked for and carried in the laps that show a habit.

    None for a lapse, for a code that this is not worked out for, and where :func:`~lapkit.compare.what_if.what_if` cannot
    tell. ``runs`` are the rider's.
    """
    evidence = judgement.evidence
    if not judgement.code.means.what_if or not judgement.habit:
        return None
    traces = {
        (trace.session, trace.lap): trace
        for run in runs
        for trace in run.traces
        if trace.corner == evidence.corner.name
    }
    laps = np.flatnonzero(judgement.shown_by)
    of_laps = [
        traces.get((evidence.session(lap), int(evidence.number[lap]))) for lap in laps.tolist()
    ]
    return what_if(evidence.laps.of(laps), of_laps, evidence.standard)


def what_it_did(
    judgement: Judgement, units: Units, on_line: WhatIf | None = None, *, radius: bool = True
) -> list[str]:
    """Sentences about what it did: the lane, the radius, the lean, and what the camber adds to that.

    Args:
        judgement: what was done.
        units: units that are read.
        on_line: what the marker line would have asked for, where that was worked out.
        radius: whether to tell the radius; not where another finding beside this one does.
    """
    details = _other_lane(judgement)
    if judgement.code is Code.EXIT_TIGHTENED:
        # Its own text tells the radius.
        details += _pulled_in_after_apex(judgement, units)
    elif radius and judgement.code.means.what_if:
        details += _exit_radius(judgement, units)
    details += _lean(judgement, on_line)
    added = judgement.typical(judgement.added_deg)
    if judgement.camber_deg <= OFF_CAMBER_DEG and added >= LEAST_LEAN_DEG:
        details.append(Detail.OFF_CAMBER.format(camber=numbers.degrees(judgement.camber_deg)))
    return details


def line_asks_more(judgement: Judgement) -> list[str]:
    """That before the exit the marker line would have asked for clearly more lean at his own speeds; empty where it would not.

    Said of a habit of the turn-in or an apex: who turns in later, or passes closer to a cone, and keeps his speed leans
    further. Where the line asks for most in the exit, an exit pulled in is not excused by it.
    """
    laps, part = judgement.evidence.laps, judgement.code.means.part
    more = -judgement.typical(laps.lean_added_deg)
    before_exit = judgement.typical(laps.lean_on_line_deg - laps.exit_lean_on_line_deg)
    habit_before_exit = (
        judgement.habit and judgement.drift is None and part in (Part.TURN_IN, Part.APEX)
    )
    if not (habit_before_exit and more >= LEAN_ADDED_DEG and before_exit >= LEAST_LEAN_DEG):
        return []
    turn = judgement.evidence.corner.turn.value
    return [Detail.LINE_ASKS_MORE.format(lean=numbers.degrees(more), turn=turn)]


def would_have(judgement: Judgement, on_line: WhatIf, group: str, units: Units) -> str:
    """The lean that the marker line would have saved and the speed that it would have carried, in a sentence.

    Empty where either is in doubt, where the gain is so large that nobody knows what he would have done, where no lean would
    have been saved (no coach speaks of speed alone), and for novices.

    Args:
        judgement: a habit.
        on_line: what the marker line would have asked for and carried.
        group: the rider's group, whose name says whether he is a novice.
        units: units that are read.
    """
    gain, seconds = on_line.slowest_gain_mps, on_line.seconds
    saved, where = _lean_saved(judgement, on_line)
    slowest_mps = judgement.typical(judgement.evidence.laps.slowest_mps)
    clear = gain.lo > 0.0 and seconds.lo > 0.0 and gain.hi <= _MOST_GAIN * slowest_mps
    novice = any(word in group.lower() for word in NOVICES)
    if not clear or saved.lo < LEAST_LEAN_DEG or novice:
        return ""
    return Detail.WOULD_HAVE.format(
        lean=numbers.between_degrees(saved.lo, saved.hi),
        turn=judgement.evidence.corner.turn.value,
        where=where,
        speed=numbers.between_speeds(gain.lo, gain.hi, units),
        seconds=numbers.between_seconds(seconds.lo, seconds.hi),
    )


def _other_lane(judgement: Judgement) -> list[str]:
    """The lane in which he passes a cone, where it surely is another than the coach set.

    It is told of a cone that he misses as a habit, and of the exit cone where he runs inside the seam: he then knows in
    which lane to be instead. A rider who crosses the seam on the way to that cone is in its lane by then, and is not told.
    """
    evidence, code = judgement.evidence, judgement.code
    if evidence.standard.line is None or not judgement.habit:
        return []
    cone = evidence.marker(judgement.place.name) if code.means.of_cone else None
    if code is Code.INSIDE_SEAM:
        cone = evidence.last_marker(MarkerKind.EXIT)
    lane = wrong_lane(evidence, cone) if cone is not None else None
    if lane is None or not lane.habit:
        return []
    called = sentences.cone_called(lane.place.name)
    return [Detail.LANE.format(cone=called, **lanes(lane))]


def _pulled_in_after_apex(judgement: Judgement, units: Units) -> list[str]:
    """The radius at the last apex, where the exit is tighter than that: he pulled the line in after it."""
    evidence = judgement.evidence
    apex = evidence.last_marker(MarkerKind.APEX)
    if apex is None:
        return []
    at_apex_m = judgement.typical(evidence.cones[apex.name].radius_m)
    exit_m = judgement.typical(evidence.laps.exit_radius_min_m.value)
    if not exit_m < (1.0 - _LEAST_SHARE) * at_apex_m:
        return []
    radius, _ = numbers.radius(at_apex_m, float("nan"), units)
    return [Detail.THAN_AT_APEX.format(radius=radius)]


def _exit_radius(judgement: Judgement, units: Units) -> list[str]:
    """The exit's radius, where it is tighter than the marker line's."""
    ratio = judgement.typical(judgement.evidence.laps.exit_radius_ratio)
    if not ratio < 1.0 - _LEAST_SHARE:
        return []
    return [Detail.RADIUS.format(**figures(judgement, units))]


def _lean(judgement: Judgement, on_line: WhatIf | None) -> list[str]:
    """Lean that the marker line would have saved, where that is known; else lean that it took more at the exit."""
    turn = judgement.evidence.corner.turn.value
    if on_line is not None:
        saved, where = _lean_saved(judgement, on_line)
        if saved.lo >= LEAST_LEAN_DEG:
            lean = numbers.between_degrees(saved.lo, saved.hi)
            return [Detail.LEAN_SAVED.format(lean=lean, turn=turn, where=where)]
    added = judgement.typical(judgement.added_deg)
    if judgement.code.means.in_degrees or not added >= LEAST_LEAN_DEG:
        return []
    template = Detail.LEAN_TOOK if judgement.mended else Detail.LEAN
    return [template.format(lean=numbers.degrees(added), turn=turn)]


def _lean_saved(judgement: Judgement, on_line: WhatIf) -> tuple[MeanInterval, str]:
    """Lean that the marker line would have saved, degrees, and words for where, if that is the exit alone.

    A fault of the exit is compared over the exit alone, because the line may save lean there and ask for it earlier.
    """
    if judgement.code.means.part is Part.EXIT:
        return on_line.exit_lean_saved_deg, " at the exit"
    return on_line.lean_saved_deg, ""
