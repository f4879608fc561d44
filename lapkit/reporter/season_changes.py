"""What changed between a season's events, in words: for a rider or a corner asked for, else counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from lapkit.counting import corner_name
from lapkit.reporter import display
from lapkit.season.answers import Answers, Change, Event
from lapkit.units import Units

_FEW = 10  # more changes are counted, unless a rider or a corner was asked for


@dataclass(frozen=True)
class EventChanges:
    """What changed from one event to the next, a line for each rider's corner."""

    title: str
    lines: tuple[str, ...]


def season_changes(answers: Answers, units: Units) -> tuple[EventChanges, ...]:
    """What changed, event by event; where nobody and no corner was asked for and much did, how often."""
    events = {event.place: event for event in answers.events}
    asked_for_one = answers.rider is not None or answers.corner is not None
    if asked_for_one or len(answers.changes) <= _FEW:
        return tuple(_told(answers, events, units))
    return tuple(_counted(answers.changes, events))


def event_name(event: Event) -> str:
    """Day and title of an event."""
    try:
        start = datetime.fromisoformat(event.start_utc or "")
    except ValueError:
        return f"no date, {event.title}"
    return f"{start.day} {start:%B %Y}, {event.title}"


def count_of(count: int, whole: int) -> str:
    """``3 of 7``; a dash of nothing."""
    return f"{count} of {whole}" if whole else display.EMPTY


def _told(answers: Answers, events: dict[int, Event], units: Units) -> Iterable[EventChanges]:
    def pair(change: Change) -> tuple[int, int]:
        return change.after_place, change.seen_place

    def whose(change: Change) -> tuple[str, str]:
        return change.rider, change.corner

    asked = (answers.rider, answers.corner)
    for (after, seen), rows in groupby(sorted(answers.changes, key=pair), key=pair):
        lines = []
        for names, changes in groupby(rows, key=whose):
            # Who or what was asked for stands in the heading already.
            named = (names[0], corner_name(names[1]))
            shown = [n for n, known in zip(named, asked, strict=True) if known is None] or named[1:]
            what = "; ".join(_change(change, units) for change in changes)
            lines.append(f"{', '.join(shown)}: {what}.")
        yield EventChanges(
            f"From {event_name(events[after])} to {event_name(events[seen])}", tuple(lines)
        )


def _direction(change: Change) -> str:
    """The sign of a change in a word."""
    if change.what in ("radius", "lean"):
        larger, smaller = ("larger", "smaller") if change.what == "radius" else ("more", "less")
        return larger if change.after > change.before else smaller
    more = change.after * change.before_of > change.before * change.after_of
    return "more often" if more else "less often"


def _change(change: Change, units: Units) -> str:
    word, size = _direction(change), abs(change.after - change.before)
    if change.what == "radius":
        return f"tightest radius about {display.length_text(size, units)} {word}"
    if change.what == "lean":
        return f"largest lean about {size:.0f}° {word}"
    where = "exit tightened"
    if change.what == "inside":
        where = f"inside {_seam(change.seam)}"
    before = count_of(round(change.before), change.before_of)
    after = count_of(round(change.after), change.after_of)
    return f"{where} {word}, {before} laps before and {after} after"


def _seam(name: str) -> str:
    """``seam 1``, ``seam A``, ``the first seam``."""
    before, word, _ = name.lower().partition("seam")
    if not word:
        return f"seam {name}"
    return f"the {name}" if before else name


def _counted(changes: Sequence[Change], events: dict[int, Event]) -> Iterable[EventChanges]:
    """For each event, in how many of its riders' corners what changed which way."""
    names = {
        "tightened": "exit tightened", "inside": "inside a seam", "radius": "tightest radius",
        "lean": "largest lean",
    }  # fmt: skip
    counts: dict[int, dict[str, Counter[str]]] = {}
    for change in changes:
        kinds = counts.setdefault(change.after_place, {what: Counter() for what in names})
        kinds[change.what][_direction(change)] += 1
    for place, kinds in sorted(counts.items()):
        lines = [
            f"{names[what]}: {', '.join(f'{way} in {n}' for way, n in sorted(ways.items()))}"
            for what, ways in kinds.items()
            if ways
        ]
        title = f"After {event_name(events[place])}, counted over riders and corners"
        yield EventChanges(title, tuple(lines))
