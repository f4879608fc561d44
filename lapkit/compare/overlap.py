"""Logs of one rider that cover the same minutes, and one ride given for two riders."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from lapkit.compare.results import RunResult


def overlaps(rider: str, runs: Sequence[RunResult]) -> Iterator[str]:
    """Sentences about logs of one rider that cover the same minutes: their laps are counted twice."""
    spans = [span for run in runs if (span := _span(run))]
    spans.sort(key=lambda span: span[0])
    for (_, end, one), (start, _, other) in itertools.pairwise(spans):
        if start < end:
            yield (
                f"{rider}: {_whose(one, other)} overlap in time, so laps in both are "
                "counted twice. Leave one of them out."
            )


def rides_given_twice(runs: Sequence[RunResult]) -> Iterator[str]:
    """Sentences about riders whose laps are the same to the last digit: one has the other's log."""
    ridden: dict[tuple[object, ...], RunResult] = {}
    for run in runs:
        times = (run.tables["laps"][name].tolist() for name in ("start_utc", "time_s"))
        whole = tuple(lap for lap in zip(*times, strict=True) if math.isfinite(lap[1]))
        if not whole:
            continue
        first = ridden.setdefault(whole, run)
        if first.rider != run.rider:
            yield (
                f"{first.rider}, run {first.session} and {run.rider}, run {run.session} are one and the "
                "same ride. Name each rider’s own log in riders.csv."
            )


def _whose(one: str, other: str) -> str:
    return f"two logs of run {one}" if one == other else f"the logs of run {one} and run {other}"


def _span(run: RunResult) -> tuple[datetime, datetime, str] | None:
    """When its first whole lap began and its last one ended, where its log has a clock, and the run."""
    times = (run.tables["laps"][name].tolist() for name in ("start_utc", "time_s"))
    whole = [
        (datetime.fromisoformat(start), timedelta(seconds=time_s))
        for start, time_s in zip(*times, strict=True)
        if start and math.isfinite(time_s)
    ]
    if not whole:
        return None
    return (
        min(start for start, _ in whole),
        max(start + lasted for start, lasted in whole),
        run.session,
    )
