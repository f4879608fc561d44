"""A season's answers as a page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from lapkit import __version__
from lapkit.errors import OutputError
from lapkit.reporter.page import render
from lapkit.reporter.season_habits import HABITS_NOTE
from lapkit.reporter.season_words import (
    CHANGES_NOTE,
    COUNTED_NOTE,
    RIDDEN_HEAD,
    TROUBLE_HEAD,
    TROUBLE_NOTE,
    Row,
    season_words,
)
from lapkit.season.answers import Answers
from lapkit.units import Units
from lapkit.whole_file import write_whole

_MARK = '<meta name="generator" content="lapkit season">'
_SUFFIXES = (".html", ".htm")


@dataclass(frozen=True)
class TroubleTable:
    """A table of who has trouble; the title is empty where there is only one."""

    title: str
    head: Row
    rows: tuple[Row, ...]


def season_page(answers: Answers, *, units: Units) -> str:
    """The answers as a page, complete in itself."""
    words = season_words(answers, units)
    return render(
        "season.html.j2",
        title=f"{words.heading} – lapkit",
        words=words,
        ridden_head=RIDDEN_HEAD,
        trouble=tuple(_trouble_tables(words.trouble, answers.rider)),
        habits_note=HABITS_NOTE,
        changes_note=CHANGES_NOTE,
        trouble_note=TROUBLE_NOTE,
        counted_note=COUNTED_NOTE,
        version=__version__,
    )


def _trouble_tables(trouble: Sequence[Row], rider: str | None) -> Iterable[TroubleTable]:
    """A table for each corner, or one for all of them where a rider was asked for."""
    if rider is not None:
        head = (TROUBLE_HEAD[0], *TROUBLE_HEAD[2:])
        yield TroubleTable("", head, tuple((row[0], *row[2:]) for row in trouble))
        return
    for corner, rows in groupby(trouble, key=lambda row: row[0]):
        yield TroubleTable(corner, TROUBLE_HEAD[1:], tuple(row[1:] for row in rows))


def write_page(page: str, out: Path) -> None:
    """Write the page whole or not at all.

    Raises:
        OutputError: it cannot be written there, or something else than such a page would be lost.
    """
    if out.suffix.lower() not in _SUFFIXES:
        raise OutputError(
            "a page's name ends in .html, or browsers do not open it",
            where=str(out),
            remedy=f"Write --out {out}.html.",
        )
    if not _replaceable(out):
        raise OutputError(
            "what is there is no season page of lapkit; it was left as it is",
            where=str(out),
            remedy="Choose another --out file.",
        )
    write_whole(out, page.encode(), "page")


def _replaceable(out: Path) -> bool:
    """Whether nothing stands there but, perhaps, such a page."""
    try:
        return not out.exists() or (out.is_file() and _MARK.encode() in out.read_bytes()[:2000])
    except OSError:
        return False
