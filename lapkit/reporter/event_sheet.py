"""The summary after the event on paper: what its page says first, on as many sheets as it takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from matplotlib.figure import Figure

from lapkit.counting import listed
from lapkit.measuring.reviews import EventReview
from lapkit.reporter import display
from lapkit.reporter.event_summary import Summary, summary
from lapkit.reporter.exit_grid import EXIT_RULE, ExitSummary
from lapkit.reporter.figures.canvas import LINE_EM, Canvas, wrapped
from lapkit.reporter.rider_grid import Cell, GridRow
from lapkit.reporter.run_changes import BetweenRuns
from lapkit.reporter.seam_grid import SEAM_RULE, SEAM_SURE, SeamSummary
from lapkit.reporter.sheet import FOOT, MARGIN, PAPERS, cautions, facts_row, rule, write_sheets
from lapkit.reporter.summary_corners import ALL_ROUND
from lapkit.reporter.summary_riders import RiderLine
from lapkit.units import Units

_TEXT, _SMALL, _HEAD = 11.0, 9.0, 16.0  # sizes of type, points
_MOST_LINES = 30  # of one paragraph: less than a sheet holds
_MOST_CORNERS = 7  # side by side; the others come below
_NAME = 84.0  # width of the riders' names beside the seams
_INDENT = 14.0  # points
_CELLS_APART = 6.0  # points, of the seams' and exits' grids
_BETWEEN = 3.0  # one paragraph and the next


def event_pdf(event: EventReview, path: Path, *, units: Units = Units.METRIC) -> None:
    """Write the summary of an event: riders to talk to, seams, corners, changes from run to run.

    Args:
        event: what to tell of.
        path: the file to write.
        units: what is read; metric ones on A4, those of the US on Letter.
    """
    write_sheets(event_sheets(event, units=units), path)


def event_sheets(event: EventReview, *, units: Units = Units.METRIC) -> list[Figure]:
    """The sheets of the summary as figures."""
    parts = summary(event, units, {})
    flow = _Flow(parts.heading, PAPERS[units])
    flow.facts(parts.facts)
    for note in parts.notes:
        flow.say(note, size=_SMALL)
    _talk(flow, parts)
    if parts.seams is not None:
        _seams(flow, parts.seams)
    if parts.exits is not None:
        _exits(flow, parts.exits)
    _corners(flow, parts)
    _changes(flow, parts.changes)
    _not_used(flow, parts.unusable)
    return [paper.figure for paper in flow.papers]


class _Flow:
    """Words from the top of a sheet downward, and on over as many sheets as it takes."""

    def __init__(self, heading: str, size: tuple[float, float]) -> None:
        self.heading, self._size = heading, size
        self.inner = size[0] - 2.0 * MARGIN
        self.papers: list[Canvas] = []
        self.turn()

    def turn(self) -> None:
        """Begin another sheet."""
        paper = Canvas(*self._size)
        self.papers.append(paper)
        cautions(paper, self.inner)
        first = len(self.papers) == 1
        title = self.heading if first else f"{self.heading}, sheet {len(self.papers)}"
        top = paper.height - MARGIN
        self.y = paper.paragraph(
            MARGIN, top, title, self.inner, size=26.0 if first else _TEXT, bold=True
        )

    def room(self, height: float) -> None:
        """Turn to another sheet where this one has no such height left, points."""
        if self.y - height < FOOT:
            self.turn()

    def facts(self, facts: Sequence[str]) -> None:
        """Facts in a row, and a rule under them."""
        self.y = facts_row(self.papers[-1], self.y, facts, self.inner, size=10.0)
        self.y = rule(self.papers[-1], self.y, 5.0)

    def head(self, text: str, lines: int = 5) -> None:
        """A section's heading, never at the foot of a sheet without the lines that follow."""
        self.room(_HEAD * LINE_EM + lines * LINE_EM * _TEXT + 8.0 + 4.0 * _BETWEEN)
        self.y -= 8.0
        self.say(text, size=_HEAD, bold=True)

    def say(
        self, text: str, *, size: float = _TEXT, bold: bool = False, indent: float = 0.0
    ) -> None:
        """A paragraph, whole on one sheet."""
        text = display.unbroken(text)
        lines = wrapped(text, self.inner - indent, size=size, bold=bold, most_lines=_MOST_LINES)
        self.room(len(lines) * LINE_EM * size + 2.0 * _BETWEEN)
        self.y -= _BETWEEN if bold else 0.0
        self.row([(indent, lines)], size=size, bold=[bold])
        self.y -= _BETWEEN

    def row(
        self, cells: Sequence[tuple[float, Sequence[str]]], *, size: float, bold: Sequence[bool]
    ) -> None:
        """Broken texts side by side, each so far from the margin, points."""
        step = LINE_EM * size
        for (x, lines), heavy in zip(cells, bold, strict=True):
            for i, line in enumerate(lines):
                y = self.y - (i + 0.5) * step
                self.papers[-1].text(MARGIN + x, y, line, size=size, bold=heavy)
        self.y -= step * max((len(lines) for _, lines in cells), default=0)


