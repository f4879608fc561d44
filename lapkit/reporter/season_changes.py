"""What changed between a season's events, in words or, where that would be much, counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from lapkit.counting import corner_name
from lapkit.days import in_words
from lapkit.reporter import display
from lapkit.season.answers import Answers, Change, Changed, Event
from lapkit.units import Units

_FEW = 10  # more changes are counted, unless a rider or a corner was asked for


@dataclass(frozen=True)
class EventChanges:
    """What changed from one event to the next, under a title."""

    title: str
    lines: tuple[str, ...]


def season_changes(answers: Answers, units: Units) -> tuple[EventChanges, ...]:
    """What changed, event by event; only counted where much did and neither a rider nor a corner was asked for."""
    events = {event.place: event for event in answers.events}
    asked_for_one = answers.rider is not None or answers.corner is not None
    if asked_for_one or len(answers.changes) <= _FEW:
        return tuple(_told(answers, events, units))
    return tuple(_counted(answers.changes, events))


def event_name(event: Event) -> str:
    """Day and title of an event."""
    day = in_words(date.fromisoformat(event.day)) if event.day else "no date"
    return f"{day}, {event.title}"


def count_of(count: int, whole: int) -> str:
    """``3 of 7``; a dash where there is nothing to count."""
    return f"{count} of {whole}" if whole else display.EMPTY


def _told(answers: Answers, events: Mapping[int, Event], units: Units) -> Iterable[EventChanges]:
    """For each pair of events a line for each rider's corner, all of its changes in it."""

    def pair(change: Change) -> tuple[int, int]:
        return change.after_place, change.seen_place

    def whose(change: Change) -> tuple[str, str]:
        return change.rider, change.corner

    for (after, seen), between in groupby(sorted(answers.changes, key=pair), key=pair):
        lines = []
        for (rider, corner), changes in groupby(between, key=whose):
            where = _whose(rider, corner, answers)
            lines.append(f"{where}: {'; '.join(_change(change, units) for change in changes)}.")
        title = f"From {event_name(events[after])} to {event_name(events[seen])}"
        yield EventChanges(title, tuple(lines))


def _whose(rider: str, corner: str, answers: Answers) -> str:
    """Rider and corner without what stands in the heading already: the one that was asked for."""
    if answers.rider is not None:
        return corner_name(corner)
    return rider if answers.corner is not None else f"{rider}, {corner_name(corner)}"


def _direction(change: Change) -> str:
    """The sign of a change in a word."""
    if change.what is Changed.RADIUS:
        return "larger" if change.after > change.before else "smaller"
    if change.what is Changed.LEAN:
        return "more" if change.after > change.before else "less"
    # Shares are compared as whole numbers of laps.
    more = change.after * change.before_of > change.before * change.after_of
    return "more often" if more else "less often"


def _change(change: Change, units: Units) -> str:
    word, size = _direction(change), abs(change.after - change.before)
    if change.what is Changed.RADIUS:
        return f"tightest radius about {display.length_text(size, units)} {word}"
    if change.what is Changed.LEAN:
        return f"largest lean about {size:.0f}° {word}"
    inside = change.what is Changed.INSIDE
    what = f"inside {_seam(change.seam)}" if inside else "exit tightened"
    before = count_of(round(change.before), change.before_of)
    after = count_of(round(change.after), change.after_of)
    return f"{what} {word}, {before} laps before and {after} after"


def _seam(name: str) -> str:
    """A seam as one says it: ``seam 1``, ``seam A``, ``the first seam``."""
    before, word, _ = name.lower().partition("seam")
    if not word:
        return f"seam {name}"
    return f"the {name}" if before else name


_COUNTED = {
    Changed.TIGHTENED: "exit tightened",
    Changed.INSIDE: "inside a seam",
    Changed.RADIUS: "tightest radius",
    Changed.LEAN: "largest lean",
}
"""What is counted of each event, in the order shown."""


def _counted(changes: Sequence[Change], events: Mapping[int, Event]) -> Iterable[EventChanges]:
    """For each event, in how many of its riders' corners what changed which way."""

    def place(change: Change) -> int:
        return change.after_place

    for after, of_event in groupby(sorted(changes, key=place), key=place):
        counts = Counter((change.what, _direction(change)) for change in of_event)
        lines = []
        for what, name in _COUNTED.items():
            ways = sorted((way, n) for (changed, way), n in counts.items() if changed is what)
            if ways:
                lines.append(f"{name}: {', '.join(f'{way} in {n}' for way, n in ways)}")
        title = f"After {event_name(events[after])}, counted over riders and corners"
        yield EventChanges(title, tuple(lines))
