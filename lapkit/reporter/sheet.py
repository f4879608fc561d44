"""What printed sheets share: paper, a row of facts, rules, and the cautions at the foot."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.figures.canvas import Canvas
from lapkit.units import Units

PAPERS = {Units.METRIC: (595.0, 842.0), Units.US: (612.0, 792.0)}
"""A4 and Letter, points."""

MARGIN = 40.0
"""Left free all round, points."""

FOOT = MARGIN + 84.0
"""Height up to which the cautions stand, points."""

LATER_FOOT = MARGIN + 46.0
"""The same on sheets after the first, which repeat only those that nobody may miss."""


def write_sheets(figures: Iterable[Figure], path: Path) -> None:
    """Write sheets as one PDF, each as soon as it is drawn; the same bytes for the same sheets."""
    with mpl.rc_context({"pdf.fonttype": 42}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        with PdfPages(path, metadata={"CreationDate": None, "Creator": "lapkit"}) as pages:
            for figure in figures:
                pages.savefig(figure)


def facts_row(paper: Canvas, y: float, facts: Sequence[str], inner: float, *, size: float) -> float:
    """Facts in a row, broken only between one and the next."""
    kept = (fact.replace(" ", "\N{NO-BREAK SPACE}") + "\N{NO-BREAK SPACE}·" for fact in facts)
    return paper.paragraph(
        MARGIN, y, " ".join(kept).rstrip(" ·\N{NO-BREAK SPACE}"), inner, size=size
    )


def rule(paper: Canvas, y: float, width: float) -> float:
    """A line across the paper below ``y``, points; where the next thing may begin."""
    line = np.array([[MARGIN, y - 6.0], [paper.width - MARGIN, y - 6.0]])
    paper.lines([line], width=width)
    return y - 20.0


def cautions(paper: Canvas, inner: float, foot: float = FOOT) -> None:
    """The cautions at the foot, broken at a width of ``inner`` points; as many as there is room for below ``foot``."""
    y = foot - 16.0
    paper.lines([np.array([[MARGIN, y + 8.0], [paper.width - MARGIN, y + 8.0]])], width=1.5)
    for sentence in CAUTIONS[: 4 if foot == FOOT else 2]:
        y = paper.paragraph(MARGIN, y, sentence, inner, size=9.5)
