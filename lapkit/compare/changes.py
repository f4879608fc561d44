"""One rider's runs against each other in time order: whether the talk helped.

Each measure of each corner is compared by itself, and laps are the observations. A few laps of one corner tell badly how
far a rider scatters, so all corners help each other with that. All laps of a run share its position offset, which
therefore counts wherever lines are compared. So many comparisons would find something by chance: false discoveries are
held down within each kind of measure (Benjamini and Hochberg), at rates that add up to less than 5 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from lapkit.compare.common_shift import Shift, common_shift
from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN, LapValues, RunValues
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import Change, change_of, discoveries, moderated
from lapkit.units import FloatArray

RATES = {
    (RADIUS, ""): 0.02,
    (LINE, "exit"): 0.001,
    (LINE, "apex"): 0.001,
    (TURN_IN, ""): 0.001,
    (LEAN, ""): 0.001,
}
"""Measure and kind of marker → of the changes reported so many may be false, on average.

Where nothing changed at all, the chance that anything is reported is at most their sum, about half of the 5 % that would
do: two runs also differ in ways that their laps do not show. Most of it goes to the exit's radius, which scatters most
beside the change that is looked for; a line that moves by half a lane stands out in any case.
"""

WORTH = {RADIUS: 0.08, LINE: 0.6, TURN_IN: 2.0, LEAN: 2.0}
"""Measure → a smaller change is not worth a word, however sure: a share of what it was for the radius,
else in the measure's own unit. Laps of one run are more alike than laps of two, for many small reasons."""

_FEWEST_LAPS = 2  # in each run: one lap has no scatter to compare with


_Family = tuple[str, str]
"""Measure and kind of marker: the key of :data:`RATES`."""


@dataclass(frozen=True, eq=False)
class _Pair:
    """One measure in two runs."""

    at: MeasureAt
    old: LapValues
    new: LapValues

    @property
    def family(self) -> _Family:
        """What it is looked at together with."""
        return self.at.measure, self.old.kind

    @property
    def moved(self) -> float:
        """Change of the mean."""
        return self.new.mean - self.old.mean

    @property
    def worth_a_word(self) -> float:
        """The smallest change that is worth reporting."""
        return WORTH[self.at.measure] * self.unit(self.old)

    def unit(self, laps: LapValues) -> float:
        """What scatter counts in: a radius scatters by a share of itself, all else by so many metres or degrees."""
        return laps.mean if self.at.measure == RADIUS else 1.0

    @property
    def scatter(self) -> tuple[float, int]:
        """Variance from lap to lap within the two runs, in squares of :meth:`unit`, and its degrees of freedom.

        A lap's line is estimated with the other laps' help and so drawn towards them: laps scatter by as
        much more than their estimates as is not known of one alone.
        """
        runs = (self.old, self.new)
        squares = sum(laps.squares / self.unit(laps) ** 2 for laps in runs)
        free = sum(len(laps.values) for laps in runs) - len(runs)
        return squares / free + sum(laps.own_sd**2 for laps in runs) / len(runs), free

    def variance(self, scatter: float) -> float:
        """Variance of :attr:`moved`, in the measure's own unit, at that variance from lap to lap."""
        return scatter * sum(
            self.unit(laps) ** 2 / len(laps.values) for laps in (self.old, self.new)
        )


class Changed(NamedTuple):
    """A measure at a corner in one run and in another; ``marker`` is empty for what is no marker's.

    ``change`` has the measure's unit, with the ends of its 95 % interval; a change of line is what is left of
    it when the shift that all other corners show is taken out. ``found`` says whether it is to be reported, by
    :data:`RATES` and :data:`WORTH`.
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
        """What changed, and where."""
        return MeasureAt(self.corner, self.marker, self.measure)


def _changes(before: RunValues, after: RunValues) -> dict[MeasureAt, Changed]:
    """Every measure's change at every corner from one run to another of the same rider."""
    pairs = [
        _Pair(at, old, after.laps[at])
        for at, old in before.laps.items()
        if at in after.laps and min(len(old.values), len(after.laps[at].values)) >= _FEWEST_LAPS
    ]
    families: dict[_Family, list[int]] = {}
    for i, pair in enumerate(pairs):
        families.setdefault(pair.family, []).append(i)
    variance, free = _variances(pairs, list(families.values()))
    shifts = _offsets_between(pairs, variance)
    changes: list[Change] = []
    for i, pair in enumerate(pairs):
        of_line = pair.at.measure == LINE
        moved, unknown = _part_of(shifts[pair.at.corner], pair.new) if of_line else (0.0, 0.0)
        changes.append(change_of(pair.moved - moved, variance[i], free[i], unknown))
    reported = _reported(pairs, changes, families)
    sessions = before.session, after.session
    return {
        pair.at: Changed(
            before.rider, *pair.at, *sessions, pair.old.mean, pair.new.mean, *change, found
        )
        for pair, change, found in zip(pairs, changes, reported, strict=True)
    }


