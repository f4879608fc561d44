"""Riders of a group compared on the same corner: who rides it unlike the rest.

Nobody is ranked, and no times are used. A rider's usual lap is one observation. The yardstick is how much the others differ
among each other, so in a group that rides a corner in many ways nobody stands apart.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import stdtr

from lapkit.arrays import FloatArray
from lapkit.compare.lap_values import LINE
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import discoveries
from lapkit.compare.usual import BEND, usual_of

WORTH = {BEND: 0.15, LINE: 1.0}
"""Measure → the smallest difference from the others that is reported: a share of theirs for curvature, else metres."""

RATE = 0.05
"""False discovery rate: on average no larger share of the riders said to be apart is so by chance."""

FEWEST_RIDERS = 4
"""Fewer riders than this give no yardstick."""


class Apart(NamedTuple):
    """A rider's usual lap of his latest run beside those of the other riders of his group, in the unit of the measure.

    Attributes:
        group: name of the group.
        at: the measure, and where it is taken.
        rider: name of the rider.
        usual: his usual value.
        others: mean of the others' usual values.
        p: two-sided p value of his being one of them, by Student's t for a new observation (n − 2 degrees of freedom among
            n riders).
        found: whether he may be said to ride it unlike the others, by :data:`RATE` over all comparisons and by
            :data:`WORTH`.
    """

    group: str
    at: MeasureAt
    rider: str
    usual: float
    others: float
    p: float
    found: bool


def apart(
    runs: Mapping[str, Sequence[RunResult]],
    groups: Mapping[str, str],
    *,
    looked_at: Collection[tuple[str, str]] = (),
) -> list[Apart]:
    """Compare each rider with the others of his group, wherever enough of them have a usual lap.

    Args:
        runs: name of a rider → his runs in time order.
        groups: name of a rider → name of his group.
        looked_at: names of corner and cone, for cones that are only looked at; how they are passed is not compared.
    """
    # Group and place → rider → his usual value there.
    usual: dict[tuple[str, MeasureAt], dict[str, float]] = {}
    for rider, of_rider in runs.items():
        latest = usual_of(of_rider[-1]) if of_rider else {}
        for at, value in latest.items():
            is_compared = at.measure in WORTH and (at.corner, at.marker) not in looked_at
            if is_compared and value.laps > 1:
                usual.setdefault((groups.get(rider, ""), at), {})[rider] = value.mean
    compared: list[Apart] = []
    for (group, at), riders in usual.items():
        if len(riders) >= FEWEST_RIDERS:
            others, p = _beside_others(np.array(list(riders.values())))
            compared += [
                Apart(group, at, rider, own, others[i], p[i], found=False)
                for i, (rider, own) in enumerate(riders.items())
            ]
    surely = discoveries(np.array([each.p for each in compared]), RATE)
    return [
        each._replace(found=bool(is_sure and _worth_a_word(each)))
        for each, is_sure in zip(compared, surely, strict=True)
    ]


def _worth_a_word(each: Apart) -> bool:
    least = WORTH[each.at.measure]
    if each.at.measure == BEND:
        least *= abs(each.others)
    return abs(each.usual - each.others) >= least


def _beside_others(usual: FloatArray) -> tuple[list[float], list[float]]:
    """For each rider's usual value ``(n,)`` the mean of all others, and the two-sided p value."""
    n = len(usual)
    rest = np.array([np.delete(usual, i) for i in range(n)])
    others = rest.mean(axis=1)
    sd = rest.std(axis=1, ddof=1) * np.sqrt(1.0 + 1.0 / (n - 1))
    t = np.abs(usual - others) / np.maximum(sd, 1e-12)
    return others.tolist(), (2.0 * stdtr(n - 2.0, -t)).tolist()
