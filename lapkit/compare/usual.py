"""A rider's usual line: the laps of one run pooled, corner by corner.

One pass is one observation. The position offset is shared by the laps of a run, and so is draw k of
the ensemble: pooled draw by draw, what laps share stays in the spread and what they do not averages
out. The bias of an extreme is shared too.
"""

from __future__ import annotations

import numpy as np

from lapkit.path.summary import spread_of_extreme
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "corner", "marker", "measure", "laps", "usual", "scatter_sd", "shared_sd",
)  # fmt: skip
"""Columns of the table ``usual``: mean over laps, scatter between laps, spread that they share."""


def usual_columns(rows: FloatArray) -> dict[str, float]:
    """Pool one measure over laps.

    Args:
        rows: its value in every row of the ensemble, shape ``(rows, laps)``; laps in which a
            row has no value are left out.

    Returns:
        ``laps``, ``usual``, ``scatter_sd`` (NaN for fewer than two laps) and ``shared_sd``.
    """
    known = rows[:, np.isfinite(rows).all(axis=0)]
    count = known.shape[1]
    if count == 0:
        return {"laps": 0, "usual": np.nan, "scatter_sd": np.nan, "shared_sd": np.nan}
    return {
        "laps": count,
        "usual": float(known[0].mean()),
        "scatter_sd": float(known[0].std(ddof=1)) if count > 1 else np.nan,
        "shared_sd": float(spread_of_extreme(known.mean(axis=1))),
    }
