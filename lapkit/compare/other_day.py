"""Logs of another day than the rest of an event: the receiver may have given out an old one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from lapkit.compare.results import RunResult
from lapkit.compare.tables import began
from lapkit.days import own_and_strays
from lapkit.remarks import Remark


def of_another_day(runs: Sequence[RunResult]) -> Iterator[Remark]:
    """A remark on each run that was ridden on another day than nearly all of them; runs without a date have no day."""
    starts = [began(run.laps) for run in runs]
    own, strays = own_and_strays(starts)
    for i in strays:
        text = (
            f"{runs[i].rider}, run {runs[i].session} was ridden on {_date(starts[i])}, "
            f"the others on {_date(starts[own[0]])}. "
            "If that log is of another day, put the right one in its place."
        )
        yield Remark(text, (runs[i].rider,))


def _date(start: str) -> str:
    moment = datetime.fromisoformat(start)
    return f"{moment.day} {moment:%B %Y}"
