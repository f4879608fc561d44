"""Sheets to pin up or to hand out: one page a rider, one page a corner, black and white."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from lapkit.counting import corner_name
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding, Kind, RiderReview
from lapkit.reporter import display
from lapkit.reporter.course_sheets import asked_lean, asked_speed, how_drawn
from lapkit.reporter.course_words import corner_facts, line_name
from lapkit.reporter.display import Measured
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import Canvas
from lapkit.reporter.figures.ground import BELOW
from lapkit.reporter.figures.overhead import FromAbove
from lapkit.reporter.rider_page import nothing_to_work_on, page_facts
from lapkit.reporter.sheet import FOOT, MARGIN, PAPERS, cautions, facts_row, rule, write_sheets
from lapkit.reporter.told_finding import close_up, first_caption
from lapkit.reviews import EventReview
from lapkit.units import Units

_TAGS = {Kind.WORK: "Work on this first", Kind.MIND: "Keep in mind", Kind.WELL: "Done well"}
_MARKER_LINE = "marker"
_LEAST_TALL = 110.0  # points: a lower picture shows nothing
_CAPTION_LINE = 13.0  # points
_LARGEST = 1.2
"""A picture is no larger than so many times its own size: its words would be larger than a heading's."""

_ROOMY = 300.0  # a column as wide takes large type and details
_COLUMNS_APART = 16.0  # points
_GROUPS_APART = 12.0  # points, of a table's columns


def rider_pdf(
    event: EventReview, rider: RiderReview, path: Path, *, units: Units = Units.METRIC
) -> None:
    """Write one rider's sheet: what the first screen of his page says.

    Args:
        event: course and title.
        rider: whose sheet.
        path: the file to write.
        units: what is read; metric ones on A4, those of the US on Letter.
    """
    write_sheets([rider_sheet(event, rider, units=units)], path)


def corner_sheets(
    course: Course, table: pd.DataFrame, path: Path, *, units: Units = Units.METRIC
) -> None:
    """Write a sheet for every corner: drawing, cues, hazards, radii of the lines through it.

    Args:
        course: the course with its marker line.
        table: ``line.csv``: a row for each corner and line.
        path: the file to write.
        units: what is read; metric ones on A4, those of the US on Letter.
    """
    write_sheets(
        [corner_sheet(course, corner, table, units=units) for corner in course.corners], path
    )


def rider_sheet(event: EventReview, rider: RiderReview, *, units: Units = Units.METRIC) -> Figure:
    """The sheet of one rider as a figure."""
    paper = Canvas(*PAPERS[units])
    inner = paper.width - 2.0 * MARGIN
    sheet = _RiderSheet(paper, event.course, rider, units)
    y = paper.paragraph(MARGIN, paper.height - MARGIN, rider.rider, inner, size=26, bold=True)
    # The page has a map of corners found from logs, the sheet has no room for one.
    numbered = ["corners numbered from the start line"] if event.course.found else []
    y = facts_row(paper, y, [*page_facts(event, rider, units), *numbered], inner, size=10)
    y = rule(paper, y, 5.0)
    works = [f for f in rider.findings if f.kind is Kind.WORK][:1]
    others = [f for kind in (Kind.MIND, Kind.WELL) for f in rider.findings if f.kind is kind][:3]
    for finding in works:
        y = sheet.finding(finding, _Place(MARGIN, y, inner), side=True, first=True) - 14.0
    if not works:
        tag, heading, said = nothing_to_work_on(event.course, rider)
        y = paper.paragraph(MARGIN, y, f"{tag}: {heading.lower()}", inner, size=16, bold=True)
        y = paper.paragraph(MARGIN, y, said, inner, size=14) - 14.0
    y = rule(paper, y, 1.5)
    beside = max(len(others), 1)
    column = (inner - _COLUMNS_APART * (beside - 1)) / beside
    for i, finding in enumerate(others):
        place = _Place(MARGIN + i * (column + _COLUMNS_APART), y, column)
        first = not works and i == 0
        sheet.finding(finding, place, side=len(others) == 1 and bool(works), first=first)
    cautions(paper, inner)
    return paper.figure


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
        for detail in finding.details if large else ():
            y = paper.paragraph(x, y, display.unbroken(detail), wide, size=size - 2.0) - 2.0
        if finding.cue:
            y = paper.paragraph(x, y - 4.0, f"“{finding.cue}”", wide, size=size, italic=True)
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
        told = _CAPTION_LINE * (4 if full else 1)
        tallest = min(300.0, (top - FOOT - told) / scale - BELOW - 20.0)
        if tallest < _LEAST_TALL:
            return None

        def part(w: float, h: float) -> Canvas:
            return self.paper.part(left, top - scale * h, w, h, scale)

        traces = [t for run in self.rider.runs for t in run.traces if t.corner == corner.name]
        span, here = close_up(corner, finding)
        spoken_of = (finding.session, finding.lap)
        shown = FromAbove(self.course, corner, traces, spoken_of, self.units, span, here)
        drawn = shown.on(part, style.WIDTH, tallest)
        caption = first_caption(self.course, finding, traces, here is not None, full=full)
        return self.paper.paragraph(left, top - scale * drawn.height, caption, room, size=9.0)


