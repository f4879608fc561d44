"""A rider's usual line: the laps of one run pooled, corner by corner.

One pass is one observation. The position offset is shared by the laps of a run, and so is draw k of
the ensemble: pooled draw by draw, what laps share stays in the spread and what they do not averages
out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from lapkit.path.summary import reflected_draws, spread
from lapkit.units import FloatArray

COLUMNS = (
    "rider", "session", "corner", "marker", "measure", "laps", "usual", "scatter_sd", "shared_sd",
)  # fmt: skip
"""Columns of the table ``usual``: mean over laps, scatter from lap to lap, spread that laps share."""


def usual_record(
    measure: str, marker: str, laps: Sequence[FloatArray], *, extreme: bool = False
) -> dict[str, object] | None:
    """Pool one measure over laps.

    Args:
        measure: its name.
        marker: the marker it belongs to, or empty.
        laps: for each lap its value in every row of the ensemble, shape ``(rows,)``; laps in which the
            estimate has no value are left out.
        extreme: whether it is an extreme, to be reflected.

    Returns:
        The record, or None where no lap has a value.
    """
    known = np.array([rows for rows in laps if np.isfinite(rows).all()])
    if len(known) == 0:
        return None
    pooled = known.mean(axis=0)
    own = known[:, 0]
    if extreme:
        own = np.array([reflected_draws(rows).mean() for rows in known])
    return {
        "marker": marker,
        "measure": measure,
        "laps": len(known),
        "usual": float(own.mean()),
        "scatter_sd": float(own.std(ddof=1)) if len(own) > 1 else float("nan"),
        "shared_sd": float(spread(pooled)),
    }


def usual_records(
    corner: Mapping[str, Sequence[FloatArray]],
    markers: Mapping[str, Sequence[FloatArray]],
    names: Sequence[str],
    extremes: frozenset[str],
) -> list[dict[str, object]]:
    """Pool all measures of one corner.

    Args:
        corner: measure → rows of each lap, ``(rows,)``.
        markers: measure → rows of each lap at all markers, ``(rows, k)``.
        names: the markers' names.
        extremes: which measures are extremes.
    """
    found = [
        usual_record(measure, "", laps, extreme=measure in extremes)
        for measure, laps in corner.items()
    ]
    found += [
        usual_record(measure, name, [rows[:, i] for rows in laps])
        for measure, laps in markers.items()
        for i, name in enumerate(names)
    ]
    return [record for record in found if record is not None]
