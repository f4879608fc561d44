"""A judgement's figures in the reader's units, each with its doubt: what the templates of sentences are filled with."""

from __future__ import annotations

import numpy as np

from lapkit.course.types import MarkerKind
from lapkit.findings import numbers, sentences
from lapkit.findings.codes import Code
from lapkit.findings.cones import lane_set
from lapkit.findings.judgement import Judgement
from lapkit.path.summary import Summary
from lapkit.units import Units


def figures(judgement: Judgement, units: Units) -> dict[str, str]:
    """What a template of :mod:`lapkit.findings.sentences` may ask for, but how often.

    Sizes and radii are those of the middling lap, and their doubt half of its own 95 % interval: ``doubt`` ends a clause,
    ``aside`` and ``radius_aside`` stand within one, and all are empty where there is no interval. A drift has where
    it ends and at how many corners it shows too, another lane which one it was and which was set.
    """
    e, lean = judgement.evidence, judgement.code.means.in_degrees
    value, half = judgement.typical(judgement.size), _half(judgement, _sized_by(judgement))
    size, doubt = numbers.lean(value, half) if lean else numbers.size(value, half, units)
    if judgement.code is Code.CONE_WRONG_SIDE and half >= abs(value):
        # It was surely on that side in most laps: "0.5 m, give or take 0.6" would take that back.
        size, doubt = f"less than {numbers.metres(abs(value) + half, units)}", ""
    exit_radius = e.laps.exit_radius_min_m
    radius, radius_doubt = numbers.radius(
        judgement.typical(exit_radius.value), _half(judgement, exit_radius), units
    )
    line_radius, _ = numbers.radius(
        judgement.typical(e.laps.line_exit_radius_min_m), float("nan"), units
    )
    after_m = judgement.typical(e.laps.exit_tightest_after_apex_m)
    facts = {
        "size": size,
        "doubt": numbers.doubt(doubt),
        "aside": numbers.aside(doubt),
        "radius": radius,
        "radius_aside": numbers.aside(radius_doubt),
        "line_radius": line_radius,
        "after_apex": numbers.after_apex(after_m, units),
        "seam": sentences.seam_called(judgement.place.name),
        "cone": sentences.cone_called(judgement.place.name),
    }
    if judgement.code is Code.WRONG_LANE:
        facts |= lanes(judgement)
    if (drift := judgement.drift) is not None:
        facts["end"] = numbers.degrees(drift.end) if lean else numbers.metres(drift.end, units)
        facts["at_corners"] = sentences.at_corners(drift.shown_at, drift.looked_at)
    return facts


def lanes(judgement: Judgement) -> dict[str, str]:
    """The lane that a rider was mostly in where he was in another than the coach set, and that one."""
    e = judgement.evidence
    marker = e.marker(judgement.place.name)
    ridden = e.cones[marker.name].lane[judgement.shown_by].astype(np.int64)
    return {"lane": str(np.bincount(ridden).argmax()), "lane_set": str(lane_set(e, marker))}


def _half(judgement: Judgement, measured: Summary | None) -> float:
    """Half the interval of a measure in the middling lap, in its own unit; NaN without one."""
    return float("nan") if measured is None else judgement.typical(measured.half_width)


def _sized_by(judgement: Judgement) -> Summary | None:
    """The measure that its size comes from: what the marker line has is known far better. None without."""
    e = judgement.evidence
    if judgement.code in (Code.TURN_IN_EARLY, Code.TURN_IN_LATE):
        return e.laps.turn_in_early_m
    if judgement.code in (Code.LEAN_ADDED, Code.LEAN_OFF_CAMBER):
        return e.laps.lean_max_deg
    if judgement.code.means.of_cone:
        return e.cones[judgement.place.name].gap_m
    last = e.last_marker(MarkerKind.EXIT)
    if judgement.code is Code.INSIDE_SEAM and last is not None:
        return e.cones[last.name].wide_of_line_m
    return None
