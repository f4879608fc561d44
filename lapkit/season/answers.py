"""What a season answers, as ``questions.ask`` gives it and the season's page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


@dataclass(frozen=True)
class Event:
    """An event: its ``place`` in time order from 1, and the number of its course from 1."""

    place: int
    title: str
    start_utc: str | None
    course: int
    riders: int


class Median(NamedTuple):
    """A median over laps with the medians of its interval's ends; None where no lap has any."""

    value: float | None
    lo: float | None
    hi: float | None


class SeamCalls(NamedTuple):
    """Laps inside a seam, outside, and unclear; ``counted`` is whether it is the one counted there."""

    seam: str
    inside: int
    outside: int
    unclear: int
    counted: bool


@dataclass(frozen=True)
class Ridden:
    """A rider in a corner at one event, over so many ``laps``.

    ``habit`` is the habit that led what he was told of the corner, in a few words, or empty. ``seams`` has the
    innermost seam first; where none is counted the marker line runs inside all of them.
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


@dataclass(frozen=True)
class Change:
    """What clearly changed for a rider in a corner from one event to his next on that course.

    ``what`` is ``radius`` (metres), ``lean`` (degrees), ``tightened`` or ``inside`` (laps, each with
    the laps they were counted among; ``seam`` names the seam).
    """

    rider: str
    corner: str
    after_place: int
    seen_place: int
    what: str
    before: float
    after: float
    before_of: int = 0
    after_of: int = 0
    seam: str = ""


class Fate(StrEnum):
    """What became of a habit from one event to the next."""

    LEFT_OFF = "left off"
    KEPT = "kept"
    BEGUN = "begun"


@dataclass(frozen=True)
class HabitChange:
    """What became of the habit, in a few words, that led what a rider was told of a corner, at his next event there.

    Left off is one that he was not told of again; begun is one that leads at the later event and was not told before.
    """

    rider: str
    corner: str
    after_place: int
    seen_place: int
    what: str
    fate: Fate


@dataclass(frozen=True)
class Trouble:
    """A rider's laps tightened, and inside the counted seam, in a corner over the season.

    ``habits`` are those that he was told of and that led at one of his ``events`` there: what in a few words, and at
    how many events. ``lately`` is whether that which makes it a trouble
    was so at his last event there as well: in more than half of the laps, or told; None where it is not, and too
    few laps could be counted there to say that it is over.
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
