"""One rider's runs compared in time order: whether the talk between them helped.

Each measure at each corner is compared by itself, with laps as the observations. A few laps at one corner do not show
well how much a rider scatters, so the scatter is estimated from all corners together. All laps of a run share its
position offset, whose uncertainty therefore counts wherever lines are compared. Some of these many comparisons would
differ by chance alone, so the false discovery rate is controlled within each family of measures (Benjamini and
Hochberg), at rates that add up to less than 5 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.compare.common_shift import Shift, common_shift
from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN, LapValues, RunValues
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import Change, change_of, discoveries
from lapkit.path.moderated import moderated

RATES = {
    (RADIUS, ""): 0.02,
    (LINE, "exit"): 0.001,
    (LINE, "apex"): 0.001,
    (TURN_IN, ""): 0.001,
    (LEAN, ""): 0.001,
}
"""Measure and kind of marker → false discovery rate, the share of reported changes that may be false on average.

Where nothing changed at all, the chance that anything is reported is at most their sum. That is about half of the 5 % that
would be acceptable, because two runs also differ in ways that their laps do not show. Most of it goes to the exit's radius,
whose scatter is largest compared with the change that is looked for; a line that moves by half a lane stands out in any case.
"""

WORTH = {RADIUS: 0.08, LINE: 0.6, TURN_IN: 2.0, LEAN: 2.0}
"""Measure → the smallest change that is reported, however certain it is: a share of the earlier value for the radius,
else in the measure's unit. Laps of one run are more alike than laps of two, for many small reasons."""

_FEWEST_LAPS = 2  # in each run: one lap has no scatter to compare with

_Family = tuple[str, str]
"""Measure and kind of marker: a key of :data:`RATES`."""


@dataclass(frozen=True, eq=False)
class _Pair:
    """One measure at one place in two runs of a rider."""

    at: MeasureAt
    old: LapValues
    new: LapValues

    @property
    def family(self) -> _Family:
        """Key of the measures that it is judged together with."""
        return self.at.measure, self.old.kind

    @property
    def moved(self) -> float:
        """Change of the mean over laps, in the measure's unit."""
        return self.new.mean - self.old.mean

    @property
    def worth_a_word(self) -> float:
        """The smallest change that is worth reporting, in the measure's unit."""
        return WORTH[self.at.measure] * self.scale(self.old)

    def scale(self, laps: LapValues) -> float:
        """What scatter is proportional to: the radius for a radius, and 1 for measures in metres or degrees."""
        return laps.mean if self.at.measure == RADIUS else 1.0

    @property
    def scatter(self) -> tuple[float, int]:
        """Variance from lap to lap within the two runs, in squares of :meth:`scale`, and its degrees of freedom.

        A lap's line is estimated with the help of the other laps, which shrinks the estimates towards each other. The error
        that each lap has for itself makes up for that.
        """
        runs = (self.old, self.new)
        squares = sum(laps.squares / self.scale(laps) ** 2 for laps in runs)
        free = sum(len(laps.values) for laps in runs) - len(runs)
        return squares / free + sum(laps.own_sd**2 for laps in runs) / len(runs), free

    def variance(self, scatter: float) -> float:
        """Variance of :attr:`moved`, in squares of the measure's unit, if ``scatter`` is the variance from lap to lap."""
        return scatter * sum(
            self.scale(laps) ** 2 / len(laps.values) for laps in (self.old, self.new)
        )


class Changed(NamedTuple):
    """A measure at one place in two runs of a rider, all in the unit of the measure.

    Attributes:
        rider: name of the rider.
        corner: name of the corner.
        marker: name of the marker; empty for a measure of the whole corner.
        measure: name of the measure.
        session_before, session_after: names of the two runs.
        before, after: mean over the laps of each.
        change: how much it changed. For a line that is what is left when the shift that all other corners show is taken out.
        change_lo, change_hi: the ends of the change's 95 % interval.
        p: two-sided p value of no change.
        found: whether it is to be reported, by :data:`RATES` and :data:`WORTH`.
    """

    rider: str
    corner: str
    marker: str
    measure: str
    session_before: str
    session_after: str
    before: float
    after: float
    change: float
    change_lo: float
    change_hi: float
    p: float
    found: bool

    @property
    def at(self) -> MeasureAt:
        """The measure, and where it is taken."""
        return MeasureAt(self.corner, self.marker, self.measure)


