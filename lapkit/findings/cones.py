"""What is looked for at a cone: passed too far off, on the wrong side, or in another lane than was set."""

from __future__ import annotations

import numpy as np

from lapkit.compare.stats import spread_of
from lapkit.course.course import CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.evidence import Evidence, p_above
from lapkit.findings.judgement import HOLDS_AT, Judgement, judge
from lapkit.findings.place import Place

OFF_LINE_M = 0.5
"""Wide of a cone or of the line by more than this is worth saying when it is a habit."""

FAR_OFF_LINE_M = 2.5
"""The same for once."""


def cone_missed(e: Evidence, marker: CourseMarker) -> Judgement | None:
    """Further from a cone than the marker line passes it."""
    codes = {
        MarkerKind.TURN_IN: Code.TURN_IN_CONE_MISSED,
        MarkerKind.APEX: Code.APEX_MISSED,
        MarkerKind.EXIT: Code.EXIT_CONE_MISSED,
    }
    if marker.kind not in codes:
        return None
    laps = e.cones[marker.name]
    gap, sd, asked = laps.gap_m.value, spread_of(laps.gap_m), laps.line_gap_m
    return judge(
        codes[marker.kind],
        e,
        p_above(gap - asked, sd, OFF_LINE_M),
        gap - asked,
        severe=gap - asked > FAR_OFF_LINE_M,
        place=Place.of_cone(marker),
    )


def wrong_side(e: Evidence, marker: CourseMarker) -> Judgement | None:
    """Past a cone on the wrong side, and clearly nearer than the marker line goes."""
    if marker.kind is MarkerKind.SIGHT:
        return None
    laps = e.cones[marker.name]
    gap, sd, asked = laps.gap_m.value, spread_of(laps.gap_m), laps.line_gap_m
    beyond = np.fmax(2.0 * OFF_LINE_M - asked, 0.0)
    return judge(
        Code.CONE_WRONG_SIDE,
        e,
        p_above(-gap, sd, beyond),
        -gap,
        severe=-gap > beyond + FAR_OFF_LINE_M,
        place=Place.of_cone(marker),
    )


def lane_set(e: Evidence, marker: CourseMarker) -> int | None:
    """The lane that the coach wants at a cone, counted 1, 2, 3 from the inside; None where he set none.

    At the last exit cone it is the one that he named for the corner; elsewhere, and where he named
    none, the one that his marker line runs in. Where his word and his line do not agree none is set.
    """
    held = e.standard.at(marker)
    line, seams = held.line_offset_m, held.seam_offset_m
    if not len(seams) or not np.isfinite(line):
        return None
    of_line = 1 + int(np.count_nonzero(e.corner.turn.sign * (line - seams) <= 0.0))
    named = e.corner.target_lane if marker is e.last_marker(MarkerKind.EXIT) else None
    return of_line if named in (None, of_line) else None


def wrong_lane(e: Evidence, marker: CourseMarker) -> Judgement | None:
    """In another lane at a cone than the coach set, and clearly off the line.

    Where the line runs along a seam, a hand's breadth makes another lane and no fault. A lap counts
    only where its lane is sure: that it is too close to call is all there is to say of others.
    """
    lane = lane_set(e, marker)
    if lane is None or marker.kind is MarkerKind.SIGHT:
        return None
    laps = e.cones[marker.name]
    wide, sd = laps.wide_of_line_m.value, spread_of(laps.wide_of_line_m)
    away = np.where(laps.lane > lane, wide, -wide)
    other = np.isfinite(laps.lane) & (laps.lane != lane) & (laps.p_lane >= HOLDS_AT)
    return judge(
        Code.WRONG_LANE,
        e,
        np.where(other, np.minimum(np.nan_to_num(laps.p_lane), p_above(away, sd, OFF_LINE_M)), 0.0),
        np.abs(wide),
        severe=away > FAR_OFF_LINE_M,
        place=Place.of_cone(marker),
    )
