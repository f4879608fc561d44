"""What a fault did to radius and lean, and what the marker line would have asked for, in sentences."""

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
from lapkit.findings.rules import OFF_CAMBER_DEG
from lapkit.findings.sentences import Detail
from lapkit.units import Units

NOVICES = ("novice", "beginner", "newcomer")
"""Groups with one of these words in their name are never told of seconds to be gained."""

_LEAST_LEAN_DEG = 1.0  # less is not known of a lap
_LEAST_SHARE = 0.1  # a radius less different is not worth a sentence
_MOST_GAIN = 0.2  # of his slowest speed


def on_the_line(judgement: Judgement, runs: Sequence[RunResult]) -> WhatIf | None:
    """What the marker line would have asked for and carried in the laps that show a habit of line; ``runs`` are his."""
    e = judgement.evidence
    if not judgement.code.means.what_if or not judgement.habit:
        return None
    here = (t for run in runs for t in run.traces if t.corner == e.corner.name)
    of_lap = {(trace.session, trace.lap): trace for trace in here}
    told = np.flatnonzero(judgement.shown_by).tolist()
    traces = [of_lap.get((e.session(lap), int(e.number[lap]))) for lap in told]
    return what_if(e.laps.of(np.array(told)), traces, e.standard)


def what_it_did(
    judgement: Judgement, units: Units, on_line: WhatIf | None = None, *, radius: bool = True
) -> list[str]:
    """Sentences about what it did: the lane, the radius, the lean, and what the camber adds to that.

    Args:
        judgement: what was done.
        units: what is read.
        on_line: what the marker line would have asked for, where that was worked out.
        radius: whether the radius is to be told, which stands beside it already where another finding tells it.
    """
    e = judgement.evidence
    told = _other_lane(judgement)
    if judgement.code is Code.EXIT_TIGHTENED:
        told += _than_at_apex(judgement, units)
    tighter = judgement.typical(e.laps.exit_radius_ratio) < 1.0 - _LEAST_SHARE
    radius &= judgement.code.means.what_if and judgement.code is not Code.EXIT_TIGHTENED
    if tighter and radius:
        told.append(Detail.RADIUS.format(**figures(judgement, units)))
    added = judgement.typical(judgement.added_deg)
    saved, where = (None, "") if on_line is None else _saved(judgement, on_line)
    if saved is not None and saved.lo >= _LEAST_LEAN_DEG:
        lean = numbers.between_degrees(saved.lo, saved.hi)
        told.append(Detail.LEAN_SAVED.format(lean=lean, turn=e.corner.turn.value, where=where))
    elif not judgement.code.means.in_degrees and added >= _LEAST_LEAN_DEG:
        template = Detail.LEAN_TOOK if judgement.mended else Detail.LEAN
        told.append(template.format(lean=numbers.degrees(added), turn=e.corner.turn.value))
    if judgement.camber_deg <= OFF_CAMBER_DEG and added >= _LEAST_LEAN_DEG:
        told.append(Detail.OFF_CAMBER.format(camber=numbers.degrees(judgement.camber_deg)))
    return told


def would_have(judgement: Judgement, on_line: WhatIf, group: str, units: Units) -> str:
    """The lean that the marker line would have saved and the speed that it would have carried, in a sentence.

    Empty where that is in doubt, for novices (by the name of their ``group``), where it is so far from what he rode that
    nobody knows what he would have done, and where no lean would have been saved: no coach speaks of speed alone.
    """
    gain, seconds = on_line.slowest_gain_mps, on_line.seconds
    saved, where = _saved(judgement, on_line)
    slowest = judgement.typical(judgement.evidence.laps.slowest_mps)
    clear = gain.lo > 0.0 and seconds.lo > 0.0 and gain.hi <= _MOST_GAIN * slowest
    novice = any(word in group.lower() for word in NOVICES)
    if not clear or saved.lo < _LEAST_LEAN_DEG or novice:
        return ""
    return Detail.WOULD_HAVE.format(
        lean=numbers.between_degrees(saved.lo, saved.hi),
        turn=judgement.evidence.corner.turn.value,
        where=where,
        speed=numbers.between_speeds(gain.lo, gain.hi, units),
        seconds=numbers.between_seconds(seconds.lo, seconds.hi),
    )


def _other_lane(judgement: Judgement) -> list[str]:
    """The lane that a missed cone comes down to, where it surely is another than the coach set."""
    e = judgement.evidence
    if not judgement.code.means.of_cone or e.standard.line is None:
        return []
    lane = wrong_lane(e, e.marker(judgement.place.name))
    if lane is None or not lane.habit or not judgement.habit:
        return []
    cone = sentences.cone_called(judgement.place.name)
    return [Detail.LANE.format(cone=cone, **lanes(lane))]


def _than_at_apex(judgement: Judgement, units: Units) -> list[str]:
    """An exit that is tighter than the rider himself was at the last apex: he pulled it in after it."""
    e = judgement.evidence
    apex = e.last_marker(MarkerKind.APEX)
    if apex is None:
        return []
    own = judgement.typical(e.cones[apex.name].radius_m)
    leave = judgement.typical(e.laps.exit_radius_min_m.value)
    if not leave < (1.0 - _LEAST_SHARE) * own:
        return []
    radius, _ = numbers.radius(own, float("nan"), units)
    return [Detail.THAN_AT_APEX.format(radius=radius)]


def _saved(judgement: Judgement, on_line: WhatIf) -> tuple[MeanInterval, str]:
    """Lean that the marker line would have saved, degrees, and in words where, if only at the exit.

    The exit alone is named because a line may save lean there that it asks for earlier in the corner.
    """
    if judgement.code.means.part is Part.EXIT:
        return on_line.exit_lean_saved_deg, " at the exit"
    return on_line.lean_saved_deg, ""
