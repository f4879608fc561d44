"""Why nothing can be said, where that is not the same as nothing being wrong."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lapkit.compare.quality import Quality
from lapkit.compare.results import RunResult
from lapkit.compare.standard import standards
from lapkit.course.course import Course

NO_LAP = "no lap could be timed from line to line"
TOO_COARSE = "no timed lap was logged finely enough for radius and lean"
NO_LINE = "there is no marker line to hold the laps against"
"""Reasons, to stand behind a colon."""


def untold(runs: Sequence[RunResult], course: Course, corner: str = "") -> str:
    """Why nothing can be told of a rider's runs, at one corner or at any; empty when something can.

    Args:
        runs: his runs.
        course: what they were ridden on.
        corner: one corner; all of them when empty.
    """
    timed = [set(run.tables["laps"]["lap"][_is(run, "laps", "kind", "timed")]) for run in runs]
    if not any(timed):
        return NO_LAP
    if not any(_measured(run, laps, corner) for run, laps in zip(runs, timed, strict=True)):
        return TOO_COARSE
    held = standards(course)
    names = [corner] if corner else [c.name for c in course.corners]
    return "" if any(held[name].line is not None for name in names) else NO_LINE


def _measured(run: RunResult, laps: set[int], corner: str) -> bool:
    """Whether any timed lap of a run was measured, at one corner or at any."""
    known = ~_is(run, "corners", "quality", Quality.POOR)
    if corner:
        known &= _is(run, "corners", "corner", corner)
    return not laps.isdisjoint(run.tables["corners"]["lap"][known])


def _is(run: RunResult, table: str, column: str, value: str) -> np.ndarray:
    return run.tables[table][column].to_numpy() == value
