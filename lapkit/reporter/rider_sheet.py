"""A rider's sheet, to pin up or to hand out: what the first screen of his page says, on one page of paper."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from matplotlib.figure import Figure

from lapkit.counting import corner_name
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding, Kind, RiderReview
from lapkit.findings.untold import untold
from lapkit.measuring.reviews import EventReview
from lapkit.reporter import display
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import LINE_EM, MOST_LINES, Canvas
from lapkit.reporter.figures.ground import BELOW
from lapkit.reporter.figures.overhead import FromAbove
from lapkit.reporter.first_screen import close_up, first_caption
from lapkit.reporter.rider_page import nothing_to_work_on, page_facts
from lapkit.reporter.sheet import FOOT, MARGIN, PAPERS, cautions, facts_row, rule, write_sheets
from lapkit.units import Units

_TAGS = {Kind.WORK: "Work on this first", Kind.MIND: "Keep in mind", Kind.WELL: "Done well"}
_NAME_LINES = 2  # a longer name would leave no room for what is said
_LEAST_TALL = 110.0  # points: a lower picture shows nothing
_TALL = 115.0  # points on the paper: a picture that is left as tall gives way to lines to write on
_CAPTION_LINE = 13.0  # points
_LARGEST = 1.2
"""A picture is enlarged by no more than this factor: its words would be larger than a heading's."""

_NOTE_APART = 24.0  # points from line to line, for a hand with a pen
_NOTES_HEAD = 20.0  # points: the word over the lines and some air below them
_FEWEST_NOTES, _MOST_NOTES = 2, 4

_ROOMY = 300.0  # a column as wide takes large type and details
_COLUMNS_APART = 16.0  # points


def rider_pdf(
    event: EventReview, rider: RiderReview, path: Path, *, units: Units = Units.METRIC
) -> None:
    """Write one rider's sheet: what the first screen of his page says.

    Args:
        event: course and title.
        rider: whose sheet.
        path: the file to write.
        units: those of the reader; metric units are printed on A4, US units on Letter.
    """
    write_sheets([rider_sheet(event, rider, units=units)], path)


def rider_sheet(event: EventReview, rider: RiderReview, *, units: Units = Units.METRIC) -> Figure:
    """The sheet of one rider as a figure."""
    paper = Canvas(*PAPERS[units])
    inner = paper.width - 2.0 * MARGIN
    sheet = _RiderSheet(paper, event.course, rider, units)
    top = paper.height - MARGIN
    y = paper.paragraph(MARGIN, top, rider.rider, inner, size=26, bold=True, most_lines=_NAME_LINES)
    # The page has a map of corners found from logs, the sheet has no room for one.
    numbered = ["corners numbered from the start line"] if event.course.found else []
    y = facts_row(paper, y, [*page_facts(event, rider, units), *numbered], inner, size=10)
    y = rule(paper, y, 5.0)
    works = [f for f in rider.findings if f.kind is Kind.WORK][:1]
    others = [f for kind in (Kind.MIND, Kind.WELL) for f in rider.findings if f.kind is kind][:3]
    for finding in works:
        y = sheet.finding(finding, _Place(MARGIN, y, inner), side=True, first=True) - 14.0
    if not works:
        tag, heading, said = nothing_to_work_on(untold(rider.runs, event.course), rider, units)
        y = paper.paragraph(MARGIN, y, f"{tag}: {heading.lower()}", inner, size=16, bold=True)
        y = paper.paragraph(MARGIN, y, said, inner, size=14) - 14.0
    y = rule(paper, y, 1.5)
    beside = max(len(others), 1)
    column = (inner - _COLUMNS_APART * (beside - 1)) / beside
    below = [y]
    for i, finding in enumerate(others):
        place = _Place(MARGIN + i * (column + _COLUMNS_APART), y, column)
        first = not works and i == 0
        side = len(others) == 1 and bool(works)
        below.append(sheet.finding(finding, place, side=side, first=first))
    _lines_to_write_on(paper, min(below), inner)
    cautions(paper, inner)
    return paper.figure