def _changes(before: RunValues, after: RunValues) -> dict[MeasureAt, Changed]:
    """The change of every measure at every place from one run to another of the same rider."""
    pairs = [
        _Pair(at, old, after.laps[at])
        for at, old in before.laps.items()
        if at in after.laps and min(len(old.values), len(after.laps[at].values)) >= _FEWEST_LAPS
    ]
    families: dict[_Family, list[int]] = {}
    for i, pair in enumerate(pairs):
        families.setdefault(pair.family, []).append(i)
    changes = _estimates(pairs, families)
    reported = _reported(pairs, changes, families)
    return {
        pair.at: Changed(
            rider=before.rider,
            corner=pair.at.corner,
            marker=pair.at.marker,
            measure=pair.at.measure,
            session_before=before.session,
            session_after=after.session,
            before=pair.old.mean,
            after=pair.new.mean,
            change=change.size,
            change_lo=change.lo,
            change_hi=change.hi,
            p=change.p,
            found=is_reported,
        )
        for pair, change, is_reported in zip(pairs, changes, reported, strict=True)
    }


def _estimates(pairs: list[_Pair], families: dict[_Family, list[int]]) -> list[Change]:
    """The change of each pair; ``families`` holds the indices of the pairs of each family."""
    variance, free = _variances(pairs, list(families.values()))
    shifts = _offsets_between(pairs, variance)
    changes = []
    for i, pair in enumerate(pairs):
        shift_m, shift_sd_m = 0.0, 0.0
        if pair.at.measure == LINE:
            shift_m, shift_sd_m = _outward_part(shifts[pair.at.corner], pair.new)
        changes.append(change_of(pair.moved - shift_m, variance[i], free[i], shift_sd_m))
    return changes


def _reported(
    pairs: list[_Pair], changes: list[Change], families: dict[_Family, list[int]]
) -> list[bool]:
    """Which changes are to be reported; ``families`` holds the indices of the pairs of each family."""
    # A change too small for a word counts as a comparison all the same, so that it makes no other easier to report.
    compared = zip(pairs, changes, strict=True)
    p = np.array([c.p if abs(c.size) >= pair.worth_a_word else 1.0 for pair, c in compared])
    found = np.zeros(len(p), dtype=bool)
    for family, rate in RATES.items():
        rows = families.get(family, [])
        found[rows] = discoveries(p[rows], rate)
    return found.tolist()


def _variances(pairs: list[_Pair], families: list[list[int]]) -> tuple[FloatArray, FloatArray]:
    """Variance of each change and its degrees of freedom, ``(pairs,)`` each.

    The scatter of each pair is moderated by those of its family (:func:`~lapkit.path.moderated.moderated`).
    """
    scatter, free = np.array([pair.scatter for pair in pairs], dtype=np.float64).reshape(-1, 2).T
    for rows in families:
        scatter[rows], free[rows] = moderated(scatter[rows], free[rows])
    variance = [pair.variance(of_lap) for pair, of_lap in zip(pairs, scatter, strict=True)]
    return np.array(variance), free


def _outward_part(shift: Shift, at_marker: LapValues) -> tuple[float, float]:
    """The component of a shift that is outward at a marker, metres, and one standard deviation of it."""
    outward = np.array(at_marker.outward)
    return float(outward @ shift.metres), float(np.sqrt(outward @ shift.covariance @ outward))


def _offsets_between(pairs: list[_Pair], variance: FloatArray) -> dict[str, Shift]:
    """Name of a corner → by how much the two runs' position offsets differ, as the cones of all other corners show it."""
    rows = [i for i, pair in enumerate(pairs) if pair.at.measure == LINE]
    cones = [pairs[i] for i in rows]
    corner = np.array([cone.at.corner for cone in cones])
    moved = np.array([cone.moved for cone in cones])
    outward = np.array([cone.new.outward for cone in cones]).reshape(-1, 2)
    offset_sd = [float(np.hypot(cone.new.shared_sd, cone.old.shared_sd)) for cone in cones]
    prior_sd = float(np.median(offset_sd)) if cones else 0.0
    names = np.unique(corner)
    at_others = names[:, None] != corner
    shifts = common_shift(moved, variance[rows], outward, prior_sd, at_others)
    return {
        name: Shift(shifts.metres[i], shifts.covariance[i]) for i, name in enumerate(names.tolist())
    }


class RunChanges:
    """What changed between any two of a rider's runs; each pair is worked out when first asked for, and kept.

    ``runs`` are his runs in time order.
    """

    def __init__(self, runs: Sequence[RunResult]) -> None:
        self.runs = tuple(runs)
        self._changes: dict[tuple[int, int], dict[MeasureAt, Changed]] = {}

    @cached_property
    def _values(self) -> list[RunValues]:
        return [RunValues.of(run) for run in self.runs]

    def changes(self, earlier: int, later: int) -> dict[MeasureAt, Changed]:
        """What changed from one run to another, by their indices in time order."""
        pair = earlier, later
        if pair not in self._changes:
            self._changes[pair] = _changes(self._values[earlier], self._values[later])
        return self._changes[pair]

    def every(self) -> tuple[Changed, ...]:
        """Changes from each run to the next in time order, and of more than two runs also from first to last."""
        pairs = list(pairwise(range(len(self.runs))))
        if len(self.runs) > 2:
            pairs.append((0, len(self.runs) - 1))
        return tuple(change for pair in pairs for change in self.changes(*pair).values())
