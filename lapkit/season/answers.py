"""What a season answers, as ``questions.ask`` gives it and the season's page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


@dataclass(frozen=True)
class Event:
    """An event of the season.

    Attributes:
        place: in time order, from 1; events without a date come last.
        title: as its results have it.
        day: on which it began, where it was ridden, ISO 8601; None when no log had a calendar.
        course: number of its course, from 1 in the order first ridden.
        riders: how many rode.
        other_line: corners at which the marker line was another than at the course's event before, in riding order.
    """

    place: int
    title: str
    day: str | None
    course: int
    riders: int
    other_line: tuple[str, ...] = ()


class Median(NamedTuple):
    """The median over laps of a value and of each end of its 95 % interval; None where no lap has any."""

    value: float | None
    lo: float | None
    hi: float | None


class SeamCalls(NamedTuple):
    """Laps called inside a seam and outside it, and unclear ones; ``counted`` for the seam that is counted there."""

    seam: str
    inside: int
    outside: int
    unclear: int
    counted: bool


@dataclass(frozen=True)
class Ridden:
    """A rider in a corner at one event.

    Attributes:
        rider, corner, turn: whom, where, and which way it goes.
        place: of the event.
        laps: timed laps that stayed on the road there.
        radius_m, lean_deg: tightest radius and largest lean.
        tightened, tightened_counted: laps whose exit tightened, and how many could be judged.
        habit: what led among what he was told of the corner, in a few words; empty where it was no habit.
        seams: calls of each seam, the innermost first; where none is counted the marker line runs inside all of them.
    """

    rider: str
    corner: str
    turn: str
    place: int
    laps: int
    radius_m: Median
    lean_deg: Median
    tightened: int
    tightened_counted: int
    habit: str
    seams: tuple[SeamCalls, ...]


class Changed(StrEnum):
    """What can change from one event to the next, and in which unit."""

    RADIUS = "radius"
    """The tightest radius, metres."""
    LEAN = "lean"
    """The largest lean, degrees."""
    TIGHTENED = "tightened"
    """Laps whose exit tightened."""
    INSIDE = "inside"
    """Laps inside a seam."""


@dataclass(frozen=True)
class Change:
    """What clearly changed for a rider in a corner from one event to his next on that course.

    Attributes:
        rider, corner: whose change, and where.
        after_place, seen_place: the event after which it changed, and the one at which that was seen.
        what: what changed.
        before, after: its value at these two events.
        before_of, after_of: of how many laps, where laps are counted.
        seam: which, where laps inside a seam are counted.
    """

    rider: str
    corner: str
    after_place: int
    seen_place: int
    what: Changed
    before: float
    after: float
    before_of: int = 0
    after_of: int = 0
    seam: str = ""


class Fate(StrEnum):
    """What became of a habit from one event to the next."""

    LEFT_OFF = "left off"
    """He was not told of it again."""
    KEPT = "kept"
    """He was told of it again."""
    BEGUN = "begun"
    """It leads at the later event, and he was not told of it before."""


@dataclass(frozen=True)
class HabitChange:
    """What became of a habit that led what a rider was told of a corner.

    Attributes:
        rider, corner: whose habit, and where.
        after_place, seen_place: the event before, and his next one on that course.
        what: the habit, in a few words.
        fate: what became of it.
    """

    rider: str
    corner: str
    after_place: int
    seen_place: int
    what: str
    fate: Fate


@dataclass(frozen=True)
class Trouble:
    """A corner that troubles a rider over the season.

    Attributes:
        corner, course, rider: where, and whom; courses are numbered from 1.
        tightened, tightened_counted: laps whose exit tightened, and how many could be judged.
        inside, called: laps inside the counted seam, and how many could be called.
        events: at how many a radius of his was measured there.
        habits: those that he was told of and that led at one of these events: what in a few words, and at how many
            events.
        lately: whether what makes it a trouble was so at his last event there as well, in more than half of the laps
            or told to him; None where it was not and too few laps were counted to say that it is over.
    """

    corner: str
    course: int
    rider: str
    tightened: int
    tightened_counted: int
    inside: int
    called: int
    events: int
    habits: tuple[tuple[str, int], ...]
    lately: bool | None


@dataclass(frozen=True)
class Answers:
    """All that was asked, corners in riding order; ``ridden`` is empty unless a rider or a corner was named."""

    rider: str | None
    corner: str | None
    events: tuple[Event, ...]
    ridden: tuple[Ridden, ...]
    changes: tuple[Change, ...]
    trouble: tuple[Trouble, ...]
    habit_changes: tuple[HabitChange, ...] = ()
