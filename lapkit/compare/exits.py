"""How often a rider tightens the exit, corner by corner, and what lean that takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.compare.judged_laps import CornerLaps, Lines, judged_lines
from lapkit.compare.results import RunResult
from lapkit.path.summary import CALL_AT


@dataclass(frozen=True)
class ExitCalls:
    """A rider's timed laps through the exit of a corner, from all his runs.

    Attributes:
        laps: number of laps that could be judged.
        tightened: number that are called tightened (:func:`~lapkit.compare.corners.tightened`).
        surely_below: number whose radius was surely below :data:`~lapkit.compare.corners.TIGHTENED_BELOW` of the marker
            line's, further over or not; these count where tightening is a habit.
        lean_added_deg: lean over the exit beyond what the marker line asks for at the same speeds, degrees; the median
            over the laps called tightened, NaN if there are none.
    """

    laps: int
    tightened: int
    surely_below: int
    lean_added_deg: float


def exit_calls(runs: Sequence[RunResult]) -> dict[str, ExitCalls]:
    """Name of a corner → how a rider's exits were ridden there, for every corner where any lap could be judged."""
    every = CornerLaps.read(Lines(run.corners for run in runs))
    found = {}
    for corner, lines in judged_lines(runs).items():
        calls = _calls(every.of(np.array(list(lines.values()))))
        if calls.laps:
            found[corner] = calls
    return found


def _calls(laps: CornerLaps) -> ExitCalls:
    added = laps.exit_lean_added_deg[laps.exit_called]
    return ExitCalls(
        laps=int(np.count_nonzero(np.isfinite(laps.p_exit_tightened))),
        tightened=int(np.count_nonzero(laps.exit_called)),
        surely_below=int(np.count_nonzero(np.nan_to_num(laps.p_exit_tightened) >= CALL_AT)),
        lean_added_deg=float(np.median(added)) if added.size else float("nan"),
    )
