"""What became of the habits that riders were told of, in words: no longer told of, still told of, new."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from lapkit.counting import corner_name, listed
from lapkit.reporter.season_changes import event_name
from lapkit.season.answers import Answers, Fate, HabitChange

HABITS_NOTE = (
    "Of what was told first at a corner, where a rider had five laps or more there at both events. No longer told of "
    "is good news and no proof: it shows in too few laps, or not surely enough."
)

_HEADS = {Fate.LEFT_OFF: "No longer told of", Fate.KEPT: "Still told of", Fate.BEGUN: "New"}
_MOST = 12  # lines under one head, unless a rider or a corner was asked for


@dataclass(frozen=True)
class HabitsTold:
    """What became of habits from one event to the next.

    Attributes:
        title: between which events.
        groups: what became of them, each with a line for every habit of a rider.
    """

    title: str
    groups: tuple[tuple[str, tuple[str, ...]], ...]


def season_habits(answers: Answers) -> tuple[HabitsTold, ...]:
    """What became of habits, event by event."""
    names = {event.place: event_name(event) for event in answers.events}

    def pair(change: HabitChange) -> tuple[int, int]:
        return change.after_place, change.seen_place

    return tuple(
        HabitsTold(f"From {names[after]} to {names[seen]}", tuple(_groups(list(rows), answers)))
        for (after, seen), rows in groupby(sorted(answers.habit_changes, key=pair), key=pair)
    )


def _groups(
    changes: Sequence[HabitChange], answers: Answers
) -> Iterable[tuple[str, tuple[str, ...]]]:
    for fate, head in _HEADS.items():
        lines = _lines([each for each in changes if each.fate is fate], answers)
        if lines:
            yield head, tuple(lines)


def _lines(changes: Sequence[HabitChange], answers: Answers) -> list[str]:
    """A line for every habit of a rider with its corners, those of most corners first."""
    at: dict[tuple[str, str], list[str]] = {}
    for each in changes:
        at.setdefault((each.rider, each.what), []).append(corner_name(each.corner))
    lines = []
    for (rider, what), corners in sorted(at.items(), key=lambda one: -len(one[1])):
        # Who or what was asked for stands in the heading already.
        who = "" if answers.rider is not None else f"{rider}: "
        where = "" if answers.corner is not None else f" at {listed(corners)}"
        line = f"{who}{what}{where}"
        lines.append(line[0].upper() + line[1:] if not who else line)
    if answers.rider is None and answers.corner is None and len(lines) > _MOST:
        lines = [*lines[:_MOST], f"and {len(lines) - _MOST} more: name a rider or a corner"]
    return lines
