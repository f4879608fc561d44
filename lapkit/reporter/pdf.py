"""One page to pin up: what the first screen of the rider's page says, as PDF."""

from __future__ import annotations

import textwrap
from pathlib import Path

from matplotlib.figure import Figure

from lapkit.findings import Kind
from lapkit.reporter.page import CAUTIONS
from lapkit.reporter.review_types import EventReview, RiderReview

_A4_IN = (8.27, 11.69)
_WIDTH = 78
_HEADS = {Kind.WORK: "Work on this first", Kind.MIND: "Keep in mind", Kind.WELL: "Done well"}


def rider_pdf(event: EventReview, rider: RiderReview, path: Path) -> None:
    """Write one rider's sheet: one thing to work on, two to keep in mind, one done well, the cautions.

    Args:
        event: for its title.
        rider: whose sheet; its sentences are already in the reader's units.
        path: the file to write.
    """
    figure = Figure(figsize=_A4_IN)
    y = _lines(figure, 0.94, [f"{rider.rider} · {event.title}"], 18)
    for finding in rider.findings:
        if finding.kind in _HEADS:
            y = _lines(figure, y - 0.02, [f"{_HEADS[finding.kind]}: {finding.corner}"], 14)
            said = [finding.text, *([f"“{finding.cue}”"] if finding.cue else [])]
            y = _lines(figure, y, [line for s in said for line in textwrap.wrap(s, _WIDTH)], 12)
    _lines(figure, 0.16, [line for s in CAUTIONS for line in textwrap.wrap(s, 95)], 10)
    figure.savefig(path, format="pdf", metadata={"CreationDate": None})


def _lines(figure: Figure, y: float, lines: list[str], size: float) -> float:
    """Put lines of text on the page from ``y`` downward; where the next would go."""
    for line in lines:
        figure.text(0.09, y, line, fontsize=size, parse_math=False)
        y -= 1.6 * size / 72.0 / _A4_IN[1]
    return y
