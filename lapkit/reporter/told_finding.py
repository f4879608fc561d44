"""A finding of a page's first screen, with a picture of its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from lapkit.compare.results import CornerTrace
from lapkit.counting import corner_name
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding, Kind
from lapkit.reporter.captions import picture_caption, thick_lap
from lapkit.reporter.corner_section import CornerSection, Picture
from lapkit.reporter.figures import overhead, svg_of
from lapkit.reporter.figures.overhead import MARGIN_M, TALLEST
from lapkit.units import Units

CLOSE_UP_M = 45.0
"""Stations shown before and after the place that a finding is about, metres."""

_LOW = 230.0  # points: pictures of what is only to be minded are less tall


@dataclass(frozen=True)
class ToldFinding:
    """A finding of the first screen.

    Attributes:
        kind: as of :class:`~lapkit.findings.finding.Finding`.
        corner, turn: where; empty when it is about no one corner.
        link: the corner's section; empty without one.
        text, cue, details: sentences.
        picture: of its place; None where no lap passed there.
    """

    kind: str
    corner: str
    turn: str
    link: str
    text: str
    cue: str
    details: Sequence[str]
    picture: Picture | None


def told_finding(
    course: Course,
    finding: Finding,
    number: int,
    traces: Sequence[CornerTrace],
    sections: Mapping[str, CornerSection],
    units: Units,
) -> ToldFinding:
    """A finding of the first screen, with a picture of its place.

    Args:
        course: where.
        finding: what to tell.
        number: of the finding on the page, from 0.
        traces: the rider's laps through every corner.
        sections: corner → its section, whose table of cones stands under the picture too.
        units: what is read.
    """
    section = sections.get(finding.corner)
    corner = next((c for c in course.corners if c.name == finding.corner), None)
    here = [t for t in traces if t.corner == finding.corner]
    picture = None
    if corner is not None and here:
        picture = _picture(course, corner, finding, number, here, units)
        pictures = section.pictures if section else ()
        table = next((p for p in pictures if p.kind == "plan"), picture)
        picture = replace(
            picture, label=table.label, head=table.head, rows=table.rows, main=table.main
        )
    return ToldFinding(
        kind=finding.kind.value,
        corner=corner_name(finding.corner),
        turn=str(corner.turn) if corner else "",
        link=section.head.id if section else "",
        text=finding.text,
        cue=finding.cue,
        details=[d for d in finding.details if d],
        picture=picture,
    )


def _picture(
    course: Course,
    corner: Corner,
    finding: Finding,
    number: int,
    here: Sequence[CornerTrace],
    units: Units,
) -> Picture:
    span, place = close_up(corner, finding)
    close = place is not None
    figure = overhead(
        course, corner, here, (finding.session, finding.lap), units, span_m=span, here_m=place,
        tallest=TALLEST if finding.kind is Kind.WORK else _LOW,
    )  # fmt: skip
    name = corner_name(corner.name)
    label = f"{name} from above{', close up' if close else ''}"
    full = number == 0 or finding.kind is Kind.WORK
    caption = first_caption(course, finding, here, close, full=full)
    return Picture(
        finding.kind.value, svg_of(figure, f"f{number + 1}-", label, caption), caption, label
    )


def first_caption(
    course: Course, finding: Finding, here: Sequence[CornerTrace], close: bool, *, full: bool
) -> str:
    """How to read the picture of a finding: in ``full`` for the first of a page."""
    caption = thick_lap(finding)
    if full:
        seamed = bool(course.corner(finding.corner).seams)
        caption = picture_caption([finding], here, course.marker_line is not None, seamed=seamed)
    return f"{caption} Ring: where to look." if close else caption


def close_up(corner: Corner, finding: Finding) -> tuple[tuple[float, float], float | None]:
    """Stations to draw for a finding, and the one to ring: a close-up, or the whole corner without a ring."""
    low, high = corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M
    place = finding.station_m
    if finding.code.means.whole or not np.isfinite(place):
        return (low, high), None
    place = float(np.clip(place, low, high))
    return (max(low, place - CLOSE_UP_M), min(high, place + CLOSE_UP_M)), place
