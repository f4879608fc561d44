"""A season's answers in words, as both the terminal and the page show them. Nobody is ranked, least of all by time."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from lapkit.counting import corner_name, counted, first_of, listed
from lapkit.reporter import display
from lapkit.reporter.display import Measured
from lapkit.reporter.season_changes import EventChanges, count_of, event_name, season_changes
from lapkit.reporter.season_habits import HabitsTold, season_habits
from lapkit.season.answers import Answers, Event, Median, Ridden, SeamCalls, Trouble
from lapkit.units import Units

CHANGES_NOTE = (
    "Told only where the difference clearly exceeds the scatter between laps. What is different the "
    "next time may have many reasons: weather, tyres, another machine, a moved cone."
)
LINE_NOTE = (
    "Where the marker line was another than at the event before, what changed may come of the cones and not of the "
    "riders."
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

RIDDEN_HEAD = (
    "event", "laps", "tightest radius", "largest lean", "exits tightened", "habit", "seams",
)  # fmt: skip
"""Columns of :attr:`RiderInCorner.rows`."""

TROUBLE_HEAD = (
    "corner",
    "rider",
    "exits tightened",
    "inside the seam",
    "at his last event",
    "habits told, events",
)
"""Columns of :attr:`SeasonWords.trouble`."""

_LATELY = {True: "still so", None: "cannot be told"}

Row = tuple[str, ...]


@dataclass(frozen=True)
class RiderInCorner:
    """A rider in a corner: a title, and a row for each event."""

    title: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class SeasonWords:
    """The answers in words.

    Attributes:
        heading: with the rider and the corner asked for.
        facts: how many events, and which units.
        events_head, events: a row for each event.
        line_note: what to make of another marker line, where there was one.
        corners: how riders rode them; empty unless a rider or a corner was asked for.
        habits: what became of them from event to event.
        changes: from event to event.
        unchanged: what is said where there is no change.
        trouble: a row for each corner and rider, except riders who had none at their last event there.
        over: who these riders are, in a sentence; empty without any.
    """

    heading: str
    facts: Row
    events_head: Row
    events: tuple[Row, ...]
    line_note: str
    corners: tuple[RiderInCorner, ...]
    habits: tuple[HabitsTold, ...]
    changes: tuple[EventChanges, ...]
    unchanged: str
    trouble: tuple[Row, ...]
    over: str


def season_words(answers: Answers, units: Units) -> SeasonWords:
    """A season's answers in words, in the reader's units."""
    events = {event.place: event for event in answers.events}
    several = len({event.course for event in answers.events}) > 1
    other_line = any(event.other_line for event in answers.events)
    asked = [answers.rider] if answers.rider is not None else []
    asked += [corner_name(answers.corner)] if answers.corner is not None else []
    return SeasonWords(
        heading=f"Season: {', '.join(asked)}" if asked else "Season",
        facts=(counted(len(events), "event"), units.words),
        events_head=_events_head(several, other_line),
        events=tuple(_event_row(event, several, other_line) for event in answers.events),
        line_note=LINE_NOTE if other_line else "",
        corners=tuple(_corners(answers, events, several, units)),
        habits=season_habits(answers),
        changes=season_changes(answers, units),
        unchanged=_unchanged(answers, events),
        trouble=tuple(
            _trouble_row(one, several) for one in answers.trouble if one.lately is not False
        ),
        over=_over([one for one in answers.trouble if one.lately is False], several),
    )


def _events_head(several: bool, other_line: bool) -> Row:
    """Columns of :func:`_event_row`."""
    courses = ("course",) if several else ()
    return ("event", "riders", *courses, *(("another marker line at",) if other_line else ()))


def _event_row(event: Event, several: bool, other_line: bool) -> Row:
    """Name and riders, the course's number where there are ``several``, and where the line was another if it ever was."""
    row: Row = (event_name(event), str(event.riders))
    if several:
        row = (*row, str(event.course))
    if not other_line:
        return row
    return (*row, first_of([corner_name(name) for name in event.other_line]) or display.EMPTY)