def _lines_to_write_on(paper: Canvas, top: float, inner: float) -> None:
    """Lines to write on, above the cautions, for what is agreed in the talk; none where too few have room below ``top``."""
    count = min(int((top - FOOT - _NOTES_HEAD) / _NOTE_APART), _MOST_NOTES)
    if count < _FEWEST_NOTES:
        return
    head = FOOT + count * _NOTE_APART + _NOTES_HEAD
    paper.paragraph(MARGIN, head, "Notes", inner, size=11, bold=True)
    ends = np.array([MARGIN, paper.width - MARGIN])
    heights = FOOT + 12.0 + _NOTE_APART * np.arange(count)
    lines = [np.stack([ends, np.full(2, y)], axis=-1) for y in heights]
    paper.lines(lines, color=style.GREY, width=0.6, name="notes")


def _lines_to_foot(top: float, size: float) -> int:
    """How many lines of running text have room between ``top`` and the cautions, points; no more than a paragraph has."""
    return min(max(int((top - FOOT) / (LINE_EM * size)), 0), MOST_LINES)


class _Place(NamedTuple):
    """A place on the paper by its upper left corner and its width, points."""

    left: float
    top: float
    width: float


@dataclass(frozen=True, eq=False)
class _RiderSheet:
    """A rider's sheet as it is filled from the top; what is put on it returns the height where the next may begin."""

    paper: Canvas
    course: Course
    rider: RiderReview
    units: Units

    def finding(self, finding: Finding, place: _Place, *, side: bool, first: bool) -> float:
        """A finding and its picture, at its ``side`` or below; under the ``first`` stands how to read a picture."""
        paper, (x, top, width) = self.paper, place
        wide = 0.52 * width if side else width
        large = side or width > _ROOMY
        size = 13.0 if large else 11.0
        y = paper.paragraph(x, top, _TAGS[finding.kind], wide, size=size, bold=True)
        corner = next((c for c in self.course.corners if c.name == finding.corner), None)
        if corner is not None:
            name = f"{corner_name(corner.name)}, {corner.turn}"
            y = paper.paragraph(x, y, name, wide, size=size + 4.0, bold=True) - 4.0
        y = paper.paragraph(x, y, display.unbroken(finding.text), wide, size=size + 1.0) - 4.0
        details = [finding.doubt] * bool(finding.doubt) + [*finding.details]
        for detail in map(display.unbroken, details if large else ()):
            room = _lines_to_foot(y, size - 2.0)
            if room:
                y = paper.paragraph(x, y, detail, wide, size=size - 2.0, most_lines=room) - 2.0
        room = _lines_to_foot(y - 4.0, size)
        if finding.cue and room:
            cue = f"“{finding.cue}”"
            y = paper.paragraph(x, y - 4.0, cue, wide, size=size, italic=True, most_lines=room)
        if corner is None:
            return y
        if side:
            left = x + wide + _COLUMNS_APART
            beside = _Place(left, top, width - wide - _COLUMNS_APART)
        else:
            beside = _Place(x, y - 8.0, min(width, _LARGEST * style.WIDTH))
        below = self._picture(finding, corner, beside, full=first)
        return y if below is None else min(y, below)

    def _picture(
        self, finding: Finding, corner: Corner, place: _Place, *, full: bool
    ) -> float | None:
        """A finding's picture with its caption; None where it had no room."""
        left, top, room = place
        scale = room / style.WIDTH
        caption_height = _CAPTION_LINE * (4 if full else 1)
        room_below = (top - FOOT - caption_height) / scale - BELOW - 20.0
        notes = _NOTES_HEAD + _FEWEST_NOTES * _NOTE_APART + 2.0 * _CAPTION_LINE
        over_notes = room_below - notes / scale
        tallest = min(300.0, over_notes if scale * over_notes >= _TALL else room_below)
        if tallest < _LEAST_TALL:
            return None

        def part(w: float, h: float) -> Canvas:
            return self.paper.part(left, top - scale * h, w, h, scale)

        traces = [t for run in self.rider.runs for t in run.traces if t.corner == corner.name]
        span, here = close_up(corner, finding)
        thick = (finding.session, finding.lap)
        shown = FromAbove(self.course, corner, traces, thick, self.units, span, here)
        drawn = shown.on(part, style.WIDTH, tallest)
        caption = first_caption(self.course, finding, traces, here is not None, full=full)
        return self.paper.paragraph(left, top - scale * drawn.height, caption, room, size=9.0)
