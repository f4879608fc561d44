"""What is looked for at a cone that is ridden past: too far away, on the wrong side, in another lane than the coach set."""

from __future__ import annotations

import numpy as np

from lapkit.compare.lap_values import GAP
from lapkit.compare.stats import spread_of
from lapkit.course.course import CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.evidence import FEWEST_LAPS, Evidence, p_above
from lapkit.findings.judgement import Judgement, Observed, judge, of_all_laps
from lapkit.findings.place import Place
from lapkit.path.summary import CALL_AT

OFF_LINE_M = 0.5
"""A habit of passing a cone or the marker line further than this from where one should is reported, metres."""

FAR_OFF_LINE_M = 2.5
"""The same for a single lap."""


_MISSED = {
    MarkerKind.TURN_IN: Code.TURN_IN_CONE_MISSED,
    MarkerKind.APEX: Code.APEX_MISSED,
    MarkerKind.EXIT: Code.EXIT_CONE_MISSED,
}


def cone_missed(evidence: Evidence, marker: CourseMarker) -> Judgement | None:
    """Further from a cone than the marker line passes it."""
    laps = evidence.cones[marker.name]
    further = laps.gap_m.value - laps.line_gap_m
    observed = Observed(
        p=p_above(further, spread_of(laps.gap_m), OFF_LINE_M),
        size=further,
        severe=further > FAR_OFF_LINE_M,
    )
    return judge(_MISSED[marker.kind], evidence, Place.of_cone(marker), observed)


def past_cone(evidence: Evidence, marker: CourseMarker) -> list[Judgement]:
    """Past a cone on the wrong side: as a habit of its laps, else with its usual line.

    What single laps do is told beside the usual line; what was mended is not, as long as that line is still out there.
    """
    by_laps = wrong_side(evidence, marker)
    if by_laps is not None and by_laps.habit:
        return [by_laps]
    usually = runs_wide(evidence, marker)
    if usually is not None and by_laps is not None and by_laps.mended:
        return [usually]
    return [judgement for judgement in (by_laps, usually) if judgement is not None]


def wrong_side(evidence: Evidence, marker: CourseMarker) -> Judgement | None:
    """Past a cone on the wrong side, and clearly off the marker line in that direction."""
    laps = evidence.cones[marker.name]
    beyond_cone = -laps.gap_m.value
    # A line that passes close to the cone leaves no room for ordinary scatter: he has to be a metre off it as well.
    tolerance = np.fmax(2.0 * OFF_LINE_M - laps.line_gap_m, 0.0)
    observed = Observed(
        p=p_above(beyond_cone, spread_of(laps.gap_m), tolerance),
        size=beyond_cone,
        severe=beyond_cone > tolerance + FAR_OFF_LINE_M,
    )
    return judge(Code.CONE_WRONG_SIDE, evidence, Place.of_cone(marker), observed)


def runs_wide(evidence: Evidence, marker: CourseMarker) -> Judgement | None:
    """The usual line of the last run passes outside of an exit cone at the outer edge, and clearly off the marker line.

    Laps scatter, and all of them share the error of the position offset: where no lap by itself is sure, their mean may be.
    What leaves less road than was set is told as soon as that is known.
    """
    at_outer_edge = marker.kind is MarkerKind.EXIT and marker.side is not evidence.corner.turn
    if not at_outer_edge or np.count_nonzero(evidence.last_run) < FEWEST_LAPS:
        return None
    usual = evidence.usual_in_last_run(GAP, marker.name)
    tolerance = np.fmax(OFF_LINE_M - evidence.standard.at(marker).line_gap_m, 0.0)
    p = float(p_above(-usual.mean, usual.sd, tolerance))
    if p < CALL_AT:
        return None
    return of_all_laps(Code.RUNS_WIDE, evidence, Place.of_cone(marker), -usual.mean, p)


def lane_set(evidence: Evidence, marker: CourseMarker) -> int | None:
    """The lane that the coach wants at a cone, counted 1, 2, 3 from the inside; None where he set none.

    It is the lane that his marker line runs in. At the last exit cone he may have named a lane for the corner: where that
    is another one, his word and his line do not agree, and no lane is set.
    """
    held = evidence.standard.at(marker)
    line, seams = held.line_offset_m, held.seam_offset_m
    if not len(seams) or not np.isfinite(line):
        return None
    of_line = 1 + int(np.count_nonzero(evidence.corner.turn.sign * (line - seams) <= 0.0))
    named = evidence.corner.target_lane if marker is evidence.last_marker(MarkerKind.EXIT) else None
    return of_line if named in (None, of_line) else None


def wrong_lane(evidence: Evidence, marker: CourseMarker) -> Judgement | None:
    """In another lane at a cone than the coach set, and clearly off the marker line.

    Where the line runs along a seam, a hand's breadth makes another lane but no fault, so the lap has to be off the line
    too. A lap whose own lane is not sure is too close to call and does not count.
    """
    lane = lane_set(evidence, marker)
    if lane is None:
        return None
    laps = evidence.cones[marker.name]
    wide, sd = laps.wide_of_line_m.value, spread_of(laps.wide_of_line_m)
    # Lanes are counted outward: a lap in a higher lane than wanted has to be wide of the line, one in a lower lane inside it.
    off_line = np.where(laps.lane > lane, wide, -wide)
    other_lane = np.isfinite(laps.lane) & (laps.lane != lane) & (laps.p_lane >= CALL_AT)
    p = np.minimum(np.nan_to_num(laps.p_lane), p_above(off_line, sd, OFF_LINE_M))
    observed = Observed(
        p=np.where(other_lane, p, 0.0), size=np.abs(wide), severe=off_line > FAR_OFF_LINE_M
    )
    return judge(Code.WRONG_LANE, evidence, Place.of_cone(marker), observed)
