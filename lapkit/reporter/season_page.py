"""A season's answers in words, on the terminal and as a page. Nobody is ranked, least of all by time."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from textwrap import wrap

from lapkit import __version__
from lapkit.counting import corner_name, counted, listed
from lapkit.errors import OutputError, printable
from lapkit.reporter import display
from lapkit.reporter.cautions import TERMINAL_CAUTION
from lapkit.reporter.columns import aligned
from lapkit.reporter.display import Measured
from lapkit.reporter.page import render
from lapkit.reporter.season_changes import EventChanges, count_of, event_name, season_changes
from lapkit.reporter.season_habits import HABITS_NOTE, HabitsTold, season_habits
from lapkit.season.answers import Answers, Event, Median, Ridden, SeamCalls, Trouble
from lapkit.units import Units
from lapkit.whole_file import write_whole

_WIDE = 98  # characters of a paragraph on the terminal
_MARK = '<meta name="generator" content="lapkit season">'
_PAGES = (".html", ".htm")
_RIDDEN_HEAD = (
    "event", "laps", "tightest radius", "largest lean", "exits tightened", "habit", "seams",
)  # fmt: skip
_TROUBLE_HEAD = (
    "corner",
    "rider",
    "exits tightened",
    "inside the seam",
    "at his last event",
    "habits told, events",
)
_LATELY = {True: "still so", None: "cannot be told"}
CHANGES_NOTE = (
    "Told only where the difference clearly exceeds the scatter between laps. What is different the "
    "next time may have many reasons: weather, tyres, another machine, a moved cone."
)
TROUBLE_NOTE = (
    "Riders who did it in more than half of their laps, or were told of a habit there at more than half of their "
    "events, in no order of merit. Where many do the same thing, look at the cone before you look at the riders."
)
COUNTED_NOTE = (
    "An exit counts as tightened where it is clearly tighter than the marker line’s and takes more lean, or has "
    "less than seven tenths of its radius; where that is a rider’s habit his page also counts laps whose exit is "
    "surely below nine tenths of it, so its number may be larger. Inside the seam is inside the innermost one that "
    "the marker line stays outside of, of the laps that can be called; a dash where there is none."
)

Row = tuple[str, ...]


@dataclass(frozen=True)
class _Corner:
    """A rider in a corner: what it is headed with and a row for each event."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class _Group:
    """A table of the page, with what it is headed with, if anything."""

    title: str
    head: Row
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class _Words:
    """The answers in words, as both terminal and page show them."""

    heading: str
    facts: Row
    events_head: Row
    events: tuple[Row, ...]
    corners: tuple[_Corner, ...]
    habits: tuple[HabitsTold, ...]
    changes: tuple[EventChanges, ...]
    unchanged: str
    trouble: tuple[Row, ...]
    over: str


def season_text(answers: Answers, *, units: Units) -> str:
    """The answers for the terminal."""
    words = _words(answers, units)
    lines = [printable(words.heading), "", *aligned(words.events_head, words.events)]
    for corner in words.corners:
        lines += ["", printable(corner.title), *aligned(_RIDDEN_HEAD, corner.rows)]
    lines += ["", "What became of habits"] if words.habits else []
    for told in words.habits:
        lines += [f"  {printable(told.title)}"]
        for head, what in told.groups:
            lines += [f"    {head}", *(f"      {printable(line)}" for line in what)]
    lines += ["", "What changed after which event"]
    for between in words.changes:
        lines += [f"  {printable(between.title)}"]
        lines += [f"    {printable(line)}" for line in between.lines]
    lines += [] if words.changes else [f"  {words.unchanged}"]
    lines += ["", "Which corner troubles whom"]
    if words.trouble:
        lines += [*aligned(_TROUBLE_HEAD, words.trouble), "", *wrap(COUNTED_NOTE, _WIDE)]
    else:
        lines.append("  No corner stands out.")
    lines += ["", *wrap(printable(words.over), _WIDE)] if words.over else []
    if answers.rider is None and answers.corner is None:
        lines += [
            "",
            "Name a rider (--rider) or a corner (--corner) to see radius, lean and seams.",
        ]
    return "\n".join([*lines, "", TERMINAL_CAUTION])


def season_page(answers: Answers, *, units: Units) -> str:
    """The answers as a page, complete in itself."""
    words = _words(answers, units)
    return render(
        "season.html.j2",
        title=f"{words.heading} – lapkit",
        words=words,
        ridden_head=_RIDDEN_HEAD,
        trouble=tuple(_grouped(words.trouble, answers.rider)),
        habits_note=HABITS_NOTE,
        changes_note=CHANGES_NOTE,
        trouble_note=TROUBLE_NOTE,
        counted_note=COUNTED_NOTE,
        version=__version__,
    )


