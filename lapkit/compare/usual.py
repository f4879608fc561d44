"""What a rider usually does: the laps of one run pooled, corner by corner.

One pass is one observation. The position offset is shared by the laps of a run, and so is draw k of
the ensemble: pooled draw by draw, what laps share stays in the spread and what they do not averages
out. The bias of an extreme is shared too.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lapkit.compare.results import MeasureAt, RunResult
from lapkit.path.summary import spread_of_extreme
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "corner", "marker", "measure", "laps", "usual", "scatter_sd", "shared_sd",
)  # fmt: skip
"""Columns of the table ``usual``: mean over laps, scatter between laps, spread that they share."""

BEND = "exit_curvature_1pm"
"""The usual lap's tightest bend of the exit, 1/m: the measure whose mean over laps is meaningful where radii are not."""

_TOLD = ("laps", "usual", "scatter_sd", "shared_sd")


class Usual(NamedTuple):
    """What the laps of one run tell of a measure, in its own unit.

    Attributes:
        laps: how many had a value.
        mean: over them; NaN of none.
        scatter_sd: standard deviation from lap to lap; NaN of fewer than two.
        shared_sd: one standard deviation of what all of them are off by alike.
    """

    laps: int
    mean: float
    scatter_sd: float
    shared_sd: float

    @property
    def sd(self) -> float:
        """One standard deviation of how well the mean tells what the rider usually does."""
        told = (np.array(each) for each in (self.laps, self.scatter_sd, self.shared_sd))
        return float(sd_of_usual(*told))


def usual_of(run: RunResult) -> dict[MeasureAt, Usual]:
    """A run's table ``usual``, in its order; empty for a run without one."""
    table = run.tables.get("usual")
    if table is None:
        return {}
    where = zip(*(table[name].tolist() for name in MeasureAt._fields), strict=True)
    told = zip(*(table[name].tolist() for name in _TOLD), strict=True)
    return {MeasureAt(*at): Usual(*each) for at, each in zip(where, told, strict=True)}


def sd_of_usual(laps: FloatArray, scatter_sd: FloatArray, shared_sd: FloatArray) -> FloatArray:
    """One standard deviation of how well laps tell what a rider usually does: what they share, and their scatter.

    Args:
        laps: how many, any shape.
        scatter_sd: from lap to lap, of that shape and in the measure's unit; NaN of one lap, which tells none.
        shared_sd: what they have in common, the same.
    """
    by_laps = np.square(np.nan_to_num(scatter_sd)) / np.maximum(laps, 1.0)
    return np.sqrt(np.square(shared_sd) + by_laps)


def usual_columns(rows: FloatArray) -> dict[str, FloatArray]:
    """Pool measures over laps.

    Args:
        rows: their values in every row of the ensemble, shape ``(rows, laps, ...)``; laps in which a
            row has no value are left out.

    Returns:
        ``laps``, ``usual``, ``scatter_sd`` (NaN for fewer than two laps) and ``shared_sd``, shape ``(...)``.
    """
    known = np.isfinite(rows).all(axis=0)
    count = np.count_nonzero(known, axis=0)
    some = np.where(count > 0, count, np.nan)
    means = np.sum(np.where(known, rows, 0.0), axis=1) / some
    away = np.where(known, rows[0] - means[0], 0.0)
    free = np.where(count > 1, count - 1.0, np.nan)
    return {
        "laps": count,
        "usual": means[0],
        "scatter_sd": np.sqrt(np.sum(np.square(away), axis=0) / free),
        "shared_sd": spread_of_extreme(means),
    }
