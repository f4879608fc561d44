"""A season's answers on the terminal."""

from __future__ import annotations

from textwrap import wrap

from lapkit.errors import printable
from lapkit.reporter.cautions import TERMINAL_CAUTION
from lapkit.reporter.columns import aligned
from lapkit.reporter.season_words import COUNTED_NOTE, RIDDEN_HEAD, TROUBLE_HEAD, season_words
from lapkit.season.answers import Answers
from lapkit.units import Units

_WIDE = 98  # characters of a paragraph


def season_text(answers: Answers, *, units: Units) -> str:
    """The answers for the terminal."""
    words = season_words(answers, units)
    lines = [printable(words.heading), "", *aligned(words.events_head, words.events)]
    lines += _paragraph(words.line_note)
    for corner in words.corners:
        lines += ["", printable(corner.title), *aligned(RIDDEN_HEAD, corner.rows)]
    if words.habits:
        lines += ["", "What became of habits"]
    for told in words.habits:
        lines.append(f"  {printable(told.title)}")
        for head, habits in told.groups:
            lines += [f"    {head}", *(f"      {printable(line)}" for line in habits)]
    lines += ["", "What changed after which event"]
    for between in words.changes:
        lines.append(f"  {printable(between.title)}")
        lines += [f"    {printable(line)}" for line in between.lines]
    if not words.changes:
        lines.append(f"  {printable(words.unchanged)}")
    lines += ["", "Which corner troubles whom"]
    if words.trouble:
        lines += [*aligned(TROUBLE_HEAD, words.trouble), *_paragraph(COUNTED_NOTE)]
    else:
        lines.append("  No corner stands out.")
    lines += _paragraph(printable(words.over))
    if answers.rider is None and answers.corner is None:
        lines += [
            "",
            "Name a rider (--rider) or a corner (--corner) to see radius, lean and seams.",
        ]
    return "\n".join([*lines, "", TERMINAL_CAUTION])


def _paragraph(text: str) -> list[str]:
    """Lines of a paragraph with an empty one before it; none without a text."""
    return ["", *wrap(text, _WIDE)] if text else []
