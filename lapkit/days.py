"""The days of an event, told from when its runs began: its own, and those of logs that strayed in from another day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

_NIGHT = timedelta(hours=10)
"""Nobody rides for so long: days lie that far apart. UTC's own midnight may fall into the afternoon."""

_FEW = 0.25
"""Share of an event's runs up to which those of another day count as strays; with more, it lasted several days."""


def own_and_strays(starts: Sequence[str]) -> tuple[list[int], list[int]]:
    """Which runs were ridden on the days of the event, and which on another day than nearly all; in time order.

    Args:
        starts: when each run began, ISO 8601; "" for one without a date, which is among neither.
    """
    began = {i: datetime.fromisoformat(start) for i, start in enumerate(starts) if start}
    days: list[list[int]] = []
    for i in sorted(began, key=began.__getitem__):
        if not days or began[i] - began[days[-1][-1]] > _NIGHT:
            days.append([])
        days[-1].append(i)
    main = max(days, key=len, default=[])
    strays = [i for day in days if day is not main for i in day]
    if len(strays) > _FEW * len(began):
        return [i for day in days for i in day], []
    return main, strays


def event_began(starts: Iterable[str]) -> str:
    """When an event began whose runs began then: strays do not count; "" where no run has a date."""
    listed = list(starts)
    own, _ = own_and_strays(listed)
    return listed[own[0]] if own else ""