def _reported(
    pairs: list[_Pair], changes: list[Change], families: dict[_Family, list[int]]
) -> list[bool]:
    """Which changes are to be reported; ``families`` holds the indices of each one's pairs."""
    # What is too small for a word counts as looked at, and makes nothing else easier to report.
    looked_at = zip(pairs, changes, strict=True)
    p = np.array([c.p if abs(c.size) >= pair.worth_a_word else 1.0 for pair, c in looked_at])
    found = np.zeros(len(p), dtype=bool)
    for family, rate in RATES.items():
        rows = families.get(family, [])
        found[rows] = discoveries(p[rows], rate)
    return found.tolist()


def _variances(pairs: list[_Pair], families: list[list[int]]) -> tuple[FloatArray, FloatArray]:
    """Variance of each change and its degrees of freedom, ``(pairs,)``; the pairs of a family help each other."""
    scatter = np.array([pair.scatter for pair in pairs]).reshape(-1, 2)
    for rows in families:
        scatter[rows] = np.stack(moderated(*scatter[rows].T), axis=1)
    variance = [pair.variance(each) for pair, each in zip(pairs, scatter[:, 0], strict=True)]
    return np.array(variance), scatter[:, 1]


def _part_of(shift: Shift, at_marker: LapValues) -> tuple[float, float]:
    """The part of a shift that is outward at a marker, metres, and one standard deviation of it."""
    way = np.array(at_marker.outward)
    return float(way @ shift.metres), float(np.sqrt(way @ shift.covariance @ way))


def _offsets_between(pairs: list[_Pair], variance: FloatArray) -> dict[str, Shift]:
    """By how much the two runs' position offsets differ, for each corner as the others' cones show it."""
    rows = [i for i, pair in enumerate(pairs) if pair.at.measure == LINE]
    cones = [pairs[i] for i in rows]
    corner = np.array([pair.at.corner for pair in cones])
    moved = np.array([pair.moved for pair in cones])
    outward = np.array([pair.new.outward for pair in cones]).reshape(-1, 2)
    spread = [float(np.hypot(pair.new.shared_sd, pair.old.shared_sd)) for pair in cones]
    known = float(np.median(spread)) if spread else 0.0
    names = np.unique(corner)
    fits = common_shift(moved, variance[rows], outward, known, names[:, None] != corner)
    return dict(zip(names.tolist(), map(Shift, *fits), strict=True))


class RunChanges:
    """What changed between any two of a rider's runs, each pair worked out once, when it is asked for."""

    def __init__(self, runs: Sequence[RunResult]) -> None:
        self.runs = tuple(runs)
        self._changes: dict[tuple[int, int], dict[MeasureAt, Changed]] = {}

    @cached_property
    def _measured(self) -> list[RunValues]:
        return [RunValues.of(run) for run in self.runs]

    def changes(self, earlier: int, later: int) -> dict[MeasureAt, Changed]:
        """What changed from one run to another, by their places in time order."""
        pair = earlier, later
        if pair not in self._changes:
            self._changes[pair] = _changes(*(self._measured[i] for i in pair))
        return self._changes[pair]

    def every(self) -> tuple[Changed, ...]:
        """Changes from each run to the next, in time order, and from first to last."""
        pairs = list(pairwise(range(len(self.runs))))
        if len(self.runs) > 2:
            pairs.append((0, len(self.runs) - 1))
        return tuple(change for pair in pairs for change in self.changes(*pair).values())
