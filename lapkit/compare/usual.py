"""What a rider usually does: the laps of one run pooled, corner by corner.

One pass is one observation. All laps of a run share its position offset, and so does draw k of the ensemble in all of them.
Laps are therefore averaged draw by draw: the error that laps share stays in the spread of these means, and the error that
each lap has for itself averages out. The bias of an extreme is shared too.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.path.summary import spread_of_extreme

COLUMNS = (
    "rider", "session", "corner", "marker", "measure", "laps", "usual", "scatter_sd", "shared_sd",
)  # fmt: skip
"""Columns of the table ``usual``, whose values are those of :class:`Usual`."""

BEND = "exit_curvature_1pm"
"""Largest curvature of the exit, 1/m: unlike the radius it has a meaningful mean over laps."""


class Usual(NamedTuple):
    """A measure over the laps of one run, in its own unit.

    Attributes:
        laps: number of laps with a value.
        mean: mean over them; NaN without any.
        scatter_sd: standard deviation from lap to lap; NaN for fewer than two.
        shared_sd: one standard deviation of the error that all laps share.
    """

    laps: int
    mean: float
    scatter_sd: float
    shared_sd: float

    @property
    def sd(self) -> float:
        """Standard error of :attr:`mean` as what the rider usually does: the shared error, and the scatter over the laps.

        A single lap shows no scatter; its standard error is then the shared one alone.
        """
        scatter_sd = 0.0 if math.isnan(self.scatter_sd) else self.scatter_sd
        return math.sqrt(self.shared_sd**2 + scatter_sd**2 / max(self.laps, 1))


def usual_of(run: RunResult) -> dict[MeasureAt, Usual]:
    """A run's table ``usual``, in its order; empty for a run without one."""
    table = run.tables.get("usual")
    if table is None:
        return {}
    places = zip(*(table[name].tolist() for name in ("corner", "marker", "measure")), strict=True)
    values = zip(
        *(table[name].tolist() for name in ("laps", "usual", "scatter_sd", "shared_sd")),
        strict=True,
    )
    return dict(zip(map(MeasureAt._make, places), map(Usual._make, values), strict=True))


def usual_columns(rows: FloatArray) -> dict[str, FloatArray]:
    """Pool measures over laps.

    Args:
        rows: values in every row of the ensemble, ``(rows, laps, ...)``; a lap in which any row has no value is left out.

    Returns:
        The columns ``laps``, ``usual``, ``scatter_sd`` and ``shared_sd`` as in :class:`Usual`, ``(...)`` each.
    """
    known = np.isfinite(rows).all(axis=0)
    count = np.count_nonzero(known, axis=0)
    means = np.sum(np.where(known, rows, 0.0), axis=1) / np.where(count > 0, count, np.nan)
    deviation = np.where(known, rows[0] - means[0], 0.0)
    free = np.where(count > 1, count - 1.0, np.nan)
    return {
        "laps": count,
        "usual": means[0],
        "scatter_sd": np.sqrt(np.sum(np.square(deviation), axis=0) / free),
        "shared_sd": spread_of_extreme(means),
    }
