"""Words and grids from the top of a printed sheet downward, and on over as many sheets as they take."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from lapkit.reporter import display
from lapkit.reporter.figures.canvas import LINE_EM, Canvas, wrapped
from lapkit.reporter.rider_grid import Cell, GridRow
from lapkit.reporter.sheet import FOOT, LATER_FOOT, MARGIN, cautions, facts_row, rule

TEXT, SMALL = 10.5, 9.0
"""Sizes of type, points: of what is said, and of what is said about it."""

INDENT = 14.0
"""How far what belongs to a line above is set in, points."""

_HEAD = 16.0  # size of a section's heading, points
_MOST_LINES = 30  # of one paragraph: less than a sheet holds
_MOST_CORNERS = 7  # side by side; the others come below
_NAME = 84.0  # width of the riders' names beside a grid
_CELLS_APART = 6.0  # points, of a grid
_BETWEEN = 3.0  # one paragraph and the next


class Flow:
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
        first = len(self.papers) == 1
        self.foot = FOOT if first else LATER_FOOT
        cautions(paper, self.inner, self.foot)
        title = self.heading if first else f"{self.heading}, sheet {len(self.papers)}"
        top = paper.height - MARGIN
        self.y = paper.paragraph(
            MARGIN, top, title, self.inner, size=26.0 if first else TEXT, bold=True
        )

    def room(self, height: float) -> None:
        """Turn to another sheet where this one has no such height left, points."""
        if self.y - height < self.foot:
            self.turn()

    def facts(self, facts: Sequence[str]) -> None:
        """Facts in a row, and a rule under them."""
        self.y = facts_row(self.papers[-1], self.y, facts, self.inner, size=10.0)
        self.y = rule(self.papers[-1], self.y, 5.0)

    def head(self, text: str, lines: int = 5) -> None:
        """A section's heading, never at the foot of a sheet without the lines that follow."""
        self.room(_HEAD * LINE_EM + lines * LINE_EM * TEXT + 8.0 + 4.0 * _BETWEEN)
        self.y -= 8.0
        self.say(text, size=_HEAD, bold=True)

    def say(
        self, text: str, *, size: float = TEXT, bold: bool = False, indent: float = 0.0
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
        """Broken texts side by side, each at its own distance from the margin, points."""
        step = LINE_EM * size
        for (x, lines), heavy in zip(cells, bold, strict=True):
            for i, line in enumerate(lines):
                y = self.y - (i + 0.5) * step
                self.papers[-1].text(MARGIN + x, y, line, size=size, bold=heavy)
        self.y -= step * max((len(lines) for _, lines in cells), default=0)


def grids(flow: Flow, head: Sequence[str], rows: Sequence[GridRow]) -> None:
    """Riders × corners; many corners in several grids below each other, each of as many corners."""
    corners = len(head)
    beside = math.ceil(corners / math.ceil(corners / _MOST_CORNERS))
    for first in range(0, corners, beside):
        chosen = slice(first, first + beside)
        width = (flow.inner - _NAME) / beside
        _grid(flow, head[chosen], [(row.rider, row.cells[chosen]) for row in rows], width)


def _grid(
    flow: Flow, head: Sequence[str], rows: Sequence[tuple[str, Sequence[Cell]]], width: float
) -> None:
    """Riders × corners, each corner ``width`` points wide; on a new sheet the head stands again."""
    top = _GridLine.of(["", *head], [True] * (1 + len(head)), width)
    lines = [
        _GridLine.of([rider, *(c.text for c in cells)], [True, *(c.much for c in cells)], width)
        for rider, cells in rows
    ]
    # A head never stands at the foot of a sheet without the first row that it is over.
    flow.room(sum(line.height for line in (top, *lines[:1])) + 2.0 * LINE_EM * SMALL)
    flow.y -= _BETWEEN
    top.write(flow)
    for line in lines:
        sheets = len(flow.papers)
        flow.room(line.height + LINE_EM * SMALL)
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
            lines = wrapped(text, room - _CELLS_APART, size=SMALL, bold=True, most_lines=4)
            cells.append((left, lines))
            left, room = left + room, width
        tallest = max(len(lines) for _, lines in cells)
        return cls(cells, bold, tallest * LINE_EM * SMALL)

    def write(self, flow: Flow) -> None:
        flow.row(self.cells, size=SMALL, bold=self.bold)
        flow.y -= _BETWEEN
