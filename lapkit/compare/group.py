"""Riders of a group against each other on the same corner: who rides it otherwise than the rest.

Nobody is ranked and no times are used. A rider's usual lap is one observation; the yardstick is how
far the others lie from each other, so that a group which rides a corner in many ways has nobody apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import stdtr

from lapkit.compare.lap_values import LINE
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import discoveries
from lapkit.compare.usual import BEND, usual_of

WORTH = {BEND: 0.15, LINE: 1.0}
"""Measure → how far from the others is worth a word: a share of theirs for curvature, else metres."""

RATE = 0.05
"""Of the riders said to be apart no more than this share is so by chance, on average."""

FEWEST_RIDERS = 4
"""Fewer riders than this have no yardstick among themselves."""


class Apart(NamedTuple):
    """A rider's usual lap of his latest run beside the other riders of his group.

    ``usual`` and ``others``, the mean of the rest, have the measure's own unit. ``p`` is two-sided, by the t of a new
    observation (n − 2 degrees of freedom among n riders). ``found`` says whether he may be said to ride it otherwise,
    by :data:`RATE` over all that was looked at and by as much as is worth a word.
    """

    group: str
    at: MeasureAt
    rider: str
    usual: float
    others: float
    p: float
    found: bool


def apart(runs: Mapping[str, Sequence[RunResult]], groups: Mapping[str, str]) -> list[Apart]:
    """Each rider beside the others of his group, wherever enough of them have a usual lap.

    Args:
        runs: rider → his runs in time order.
        groups: rider → his group.
    """
    usual: dict[tuple[str, MeasureAt], dict[str, float]] = {}
    for rider, of_rider in runs.items():
        for at, told in usual_of(of_rider[-1]).items() if of_rider else ():
            if at.measure in WORTH and told.laps > 1:
                usual.setdefault((groups.get(rider, ""), at), {})[rider] = told.mean
    beside = [
        Apart(group, at, rider, own, others, p, found=False)
        for (group, at), riders in usual.items()
        if len(riders) >= FEWEST_RIDERS
        for rider, own, others, p in zip(riders, riders.values(), *_beside(riders), strict=True)
    ]
    sure = discoveries(np.array([each.p for each in beside]), RATE)
    return [
        each._replace(found=bool(is_sure and _worth_a_word(each)))
        for each, is_sure in zip(beside, sure, strict=True)
    ]


def _worth_a_word(each: Apart) -> bool:
    least = WORTH[each.at.measure]
    if each.at.measure == BEND:
        least *= abs(each.others)
    return abs(each.usual - each.others) >= least


def _beside(riders: Mapping[str, float]) -> tuple[list[float], list[float]]:
    """Mean of all others, and two-sided p, for each rider by his usual value."""
    usual, n = np.array(list(riders.values())), len(riders)
    rest = np.array([np.delete(usual, i) for i in range(n)])
    others = rest.mean(axis=1)
    sd = rest.std(axis=1, ddof=1) * np.sqrt(1.0 + 1.0 / (n - 1))
    t = np.abs(usual - others) / np.maximum(sd, 1e-12)
    return others.tolist(), (2.0 * stdtr(n - 2.0, -t)).tolist()