def _grouped(trouble: Sequence[Row], rider: str | None) -> Iterable[_Group]:
    """Who has trouble, a table a corner; of one rider asked for a single one."""
    if rider is not None:
        head = (_TROUBLE_HEAD[0], *_TROUBLE_HEAD[2:])
        yield _Group("", head, tuple((row[0], *row[2:]) for row in trouble))
        return
    for corner, rows in groupby(trouble, key=lambda row: row[0]):
        yield _Group(corner, _TROUBLE_HEAD[1:], tuple(row[1:] for row in rows))


def write_page(page: str, out: Path) -> None:
    """Write the page whole or not at all.

    Raises:
        OutputError: it cannot be written there, or something else than such a page would be lost.
    """
    if out.suffix.lower() not in _PAGES:
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


def _words(answers: Answers, units: Units) -> _Words:
    events = {event.place: event for event in answers.events}
    several = len({event.course for event in answers.events}) > 1
    asked = [text for text in (answers.rider, answers.corner) if text is not None]
    return _Words(
        heading=f"Season: {', '.join(asked)}" if asked else "Season",
        facts=(counted(len(events), "event"), units.words),
        events_head=("event", "riders", "course") if several else ("event", "riders"),
        events=tuple(
            (event_name(e), str(e.riders), str(e.course))
            if several
            else (event_name(e), str(e.riders))
            for e in answers.events
        ),
        corners=tuple(_corners(answers, events, several, units)),
        habits=season_habits(answers),
        changes=season_changes(answers, units),
        unchanged=_unchanged(answers, events),
        trouble=tuple(_trouble(one, several) for one in answers.trouble if one.lately is not False),
        over=_over([one for one in answers.trouble if one.lately is False], several),
    )


def _unchanged(answers: Answers, events: dict[int, Event]) -> str:
    """What is said without a change: that nothing changed only where an event of the same course came before."""
    ridden = [(one.rider, one.corner, events[one.place].course) for one in answers.ridden]
    # Where neither a rider nor a corner was asked for, the events tell whether a course was ridden again.
    seen: Sequence[object] = ridden or [event.course for event in answers.events]
    if len(set(seen)) < len(seen):
        return "Nothing clearly changed."
    if len(events) == 1:
        return "One event so far: nothing to hold it against."
    return "Nothing to hold against each other yet: that takes two events on the same course."


def _corners(
    answers: Answers, events: dict[int, Event], several: bool, units: Units
) -> Iterable[_Corner]:
    def course_of(one: Ridden) -> int:
        return events[one.place].course

    def whose(one: Ridden) -> tuple[int, str, str]:
        return course_of(one), one.corner, one.rider

    # Within a course they come in riding order, and each rider's events in time order.
    for (course, corner, rider), group in groupby(sorted(answers.ridden, key=course_of), key=whose):
        ridden = list(group)
        where = f" (course {course})" if several else ""
        yield _Corner(
            title=f"{corner_name(corner)}, {ridden[0].turn}{where}: {rider}",
            rows=tuple(_ridden(one, events[one.place], units) for one in ridden),
        )


def _ridden(one: Ridden, event: Event, units: Units) -> Row:
    return (
        event_name(event),
        str(one.laps),
        display.radius_text(_measured(one.radius_m), units),
        display.degrees_text(_measured(one.lean_deg)),
        count_of(one.tightened, one.tightened_counted),
        one.habit or "none",
        _seams(one.seams) or display.EMPTY,
    )


def _measured(median: Median) -> Measured:
    """A median of the season, in which None stands for what is not known."""
    return Measured(*(math.nan if number is None else number for number in median))


def _seams(seams: Sequence[SeamCalls]) -> str:
    """Calls of the seam that is counted; of each, with a word, where being inside is nothing to be counted."""
    minded = [seam for seam in seams if seam.counted]
    told = []
    for name, inside, outside, unclear, _ in minded or seams:
        text = f"{name}{'' if minded else ' (the marker line is inside)'}: "
        text += f"inside {inside} of {inside + outside + unclear}"
        told.append(f"{text}, unclear {unclear}" if unclear else text)
    return "; ".join(told)


def _over(trouble: Sequence[Trouble], several: bool) -> str:
    """Who had trouble where over the season and had none at his last event there, in a sentence; empty of nobody."""
    at: dict[str, list[str]] = {}
    for one in trouble:
        at.setdefault(one.rider, []).append(_where(one, several))
    told = [f"{rider} at {listed(corners)}" for rider, corners in at.items()]
    return f"So over the season, but no more at the last event: {'; '.join(told)}." if told else ""


def _where(one: Trouble, several: bool) -> str:
    return corner_name(one.corner) + (f" (course {one.course})" if several else "")


def _trouble(one: Trouble, several: bool) -> Row:
    return (
        _where(one, several),
        one.rider,
        count_of(one.tightened, one.tightened_counted),
        count_of(one.inside, one.called),
        _LATELY[one.lately] if one.events > 1 or not one.lately else "yes",
        "; ".join(f"{what} ({count_of(count, one.events)})" for what, count in one.habits)
        or "none",
    )