def _unchanged(answers: Answers, events: Mapping[int, Event]) -> str:
    """What is said without a change: that nothing changed only where an event of the same course came before."""
    if answers.rider is not None and answers.corner is not None and not answers.ridden:
        return f"{answers.rider} has no timed lap at {corner_name(answers.corner)} in this season."
    ridden = [(one.rider, one.corner, events[one.place].course) for one in answers.ridden]
    # Where neither a rider nor a corner was asked for, the events tell whether a course was ridden again.
    rides: Sequence[object] = ridden or [event.course for event in answers.events]
    if len(set(rides)) < len(rides):
        return "Nothing clearly changed."
    if len(events) == 1:
        return "One event so far: nothing to hold it against."
    return "Nothing to hold against each other yet: that takes two events on the same course."


def _corners(
    answers: Answers, events: Mapping[int, Event], several: bool, units: Units
) -> Iterable[RiderInCorner]:
    def course_of(one: Ridden) -> int:
        return events[one.place].course

    def whose(one: Ridden) -> tuple[int, str, str]:
        return course_of(one), one.corner, one.rider

    # Within a course they come in riding order, and each rider's events in time order.
    for (course, corner, rider), group in groupby(sorted(answers.ridden, key=course_of), key=whose):
        ridden = list(group)
        where = f" (course {course})" if several else ""
        yield RiderInCorner(
            title=f"{corner_name(corner)}, {ridden[0].turn}{where}: {rider}",
            rows=tuple(_ridden_row(one, events[one.place], units) for one in ridden),
        )


def _ridden_row(one: Ridden, event: Event, units: Units) -> Row:
    return (
        event_name(event),
        str(one.laps),
        display.radius_text(_measured(one.radius_m), units),
        display.degrees_text(_measured(one.lean_deg)),
        count_of(one.tightened, one.tightened_counted),
        one.habit or "none",
        _seam_words(one.seams) or display.EMPTY,
    )


def _measured(median: Median) -> Measured:
    """A median of the season, in which None stands for what is not known."""
    return Measured(*(math.nan if number is None else number for number in median))


def _seam_words(seams: Sequence[SeamCalls]) -> str:
    """Calls of the seam that is counted; where none is, of each seam, with a word that being inside is no fault."""
    minded = [seam for seam in seams if seam.counted]
    beside = "" if minded else " (the marker line is inside)"
    return "; ".join(_seam_call_words(seam, beside) for seam in minded or seams)


def _seam_call_words(seam: SeamCalls, beside: str) -> str:
    laps = seam.inside + seam.outside + seam.unclear
    words = f"{seam.seam}{beside}: inside {seam.inside} of {laps}"
    return f"{words}, unclear {seam.unclear}" if seam.unclear else words


def _over(trouble: Sequence[Trouble], several: bool) -> str:
    """Who had trouble where over the season and none at his last event there, in a sentence; empty if nobody had."""
    corners: dict[str, list[str]] = {}
    for one in trouble:
        corners.setdefault(one.rider, []).append(_where(one, several))
    if not corners:
        return ""
    riders = [f"{rider} at {listed(at)}" for rider, at in corners.items()]
    return f"So over the season, but no more at the last event: {'; '.join(riders)}."


def _where(one: Trouble, several: bool) -> str:
    return corner_name(one.corner) + (f" (course {one.course})" if several else "")


def _trouble_row(one: Trouble, several: bool) -> Row:
    habits = [f"{habit} ({count_of(events, one.events)})" for habit, events in one.habits]
    return (
        _where(one, several),
        one.rider,
        count_of(one.tightened, one.tightened_counted),
        count_of(one.inside, one.called),
        # What was so at the only event cannot still be so.
        "yes" if one.lately and one.events == 1 else _LATELY[one.lately],
        "; ".join(habits) or "none",
    )
