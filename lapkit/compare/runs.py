"""One rider's runs against each other in time order: did the talk help?

Paired by corner; laps are the units; the position offset, which a run's laps share, is counted in
wherever a line is compared. Many corners are looked at, so false discoveries are held down: within
each kind of measure by Benjamini and Hochberg.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from lapkit.compare.results import RunResult
from lapkit.compare.stats import change, discoveries
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "corner", "marker", "measure", "session_before", "session_after", "before", "after",
    "change", "change_lo", "change_hi", "p", "found",
)  # fmt: skip
"""Columns of :func:`changes`."""

RATE = 0.05
"""Of the changes that are reported so many may be false, on average."""

_CORNER = ("exit_radius_min_m", "lean_max_deg", "turn_in_early_m", "time_s")
_MARKER = ("wide_of_line_m",)
_SHARED = frozenset({"wide_of_line_m"})
_FEWEST_LAPS = 2


@dataclass(frozen=True, eq=False)
class _Laps:
    """Values of one measure in the laps of one run, and what they share."""

    values: FloatArray
    shared_sd: float


def changes(before: RunResult, after: RunResult) -> pd.DataFrame:
    """Every measure's change at every corner from one run to another of the same rider.

    ``change`` has the measure's unit, with the ends of its 95 % interval. ``found`` says which may
    be reported; within a measure no more than :data:`RATE` of them are false, on average.
    """
    earlier, later = _measures(before), _measures(after)
    records = []
    for key, old in earlier.items():
        new = later.get(key)
        if new is None or min(len(old.values), len(new.values)) < _FEWEST_LAPS:
            continue
        shared = float(np.hypot(old.shared_sd, new.shared_sd))
        found = change(old.values, new.values, shared)
        corner, marker, measure = key
        ends = (float(old.values.mean()), float(new.values.mean()))
        records.append(
            (before.rider, corner, marker, measure, before.session, after.session, *ends, *found)
        )
    table = pd.DataFrame(records, columns=list(COLUMNS[:-1]))
    table["found"] = False
    for _, rows in table.groupby("measure"):
        table.loc[rows.index, "found"] = discoveries(rows["p"].to_numpy(dtype=np.float64), RATE)
    return table


def all_changes(runs: Sequence[RunResult]) -> pd.DataFrame:
    """Changes from each of a rider's runs, in time order, to the next, and from the first to the last."""
    pairs = list(pairwise(runs))
    if len(runs) > 2:
        pairs.append((runs[0], runs[-1]))
    frames = [changes(before, after) for before, after in pairs]
    full = [frame for frame in frames if len(frame)]
    return pd.concat(full, ignore_index=True) if full else pd.DataFrame(columns=list(COLUMNS))


def _measures(run: RunResult) -> dict[tuple[str, str, str], _Laps]:
    """(corner, marker, measure) → its values in the timed laps that could be judged."""
    laps = run.tables["laps"]
    timed = set(laps.loc[laps["kind"] == "timed", "lap"])
    usual = run.tables["usual"].set_index(["corner", "marker", "measure"])["shared_sd"].to_dict()
    found: dict[tuple[str, str, str], _Laps] = {}
    for table, by, measures in (
        ("corners", ["corner"], _CORNER),
        ("markers", ["corner", "marker"], _MARKER),
    ):
        rows = run.tables[table]
        for names, group in rows[rows["lap"].isin(timed)].groupby(by, sort=False):
            corner, marker = (*names, "")[:2]
            for measure in measures:
                values = group[measure].to_numpy(dtype=np.float64)
                shared = usual.get((corner, marker, measure), 0.0) if measure in _SHARED else 0.0
                found[corner, marker, measure] = _Laps(values[np.isfinite(values)], shared)
    return found
