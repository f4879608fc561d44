"""How often a rider tightens the exit, corner by corner, and what lean that takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.compare.judged_laps import CornerLaps, Lines
from lapkit.compare.quality import PassQuality
from lapkit.compare.results import RunResult
from lapkit.compare.seams import CALL_AT
from lapkit.compare.tables import timed_numbers


@dataclass(frozen=True)
class ExitCalls:
    """A rider's timed laps through the exit of a corner, those of all his runs.

    Attributes:
        laps: how many could be judged.
        tightened: how many are called so (:func:`~lapkit.compare.corners.tightened`).
        surely_below: how many were surely below :data:`~lapkit.compare.corners.TIGHTENED_BELOW` of the marker line's
            radius, further over or not: what counts where it is a habit.
        lean_added_deg: lean that those called tightened took over the exit beyond what the marker line asks for at the
            same speeds, their median, degrees; NaN of none.
    """

    laps: int
    tightened: int
    surely_below: int
    lean_added_deg: float


def exit_calls(runs: Sequence[RunResult]) -> dict[str, ExitCalls]:
    """Corner → how a rider's exits were ridden there; corners are left out where none could be judged."""
    lines = Lines(runs, "corners")
    timed = [timed_numbers(run.tables["laps"]) for run in runs]
    at: dict[str, list[int]] = {}
    for line, (run, lap, corner, quality) in enumerate(lines.keys("lap", "corner", "quality")):
        if lap in timed[run] and quality != PassQuality.POOR:
            at.setdefault(corner, []).append(line)
    every = CornerLaps.read(lines)
    found = {corner: _calls(every.of(np.array(own))) for corner, own in at.items()}
    return {corner: calls for corner, calls in found.items() if calls.laps}


def _calls(laps: CornerLaps) -> ExitCalls:
    added = laps.exit_lean_added_deg[laps.exit_called]
    return ExitCalls(
        laps=int(np.count_nonzero(np.isfinite(laps.p_tightened))),
        tightened=int(np.count_nonzero(laps.exit_called)),
        surely_below=int(np.count_nonzero(np.nan_to_num(laps.p_tightened) >= CALL_AT)),
        lean_added_deg=float(np.median(added)) if added.size else float("nan"),
    )