def corner_sheet(
    course: Course, corner: Corner, table: pd.DataFrame, *, units: Units = Units.METRIC
) -> Figure:
    """The sheet of one corner as a figure."""
    paper = Canvas(*PAPERS[units])
    inner = paper.width - 2.0 * MARGIN
    rows = table[table["corner"] == corner.name]
    line = rows.loc[rows["line"] == _MARKER_LINE, "exit_radius_min_m"]
    title = f"{corner_name(corner.name)}, {corner.turn}"
    y = paper.paragraph(MARGIN, paper.height - MARGIN, title, inner, size=26, bold=True)
    facts = corner_facts(corner, float(line.iloc[0]) if len(line) else float("nan"), units)
    y = facts_row(paper, y, facts, inner, size=11) if facts else y
    y = rule(paper, y, 5.0)
    for cue in corner.cues:
        y = paper.paragraph(MARGIN, y, f"“{cue}”", inner, size=14, italic=True)
    for hazard in corner.hazards:
        y = paper.paragraph(MARGIN, y - 2.0, f"Mind: {hazard}", inner, size=13, bold=True)
    y = paper.paragraph(MARGIN, y - 4.0, how_drawn(corner), inner, size=9.5)
    floor = MARGIN + 96.0 + 20.0 * (len(rows) + 2)
    top, room = y - 10.0, y - floor - 50.0

    def part(w: float, h: float) -> Canvas:
        # Names and hazards above the road may need more room than was asked for.
        scale = min(room / h, 1.0)
        return paper.part(MARGIN + 0.5 * (1.0 - scale) * w, top - scale * h, w, h, scale)

    FromAbove(course, corner, units=units).on(part, inner, room - 40.0)
    _line_table(paper, rows, units, floor - 10.0, inner)
    cautions(paper, inner)
    return paper.figure


def _line_table(paper: Canvas, rows: pd.DataFrame, units: Units, top: float, inner: float) -> None:
    """Radii of the lines through a corner, and the lean they ask for at some speeds."""
    speeds = [c for c in rows.columns if str(c).startswith("lean_at_")]
    leans = [c for c in rows.columns if str(c).startswith("kmh_at_")]
    head = ["Line", "tightest", "exit", *(_speed(c, units) for c in speeds), *map(_lean, leans)]
    widths = [0.23 * inner, 48.0, 36.0]
    rungs = len(head) - len(widths)
    widths += [(inner - sum(widths) - 2.0 * _GROUPS_APART) / max(rungs, 1)] * rungs
    places = [
        MARGIN + sum(widths[:i]) + _GROUPS_APART * ((i >= 3) + (i >= 3 + len(speeds)))
        for i in range(len(head))
    ]
    paper.text(places[1], top + 14.0, f"radius, {units.length}", size=9.5, bold=True)
    if speeds:
        paper.text(
            places[3], top + 14.0, f"lean at a steady speed, {units.speed}", size=9.5, bold=True
        )
    if leans:
        at = places[3 + len(speeds)]
        paper.text(at, top + 14.0, f"{units.speed} at a lean of", size=9.5, bold=True)
    for x, name in zip(places, head, strict=True):
        paper.text(x, top, name, size=9.5, bold=True)
    paper.lines([np.array([[MARGIN, top - 9.0], [paper.width - MARGIN, top - 9.0]])], width=1.2)
    for i, row in enumerate(rows.to_dict("records"), 1):
        for x, cell in zip(places, _line_cells(row, speeds, leans, units), strict=True):
            paper.text(x, top - 20.0 * i - 2.0, cell, size=11)
    note = (
        "Lean, from the road’s own surface, is what the line would ask for. It is geometry, no target and "
        "no advice."
    )
    paper.text(MARGIN, top - 20.0 * (len(rows) + 1) - 2.0, note, size=9.5, italic=True)


def _line_cells(
    row: dict[Any, Any], speeds: Sequence[str], leans: Sequence[str], units: Units
) -> list[str]:
    radii = [row["radius_min_m"], row["exit_radius_min_m"]]
    return [
        line_name(row["line"]),
        *(display.radius_text(Measured(r), units, bare=True) for r in radii),
        *(asked_lean(row[c]).replace("over ", ">") for c in speeds),
        *(asked_speed(row[c], units) for c in leans),
    ]


def _lean(column: str) -> str:
    """The lean that a column of ``line.csv`` is about."""
    return f"{column.removeprefix('kmh_at_').removesuffix('_deg')}°"


def _speed(column: str, units: Units) -> str:
    """The speed that a column of ``line.csv`` is about, in the unit shown."""
    kmh = float(column.removeprefix("lean_at_").removesuffix("_kmh_deg"))
    return f"{kmh / 3.6 / units.speed_mps:.0f}"
