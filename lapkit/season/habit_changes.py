"""What became of the habits that riders were told of, from one event to their next on the same course."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from lapkit.season.answers import Fate, HabitChange


class Attended(NamedTuple):
    """A rider at a corner at one event.

    Attributes:
        course, corner, rider: which.
        place, event: the event's place in time order and its number in the file.
        laps: timed laps there whose radius could be told.
    """

    course: str
    corner: str
    rider: str
    place: int
    event: int
    laps: int


Told = Mapping[tuple[int, str, str], Sequence[str]]
"""(event, corner, rider) → the habits told there in a few words, what led first."""


def habit_changes(attended: Iterable[Attended], told: Told, fewest: int) -> Iterator[HabitChange]:
    """What became of every habit that led at a corner, and which are new there.

    Args:
        attended: the events of one rider at one corner of a course together, in time order.
        told: what was told.
        fewest: laps that both events must have: with fewer it says nothing that no habit was reported.
    """
    for _, events in groupby(attended, key=lambda one: one[:3]):
        for before, seen in pairwise(events):
            if min(before.laps, seen.laps) >= fewest:
                yield from _between(before, seen, told)


def _between(before: Attended, seen: Attended, told: Told) -> Iterator[HabitChange]:
    was, now = (told.get((one.event, one.corner, one.rider), ()) for one in (before, seen))
    fates = [(what, Fate.KEPT if what in now else Fate.LEFT_OFF) for what in was[:1]]
    fates += [(what, Fate.BEGUN) for what in now[:1] if what not in was]
    for what, fate in fates:
        yield HabitChange(before.rider, before.corner, before.place, seen.place, what, fate)
