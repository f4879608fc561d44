"""The findings of a page's first screen, each with a picture of its place."""

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
from lapkit.reporter.figures import svg_of
from lapkit.reporter.figures.overhead import TALLEST, FromAbove, drawn_span_m
from lapkit.units import Units

CLOSE_UP_M = 45.0
"""Stations shown before and after the place that a finding is about, metres."""

_LOW = 230.0  # points: pictures of what is only to be minded are less tall


@dataclass(frozen=True)
class FirstFinding:
    """A finding as the first screen shows it.

    Attributes:
        kind: as of :class:`~lapkit.findings.finding.Finding`.
        corner, turn: where; empty when it is about no one corner.
        link: the corner's section; empty without one.
        text, doubt, cue, details: sentences.
        picture: of its place; None where no lap passed there.
    """

    kind: str
    corner: str
    turn: str
    link: str
    text: str
    doubt: str
    cue: str
    details: Sequence[str]
    picture: Picture | None


@dataclass(frozen=True, eq=False)
class FirstScreen:
    """What the findings of a page's first screen are shown with.

    Attributes:
        course: what was ridden.
        traces: the rider's laps through every corner.
        sections: corner → its section on the page, whose table of cones stands under a finding's picture too.
        units: what the rider reads.
    """

    course: Course
    traces: Sequence[CornerTrace]
    sections: Mapping[str, CornerSection]
    units: Units

    def finding(self, finding: Finding, number: int) -> FirstFinding:
        """A finding with a picture of its place; ``number`` counts the findings of the screen from 0."""
        section = self.sections.get(finding.corner)
        corner = next((c for c in self.course.corners if c.name == finding.corner), None)
        return FirstFinding(
            kind=finding.kind.value,
            corner=corner_name(finding.corner),
            turn=str(corner.turn) if corner else "",
            link=section.head.id if section else "",
            text=finding.text,
            doubt=finding.doubt,
            cue=finding.cue,
            details=[detail for detail in finding.details if detail],
            picture=self._picture(corner, finding, number) if corner else None,
        )

    def _picture(self, corner: Corner, finding: Finding, number: int) -> Picture | None:
        """The place of a finding from above, with the corner's table of cones; None where no lap passed there."""
        laps = [trace for trace in self.traces if trace.corner == corner.name]
        if not laps:
            return None
        work = finding.kind is Kind.WORK
        span, place = close_up(corner, finding)
        spoken = (finding.session, finding.lap)
        shown = FromAbove(self.course, corner, laps, spoken, self.units, span, place)
        figure = shown.figure(TALLEST if work else _LOW)
        close = place is not None
        label = f"{corner_name(corner.name)} from above{', close up' if close else ''}"
        caption = first_caption(self.course, finding, laps, close, full=number == 0 or work)
        svg = svg_of(figure, f"f{number + 1}-", label, caption)
        section = self.sections.get(corner.name)
        plans = (
            [picture for picture in section.pictures if picture.kind == "plan"] if section else []
        )
        if not plans:
            return Picture(finding.kind.value, svg, caption, label)
        return replace(plans[0], kind=finding.kind.value, svg=svg, caption=caption, own="")


def first_caption(
    course: Course, finding: Finding, here: Sequence[CornerTrace], close: bool, *, full: bool
) -> str:
    """How to read the picture of a finding, which is said in ``full`` only once; ``close`` where a place is ringed."""
    caption = thick_lap(finding)
    if full:
        seamed = bool(course.corner(finding.corner).seams)
        caption = picture_caption([finding], here, course.marker_line is not None, seamed=seamed)
    return f"{caption} Ring: where to look." if close else caption


def close_up(corner: Corner, finding: Finding) -> tuple[tuple[float, float], float | None]:
    """The first and last station to draw for a finding, and the one to ring, metres.

    A finding about no one place has the whole corner and no ring.
    """
    low, high = drawn_span_m(corner)
    place = finding.station_m
    if finding.code.means.whole or not np.isfinite(place):
        return (low, high), None
    place = float(np.clip(place, low, high))
    return (max(low, place - CLOSE_UP_M), min(high, place + CLOSE_UP_M)), place
