"""Riders of a group against each other on the same corner: who rides it otherwise than the rest.

Nobody is ranked and no times are used. A rider's usual lap is one observation; the yardstick is how
far the others lie from each other, so that a group which rides a corner in many ways has nobody apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from scipy.special import stdtr

from lapkit.compare.results import RunResult
from lapkit.compare.stats import discoveries
from lapkit.units import FloatArray

COLUMNS = ("group", "corner", "measure", "marker", "rider", "usual", "others", "p", "found")
"""Columns of :func:`apart`."""

WORTH = {"exit_curvature_1pm": 0.15, "wide_of_line_m": 1.0}
"""Measure → how far from the others is worth a word: a share of theirs for curvature, else metres."""

RATE = 0.05
"""Of the riders said to be apart no more than this share is so by chance, on average."""

FEWEST_RIDERS = 4
"""Fewer riders than this have no yardstick among themselves."""


def apart(runs: Mapping[str, Sequence[RunResult]], groups: Mapping[str, str]) -> pd.DataFrame:
    """Each rider's usual lap of his latest run beside the others of his group, corner by corner.

    Args:
        runs: rider → his runs in time order.
        groups: rider → his group.

    Returns:
        A line for each group, corner, measure and rider; ``others`` is the mean of the rest, ``p``
        two-sided by the t of a new observation (n − 2 degrees of freedom among n riders), ``found``
        whether he may be said to ride it otherwise (Benjamini and Hochberg 1995 over all lines) and by as
        much as is worth a word.
    """
    latest = [of_rider[-1].tables["usual"] for of_rider in runs.values() if of_rider]
    lines = []
    if latest:
        table = pd.concat(latest, ignore_index=True)
        table = table[table["measure"].isin(list(WORTH)) & (table["laps"] > 1)]
        table = table.assign(
            group=[groups.get(rider, "") for rider in table["rider"]],
            marker=table["marker"].fillna(""),
        )
        keys = ["group", "corner", "measure", "marker"]
        for key, rows in table.groupby(keys, sort=False):
            if len(rows) < FEWEST_RIDERS:
                continue
            usual = rows["usual"].to_numpy(dtype=np.float64)
            for rider, own, others, p in zip(rows["rider"], usual, *_beside(usual), strict=True):
                lines.append((*key, rider, own, others, p))
    found = pd.DataFrame(lines, columns=list(COLUMNS[:-1]))
    own, others, p = (found[n].to_numpy(dtype=np.float64) for n in ("usual", "others", "p"))
    bent = (found["measure"] == "exit_curvature_1pm").to_numpy()
    far = np.abs(own - others) >= found["measure"].map(WORTH).to_numpy(dtype=np.float64) * np.where(
        bent, np.abs(others), 1.0
    )
    return found.assign(found=discoveries(p, RATE) & far)


def _beside(usual: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean of all others, and two-sided p, for each of ``(n,)`` riders."""
    n = len(usual)
    rest = np.array([np.delete(usual, i) for i in range(n)])
    others = rest.mean(axis=1)
    sd = rest.std(axis=1, ddof=1) * np.sqrt(1.0 + 1.0 / (n - 1))
    t = np.abs(usual - others) / np.maximum(sd, 1e-12)
    return others, 2.0 * stdtr(n - 2.0, -t)
