"""The figures that fill the templates of sentences: a judgement's sizes in the reader's units, each with its doubt."""

from __future__ import annotations

import numpy as np

from lapkit.compare.lap_values import GAP
from lapkit.course.types import MarkerKind
from lapkit.findings import numbers, sentences
from lapkit.findings.codes import Code
from lapkit.findings.cones import lane_set
from lapkit.findings.judgement import Judgement
from lapkit.path.summary import Summary
from lapkit.rounding import REACH
from lapkit.units import Units


def figures(judgement: Judgement, units: Units) -> dict[str, str]:
    """Values for the fields of a code's template, all but ``often``.

    Sizes and radii are those of the median lap. Their doubt is half of that lap's 95 % interval: ``doubt`` ends a clause,
    ``aside`` and ``radius_aside`` stand within one, and all are empty where there is no interval. Another lane has the lane
    that was ridden and the one that was set; a drift has its end, and at how many corners it shows.
    """
    evidence, in_degrees = judgement.evidence, judgement.code.means.in_degrees
    size, doubt = _size(judgement, units)
    exit_radius = evidence.laps.exit_radius_min_m
    radius, radius_doubt = numbers.radius(
        judgement.typical(exit_radius.value), _half(judgement, exit_radius), units
    )
    line_radius, _ = numbers.radius(
        judgement.typical(evidence.laps.line_exit_radius_min_m), float("nan"), units
    )
    after_apex_m = judgement.typical(evidence.laps.exit_tightest_after_apex_m)
    fields = {
        "size": size,
        "doubt": numbers.doubt(doubt),
        "aside": numbers.aside(doubt),
        "radius": radius,
        "radius_aside": numbers.aside(radius_doubt),
        "line_radius": line_radius,
        "after_apex": numbers.after_apex(after_apex_m, units),
        "seam": sentences.seam_called(judgement.place.name),
        "cone": sentences.cone_called(judgement.place.name),
    }
    if judgement.code is Code.WRONG_LANE:
        fields |= lanes(judgement)
    if (drift := judgement.drift) is not None:
        fields["end"] = (
            numbers.degrees(drift.end) if in_degrees else numbers.metres(drift.end, units)
        )
        fields["at_corners"] = sentences.at_corners(drift.shown_at, drift.looked_at)
    return fields


def lanes(judgement: Judgement) -> dict[str, str]:
    """The lane that he was in most often among laps in another lane than the coach set, and the lane that was set."""
    evidence = judgement.evidence
    marker = evidence.marker(judgement.place.name)
    ridden = evidence.cones[marker.name].lane[judgement.shown_by].astype(np.int64)
    return {"lane": str(np.bincount(ridden).argmax()), "lane_set": str(lane_set(evidence, marker))}


def _size(judgement: Judgement, units: Units) -> tuple[str, str]:
    """The size in the median lap, and half its interval without a unit; the latter empty where there is none.

    Of a usual line it is the size of that line and half of its interval.
    """
    value, half = judgement.typical(judgement.size), _half(judgement, _measured_by(judgement))
    if judgement.code is Code.RUNS_WIDE:
        half = REACH * judgement.evidence.usual_in_last_run(GAP, judgement.place.name).sd
    if judgement.code in (Code.CONE_WRONG_SIDE, Code.RUNS_WIDE) and half >= abs(value):
        # It was surely on that side: "0.5 m, give or take 0.6" would take that back.
        return f"less than {numbers.metres(abs(value) + half, units)}", ""
    if judgement.code.means.in_degrees:
        return numbers.lean(value, half)
    return numbers.size(value, half, units)


def _half(judgement: Judgement, measured: Summary | None) -> float:
    """Half of the 95 % interval of a measure in the median lap, in its own unit; NaN without one."""
    return float("nan") if measured is None else judgement.typical(measured.half_width)


def _measured_by(judgement: Judgement) -> Summary | None:
    """The measure whose interval is that of a judgement's size; None if there is none.

    A size is a measure less the marker line's own, which is known far better.
    """
    evidence = judgement.evidence
    if judgement.code in (Code.TURN_IN_EARLY, Code.TURN_IN_LATE):
        return evidence.laps.turn_in_early_m
    if judgement.code in (Code.LEAN_ADDED, Code.LEAN_OFF_CAMBER):
        return evidence.laps.lean_max_deg
    if judgement.code.means.of_cone:
        return evidence.cones[judgement.place.name].gap_m
    last = evidence.last_marker(MarkerKind.EXIT)
    if judgement.code is Code.INSIDE_SEAM and last is not None:
        return evidence.cones[last.name].wide_of_line_m
    return None
