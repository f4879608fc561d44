"""Sheets to pin up or to hand out, one page a corner, black and white: drawing, cues, hazards, radii of the lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from lapkit.counting import corner_name, counted
from lapkit.course.course import Corner, Course
from lapkit.reporter import display
from lapkit.reporter.captions import bare_caption
from lapkit.reporter.course_words import corner_facts
from lapkit.reporter.display import Measured
from lapkit.reporter.figures.canvas import LINE_EM, Canvas, wrapped
from lapkit.reporter.figures.overhead import FromAbove
from lapkit.reporter.lines_at_corner import (
    LineAtCorner,
    exit_radius_of_line_m,
    lean_text,
    lines_at_corner,
    speed_text,
)
from lapkit.reporter.sheet import MARGIN, PAPERS, cautions, facts_row, rule, write_sheets
from lapkit.units import KMH_MPS, Units

_CUE, _HAZARD = 14.0, 13.0  # sizes of type, points
_LEAST_DRAWN = 260.0  # points kept for the caption and the drawing, whatever cues there are
_LEAST_ROOM = 80.0  # points: where hazards leave less there is no drawing
_GROUPS_APART = 12.0  # points, of a table's columns
_NOTE = (
    "Lean, from the road’s own surface, is what the line would ask for. It is geometry, no target and "
    "no advice."
)


def corner_sheets(
    course: Course,
    table: pd.DataFrame,
    path: Path,
    *,
    units: Units = Units.METRIC,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write a sheet for every corner: drawing, cues, hazards, radii of the lines through it.

    Args:
        course: the course with its marker line.
        table: ``line.csv``: a row for each corner and line.
        path: the file to write.
        units: those of the reader; metric units are printed on A4, US units on Letter.
        progress: called with sheets done and sheets in all.
    """

    def drawn() -> Iterator[Figure]:
        for number, corner in enumerate(course.corners, 1):
            yield corner_sheet(course, corner, table, units=units)
            # By now it is in the file, which takes longer than to draw it.
            if progress is not None:
                progress(number, len(course.corners))

    write_sheets(drawn(), path)


def corner_sheet(
    course: Course, corner: Corner, table: pd.DataFrame, *, units: Units = Units.METRIC
) -> Figure:
    """The sheet of one corner as a figure."""
    paper = Canvas(*PAPERS[units])
    inner = paper.width - 2.0 * MARGIN
    lines = lines_at_corner(table, corner)
    title = f"{corner_name(corner.name)}, {corner.turn}"
    y = paper.paragraph(MARGIN, paper.height - MARGIN, title, inner, size=26, bold=True)
    facts = corner_facts(corner, exit_radius_of_line_m(table, corner), units)
    y = facts_row(paper, y, facts, inner, size=11) if facts else y
    floor = MARGIN + 96.0 + 20.0 * (len(lines) + 2)
    minds = [f"Mind: {hazard}" for hazard in corner.hazards]
    below = sum(_height(mind, inner, _HAZARD, bold=True) + 2.0 for mind in minds)
    y = _cues(paper, rule(paper, y, 5.0), corner.cues, floor + _LEAST_DRAWN + below)
    for mind in minds:
        y = paper.paragraph(MARGIN, y - 2.0, mind, inner, size=_HAZARD, bold=True)
    y = paper.paragraph(MARGIN, y - 4.0, bare_caption(course, corner), inner, size=9.5)
    top, room = y - 10.0, y - floor - 50.0

    def part(w: float, h: float) -> Canvas:
        # Names and hazards above the road may need more room than was asked for.
        scale = min(room / h, 1.0)
        return paper.part(MARGIN + 0.5 * (1.0 - scale) * w, top - scale * h, w, h, scale)

    if room > _LEAST_ROOM:
        FromAbove(course, corner, units=units).on(part, inner, room - 40.0)
    _line_table(paper, lines, units, floor - 10.0, inner)
    cautions(paper, inner)
    return paper.figure


def _cues(paper: Canvas, y: float, cues: Sequence[str], lowest: float) -> float:
    """The cues that end above ``lowest``, and how many more there are; where the next thing may begin, points."""
    inner = paper.width - 2.0 * MARGIN
    for number, cue in enumerate(cues):
        text = f"“{cue}”"
        if y - _height(text, inner, _CUE) < lowest:
            more = counted(len(cues) - number, "more cue")
            return paper.paragraph(MARGIN, y, f"{more} on the page.", inner, size=9.5)
        y = paper.paragraph(MARGIN, y, text, inner, size=_CUE, italic=True)
    return y


def _height(text: str, width: float, size: float, *, bold: bool = False) -> float:
    """How high running text becomes, points."""
    return LINE_EM * size * len(wrapped(text, width, size=size, bold=bold))


def _line_table(
    paper: Canvas, lines: Sequence[LineAtCorner], units: Units, top: float, inner: float
) -> None:
    """Radii of the lines through a corner, the lean they ask for at some speeds, and the speed at some leans."""
    speeds, leans = list(lines[0].lean_deg), list(lines[0].speed_kmh)
    places = _places(len(speeds), len(leans), inner)
    groups = {
        1: f"radius, {units.length}",
        3: f"lean at a steady speed, {units.speed}",
        3 + len(speeds): f"{units.speed} at a lean of",
    }
    for column, text in groups.items():
        paper.text(places[column], top + 14.0, text, size=9.5, bold=True)
    shown = (f"{kmh * KMH_MPS / units.speed_mps:.0f}" for kmh in speeds)
    head = ["Line", "tightest", "exit", *shown, *(f"{lean_deg:.0f}°" for lean_deg in leans)]
    for x, name in zip(places, head, strict=True):
        paper.text(x, top, name, size=9.5, bold=True)
    paper.lines([np.array([[MARGIN, top - 9.0], [paper.width - MARGIN, top - 9.0]])], width=1.2)
    for i, line in enumerate(lines, 1):
        for x, cell in zip(places, _line_cells(line, units), strict=True):
            paper.text(x, top - 20.0 * i - 2.0, cell, size=11)
    paper.text(MARGIN, top - 20.0 * (len(lines) + 1) - 2.0, _NOTE, size=9.5, italic=True)


def _places(speeds: int, leans: int, inner: float) -> list[float]:
    """Left edges of the table's columns, points: the line, two radii, ``speeds`` columns, ``leans`` columns."""
    widths = [0.23 * inner, 48.0, 36.0]
    rung = (inner - sum(widths) - 2.0 * _GROUPS_APART) / (speeds + leans)
    widths += [rung] * (speeds + leans)
    first_speed, first_lean = 3, 3 + speeds
    return [
        MARGIN + sum(widths[:i]) + _GROUPS_APART * ((i >= first_speed) + (i >= first_lean))
        for i in range(len(widths))
    ]


def _line_cells(line: LineAtCorner, units: Units) -> list[str]:
    radii_m = (line.radius_min_m, line.exit_radius_min_m)
    return [
        line.name,
        *(display.radius_text(Measured(x), units, bare=True) for x in radii_m),
        *(lean_text(lean_deg).replace("over ", ">") for lean_deg in line.lean_deg.values()),
        *(speed_text(kmh, units) for kmh in line.speed_kmh.values()),
    ]
