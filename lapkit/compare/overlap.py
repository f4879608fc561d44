"""Logs given twice: those of one rider that cover the same minutes, and one ride listed for two riders."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from lapkit.compare.results import RunResult
from lapkit.remarks import Remark


def overlaps(rider: str, runs: Sequence[RunResult]) -> Iterator[Remark]:
    """Remarks on logs of one rider that cover the same minutes, so that their laps are counted twice."""
    spans = sorted((span for run in runs if (span := _span(run))), key=lambda span: span.begin)
    # Of all logs so far, the one that ends last: it may reach beyond others that began after it.
    latest: _Span | None = None
    for span in spans:
        if latest is not None and span.begin < latest.end:
            text = (
                f"{rider}: the logs of run {latest.session} and run {span.session} overlap in time, so laps in both "
                "are counted twice. Leave one of them out, or the one that is another rider’s."
            )
            yield Remark(text, (rider,))
        if latest is None or span.end > latest.end:
            latest = span


def rides_given_twice(runs: Sequence[RunResult]) -> Iterator[Remark]:
    """Remarks on riders whose laps are the same to the last digit, because one was given the other's log."""
    first_with: dict[tuple[object, ...], RunResult] = {}
    for run in runs:
        laps = _whole_laps(run)
        if not laps:
            continue
        first = first_with.setdefault(laps, run)
        if first.rider != run.rider:
            text = (
                f"{first.rider}, run {first.session} and {run.rider}, run {run.session} are one and the "
                "same ride. Name each rider’s own log in riders.csv."
            )
            yield Remark(text, (first.rider, run.rider))


def _whole_laps(run: RunResult) -> tuple[tuple[str, float], ...]:
    """Start, as ISO 8601, and duration in seconds of each lap that has a time."""
    starts, times = run.laps["start_utc"].tolist(), run.laps["time_s"].tolist()
    laps = zip(starts, times, strict=True)
    return tuple((start, time_s) for start, time_s in laps if math.isfinite(time_s))


class _Span(NamedTuple):
    """When a run's first whole lap began and its last one ended, and the run's name."""

    begin: datetime
    end: datetime
    session: str


def _span(run: RunResult) -> _Span | None:
    """The time that a run's whole laps took up; None for a log without dates."""
    laps = [
        (datetime.fromisoformat(start), timedelta(seconds=time_s))
        for start, time_s in _whole_laps(run)
        if start
    ]
    if not laps:
        return None
    begin = min(start for start, _ in laps)
    end = max(start + lasted for start, lasted in laps)
    return _Span(begin, end, run.session)