def _talk(flow: _Flow, parts: Summary) -> None:
    flow.head("Riders to talk to first")
    for place, rider in enumerate(parts.riders, 1):
        group = f" ({rider.group})" if rider.group else ""
        flow.room(5 * LINE_EM * _TEXT)
        flow.say(f"{place}. {rider.name}{group}", bold=True)
        corner = f"{rider.corner}. " if rider.corner else ""
        flow.say(corner + rider.text, indent=_INDENT)
        if rider.more:
            then = "Then" if corner else "Keep in mind"
            flow.say(f"{then}: {'; '.join(rider.more)}.", size=_SMALL, indent=_INDENT)
    if parts.unremarked:
        flow.say(f"Nothing stands out for {_names(parts.unremarked)}.")
    for rider in parts.left_off:
        flow.say(f"Nothing stands out any more for {rider.name}: {rider.left_off}.")
    for why, whom in parts.untold:
        flow.say(f"No habit can be told for {_names(whom)}: {why}")


def _names(riders: Sequence[RiderLine]) -> str:
    return listed([rider.name for rider in riders])


def _seams(flow: _Flow, seams: SeamSummary) -> None:
    flow.head("Who ran inside the seam at the exit")
    if not seams.head:
        flow.say(
            "The marker line itself runs inside the seams at every corner, so nobody is counted."
            if seams.left_out
            else "The course has no seams marked, so this cannot be said."
        )
        return
    for line in seams.words:
        flow.say(line)
    left_out = (
        f" At {seams.left_out} the marker line itself runs inside, so nobody is counted there."
        if seams.left_out
        else ""
    )
    flow.say(
        f"{SEAM_RULE}{left_out} {SEAM_SURE} Bold: more than half of the laps.",
        size=_SMALL,
    )
    if seams.why:
        flow.say(seams.why, size=_SMALL)
    _grids(flow, seams.head, seams.rows)
    for line in seams.facts:
        flow.say(line)


def _exits(flow: _Flow, exits: ExitSummary) -> None:
    flow.head("Whose exits tighten")
    for line in exits.words:
        flow.say(line)
    flow.say(f"{EXIT_RULE} Bold: a habit that his page tells of.", size=_SMALL)
    _grids(flow, exits.head, exits.rows)


def _grids(flow: _Flow, head: Sequence[str], rows: Sequence[GridRow]) -> None:
    """Riders × corners, as many corners in each of the grids below each other."""
    corners = len(head)
    beside = math.ceil(corners / math.ceil(corners / _MOST_CORNERS))
    for first in range(0, corners, beside):
        chosen = slice(first, first + beside)
        width = (flow.inner - _NAME) / beside
        _grid(flow, head[chosen], [(row.rider, row.cells[chosen]) for row in rows], width)


