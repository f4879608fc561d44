"""The days of an event where it was ridden: its own, and those of logs that strayed in from another day.

Logs tell the time in UTC, whose midnight falls into the riding day in much of the world. The day is therefore told by
the sun at the course's longitude, in whole hours. A country's clock may be three hours off the sun's, and that does no
harm: nobody rides in the night, so the hours near midnight never decide which day it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

_DAY_BEGINS = timedelta(hours=4)
"""By the sun: whoever still rides after midnight rides on the evening's day. So does an afternoon in the far east whose
log has the local time without its zone, which is read as UTC."""

_NIGHT = timedelta(hours=6)
"""Days lie at least that far apart, from the last start to the first; a race through the night is of one day."""

_FEW = 0.25
"""Share of an event's runs up to which those of another day count as strays; with more, it lasted several days."""


def ahead_of_utc(lon_deg: float) -> timedelta:
    """How far the mean sun at a longitude, degrees, is ahead of UTC, in whole hours."""
    return timedelta(hours=round(lon_deg / 15.0))


def local_day(start: str, lon_deg: float) -> date:
    """The day on which a run began, where it was ridden.

    Args:
        start: when, ISO 8601 in UTC.
        lon_deg: longitude of the course, degrees.
    """
    return (datetime.fromisoformat(start) + ahead_of_utc(lon_deg) - _DAY_BEGINS).date()


def in_words(day: date) -> str:
    """A day as people read it: ``14 June 2031``."""
    return f"{day.day} {day:%B %Y}"


def own_and_strays(starts: Sequence[str], lon_deg: float) -> tuple[list[int], list[int]]:
    """Which runs were ridden on the days of the event, and which on another day than nearly all; in time order.

    Args:
        starts: when each run began, ISO 8601 in UTC; "" for one without a date, which is among neither.
        lon_deg: longitude of the course, degrees.
    """
    began = {i: datetime.fromisoformat(start) for i, start in enumerate(starts) if start}
    of_day = {i: local_day(starts[i], lon_deg) for i in began}
    days: list[list[int]] = []
    for i in sorted(began, key=began.__getitem__):
        last = days[-1][-1] if days else None
        if last is None or (of_day[i] != of_day[last] and began[i] - began[last] > _NIGHT):
            days.append([])
        days[-1].append(i)
    main = max(days, key=len, default=[])
    strays = [i for day in days if day is not main for i in day]
    if len(strays) > _FEW * len(began):
        return [i for day in days for i in day], []
    return main, strays


def event_began(starts: Iterable[str], lon_deg: float) -> str:
    """When an event began whose runs began then: strays do not count; "" where no run has a date."""
    listed = list(starts)
    own, _ = own_and_strays(listed, lon_deg)
    return listed[own[0]] if own else ""
