"""Logs of another day than the rest of an event: the receiver may have given out an old one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from lapkit.compare.results import RunResult
from lapkit.compare.tables import began
from lapkit.remarks import Remark

_NIGHT = timedelta(hours=10)
"""Nobody rides for so long: days lie that far apart. UTC's own midnight may fall into the afternoon."""

_FEW = 0.25
"""Share of an event's runs up to which those of another day count as strays; with more, it lasted several days."""


def of_another_day(runs: Sequence[RunResult]) -> Iterator[Remark]:
    """A remark on each run that was ridden on another day than nearly all of them; runs without a date have no day."""
    starts = [(datetime.fromisoformat(at), run) for run in runs if (at := began(run.laps))]
    starts.sort(key=lambda each: each[0])
    days: list[list[tuple[datetime, RunResult]]] = []
    for each in starts:
        if not days or each[0] - days[-1][-1][0] > _NIGHT:
            days.append([])
        days[-1].append(each)
    if not days:
        return
    main = max(days, key=len)
    strays = [each for day in days if day is not main for each in day]
    if len(strays) > _FEW * len(starts):
        return
    for start, run in strays:
        text = (
            f"{run.rider}, run {run.session} was ridden on {_date(start)}, the others on {_date(main[0][0])}. "
            "If that log is of another day, put the right one in its place."
        )
        yield Remark(text, (run.rider,))


def _date(moment: datetime) -> str:
    return f"{moment.day} {moment:%B %Y}"
