"""Captions of the drawings: which lap is which line, and what the other lines and signs are."""

from __future__ import annotations

from collections.abc import Sequence

from lapkit.compare.results import CornerTrace
from lapkit.counting import run_names
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding
from lapkit.reporter.figures.ground import drawn_camber_deg, hazard_places
from lapkit.reporter.figures.overhead import drawn_span_m
from lapkit.reporter.figures.style import is_thick

_WAY_IN = "You come in from below."
_EDGES = "Solid: edges."
_LINE = "Dashes: the marker line."
_SEAMS = "Dots: seams; lanes are counted from the inside."
_FALL = "Arrow across the road: the way it falls."
_HAZARD = "Triangle with a mark: a hazard."


def thick_lap(finding: Finding) -> str:
    """Which lap is drawn thick: the one that a finding is about."""
    return f"Thick line: run {finding.session}, lap {finding.lap}."


def picture_caption(
    findings: Sequence[Finding], laps: Sequence[CornerTrace], lined: bool, *, seamed: bool = False
) -> str:
    """How to read an overhead drawing of laps.

    Args:
        findings: those at this corner, most urgent first; the first one's lap is drawn thick.
        laps: the laps drawn.
        lined: whether the marker line is drawn.
        seamed: whether to explain the seams as well.
    """
    parts = [thick_lap(findings[0])] if findings else []
    thick = (findings[0].session, findings[0].lap) if findings else None
    grey = [lap.session for lap in laps if not is_thick(lap, thick)]
    runs = dict.fromkeys(lap.session for lap in laps)
    dashed = [run for run in list(runs)[:-1] if run in grey]
    lap, those = ("lap", "that") if len(grey) == 1 else ("laps", "those")
    earlier = f", {those} of {run_names(dashed)} in dashes" if dashed else ""
    if grey:
        parts.append(f"Grey: your {'other ' if findings else ''}{lap}{earlier}.")
    if lined:
        parts.append("Black dashes: the marker line.")
    if seamed:
        parts.append("Dots: seams; lanes are numbered from the inside.")
    return " ".join(parts)


def bare_caption(course: Course, corner: Corner) -> str:
    """How to read a corner's drawing without laps: the lines and signs that it has."""
    parts = [
        _WAY_IN,
        _EDGES if course.edges is not None else "",
        _LINE,
        _SEAMS if corner.seams else "",
        _FALL if drawn_camber_deg(course, corner) else "",
        _HAZARD if hazard_places(course, corner, drawn_span_m(corner)) else "",
    ]
    return " ".join(filter(None, parts))
