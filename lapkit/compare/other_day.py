"""Logs of another day than the rest of an event: the receiver may have given out an old one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lapkit.compare.results import RunResult
from lapkit.compare.tables import began
from lapkit.days import in_words, local_day, own_and_strays
from lapkit.remarks import Remark


def of_another_day(runs: Sequence[RunResult], lon_deg: float) -> Iterator[Remark]:
    """A remark on each run that was ridden on another day than nearly all of them; runs without a date have no day.

    Args:
        runs: of all riders.
        lon_deg: longitude of the course, degrees, by which its days are told.
    """
    starts = [began(run.laps) for run in runs]
    own, strays = own_and_strays(starts, lon_deg)
    for i in strays:
        text = (
            f"{runs[i].rider}, run {runs[i].session} was ridden on {in_words(local_day(starts[i], lon_deg))}, "
            f"the others on {in_words(local_day(starts[own[0]], lon_deg))}. "
            "If that log is of another day, put the right one in its place."
        )
        yield Remark(text, (runs[i].rider,))