def _grid(
    flow: _Flow, head: Sequence[str], rows: Sequence[tuple[str, Sequence[Cell]]], width: float
) -> None:
    """Riders × corners, each corner ``width`` points wide; on a new sheet the head stands again."""
    top = _GridLine.of(["", *head], [True] * (1 + len(head)), width)
    lines = [
        _GridLine.of([rider, *(c.text for c in cells)], [True, *(c.much for c in cells)], width)
        for rider, cells in rows
    ]
    # A head never stands at the foot of a sheet without the first row that it is over.
    flow.room(sum(line.height for line in (top, *lines[:1])) + 2.0 * LINE_EM * _SMALL)
    flow.y -= _BETWEEN
    top.write(flow)
    for line in lines:
        sheets = len(flow.papers)
        flow.room(line.height + LINE_EM * _SMALL)
        if len(flow.papers) > sheets:
            top.write(flow)
        line.write(flow)


class _GridLine(NamedTuple):
    """A row of a grid.

    Attributes:
        cells: each with its distance from the margin, points, and its text broken into lines.
        bold: which of them are.
        height: of the tallest, points.
    """

    cells: Sequence[tuple[float, Sequence[str]]]
    bold: Sequence[bool]
    height: float

    @classmethod
    def of(cls, texts: Sequence[str], bold: Sequence[bool], width: float) -> _GridLine:
        """The rider's name, and a text for each corner ``width`` points wide; as if all were bold, which is wider."""
        cells, left, room = [], 0.0, _NAME
        for text in texts:
            lines = wrapped(text, room - _CELLS_APART, size=_SMALL, bold=True, most_lines=4)
            cells.append((left, lines))
            left, room = left + room, width
        tallest = max(len(lines) for _, lines in cells)
        return cls(cells, bold, tallest * LINE_EM * _SMALL)

    def write(self, flow: _Flow) -> None:
        flow.row(self.cells, size=_SMALL, bold=self.bold)
        flow.y -= _BETWEEN


def _corners(flow: _Flow, parts: Summary) -> None:
    # Down to the first corner: what is said of all of them says nothing of any.
    all_round = 1 + len(parts.all_round) if parts.all_round else 0
    first = max((len(what) for _, _, what, _ in parts.troubles[:1]), default=1)
    flow.head("Corners by trouble", all_round + 2 + first)
    if parts.all_round:
        flow.say(ALL_ROUND)
        for does in parts.all_round:
            flow.say(does, indent=_INDENT)
    for corner, who, what, look in parts.troubles:
        flow.room((len(what) + 2) * LINE_EM * _TEXT)
        flow.say(f"{corner}, {who}", bold=True)
        for does in what:
            flow.say(does, indent=_INDENT)
        if look:
            flow.say(look, indent=_INDENT, bold=True)
    if parts.nothing_else:
        flow.say(parts.nothing_else)
    if not parts.troubles and not parts.nothing_else:
        flow.say(
            "No corner stands out."
            if parts.judged
            else "Whether a corner stands out cannot be told; why is said above."
        )
    for line in parts.cones:
        flow.say(line)


def _changes(flow: _Flow, changes: Sequence[tuple[str, list[BetweenRuns]]]) -> None:
    flow.head("From run to run")
    for rider, groups in changes:
        for between, corners in groups:
            flow.room(3 * LINE_EM * _TEXT)
            flow.say(f"{rider}, {between}", bold=True)
            for corner, what in corners:
                flow.say(f"{corner}: {'; '.join(what)}", indent=_INDENT)
    if not changes:
        flow.say("No change is sure.")


def _not_used(flow: _Flow, unusable: Sequence[tuple[str, str, str, str]]) -> None:
    if not unusable:
        return
    flow.head("Logs not used")
    for rider, session, file, why in unusable:
        flow.say(f"{rider}, run {session} ({file}): {why.rstrip('.')}.", size=_SMALL)
