"""One rider's runs against each other in time order: whether the talk helped.

Paired by corner; laps are the units. How far a rider's laps scatter is known badly from a few laps of one
corner, so what all corners say of it is drawn upon. The position offset, which a run's laps share, is
counted in wherever a line is compared. Many corners are looked at in several ways, so false discoveries
are held down: within each kind of measure by Benjamini and Hochberg, at rates that add up to less than 5 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd

from lapkit.compare.common_shift import Shift, common_shift
from lapkit.compare.results import RunResult
from lapkit.compare.stats import Change, change_of, discoveries, moderated, spread_of
from lapkit.compare.tables import timed_numbers
from lapkit.units import FloatArray

RATES = {
    ("exit_radius_min_m", ""): 0.02,
    ("wide_of_line_m", "exit"): 0.001,
    ("wide_of_line_m", "apex"): 0.001,
    ("turn_in_early_m", ""): 0.001,
    ("lean_max_deg", ""): 0.001,
}
"""Measure and kind of marker → of the changes reported so many may be false, on average.

Where nothing changed at all, anything is reported in no more than their sum of looks, half of the 5 %
that may be: runs also differ in ways that laps do not show. Most of it goes where laps scatter most beside
what is looked for; half a lane stands out of lines in any case.
"""

WORTH = {
    "exit_radius_min_m": 0.08,
    "wide_of_line_m": 0.6,
    "turn_in_early_m": 2.0,
    "lean_max_deg": 2.0,
}
"""Measure → a smaller change is not worth a word, however sure: a share of what it was for the radius,
else in the measure's own unit. Laps of one run are more alike than laps of two, for many small reasons."""

LINE = "wide_of_line_m"
"""The measure of line."""

_RADIUS = "exit_radius_min_m"
_CORNER = (_RADIUS, "lean_max_deg", "turn_in_early_m")
_FEWEST_LAPS = 2  # in each run: one lap has no scatter to compare with


@dataclass(frozen=True, eq=False)
class _Laps:
    """One measure in the laps of one run.

    ``shared_sd`` is what the laps share, ``own_sd`` what is not known of one lap beyond that,
    ``kind`` the kind of its marker and ``outward`` the way to the outside there, east and north.
    """

    values: FloatArray
    shared_sd: float = 0.0
    own_sd: float = 0.0
    kind: str = ""
    outward: tuple[float, float] = (0.0, 0.0)

    @cached_property
    def mean(self) -> float:
        """Over the laps."""
        return float(self.values.mean())

    @cached_property
    def squares(self) -> float:
        """Sum of the laps' squared distances from their mean."""
        return float(np.sum(np.square(self.values - self.mean)))


@dataclass(frozen=True, eq=False)
class _Pair:
    """One measure in two runs. Scatter is in units of ``unit``: that of a radius grows with it."""

    measure: str
    old: _Laps
    new: _Laps

    @property
    def family(self) -> tuple[str, str]:
        """Measure and kind of marker."""
        return self.measure, self.old.kind

    @property
    def moved(self) -> float:
        """Change of the mean."""
        return self.new.mean - self.old.mean

    @property
    def worth_a_word(self) -> float:
        """The smallest change that is worth reporting."""
        return WORTH[self.measure] * self.unit(self.old)

    def unit(self, laps: _Laps) -> float:
        """What a run's scatter is told in."""
        return laps.mean if self.measure == _RADIUS else 1.0

    @property
    def scatter(self) -> tuple[float, int]:
        """Variance from lap to lap within the two runs, and its degrees of freedom.

        A lap's line is estimated with the other laps' help and so drawn towards them: laps scatter by as
        much more than their estimates as is not known of one alone.
        """
        runs = (self.old, self.new)
        squares = sum(laps.squares / self.unit(laps) ** 2 for laps in runs)
        free = sum(len(laps.values) for laps in runs) - len(runs)
        return squares / free + sum(laps.own_sd**2 for laps in runs) / len(runs), free

    def variance(self, scatter: float) -> float:
        """Variance of the change of the mean at that variance from lap to lap."""
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


_Key = tuple[str, str, str]


def _changes(
    before: RunResult, after: RunResult, earlier: dict[_Key, _Laps], later: dict[_Key, _Laps]
) -> dict[_Key, Changed]:
    """Every measure's change at every corner from one run to another of the same rider."""
    pairs = {
        key: _Pair(key[2], old, later[key])
        for key, old in earlier.items()
        if key in later and min(len(old.values), len(later[key].values)) >= _FEWEST_LAPS
    }
    families: dict[tuple[str, str], list[int]] = {}
    for i, pair in enumerate(pairs.values()):
        families.setdefault(pair.family, []).append(i)
    variance, free = _variances(list(pairs.values()), list(families.values()))
    shifts = _offsets_between(pairs, variance)
    changes: list[Change] = []
    for i, (key, pair) in enumerate(pairs.items()):
        of_line = pair.measure == LINE
        moved, unknown = _part_of(shifts[key[0]], pair.new.outward) if of_line else (0.0, 0.0)
        changes.append(change_of(pair.moved - moved, variance[i], free[i], unknown))
    reported = _reported(list(pairs.values()), changes, families)
    sessions = before.session, after.session
    return {
        key: Changed(before.rider, *key, *sessions, pair.old.mean, pair.new.mean, *change, found)
        for (key, pair), change, found in zip(pairs.items(), changes, reported, strict=True)
    }


def _reported(
    pairs: list[_Pair], changes: list[Change], families: dict[tuple[str, str], list[int]]
) -> list[bool]:
    """Which changes are to be reported; ``families`` holds their places by measure and kind of marker."""
    # What is too small for a word counts as looked at, and makes nothing else easier to report.
    looked_at = zip(pairs, changes, strict=True)
    p = np.array([c.p if abs(c.size) >= pair.worth_a_word else 1.0 for pair, c in looked_at])
    found = np.zeros(len(p), dtype=bool)
    for family, rate in RATES.items():
        rows = families.get(family, [])
        found[rows] = discoveries(p[rows], rate)
    return found.tolist()


def _variances(pairs: list[_Pair], families: list[list[int]]) -> tuple[FloatArray, FloatArray]:
    """Variance of each change and its degrees of freedom, ``(n,)``; corners of a family help each other."""
    scatter = np.array([pair.scatter for pair in pairs]).reshape(-1, 2)
    for rows in families:
        scatter[rows] = np.stack(moderated(*scatter[rows].T), axis=1)
    variance = [pair.variance(each) for pair, each in zip(pairs, scatter[:, 0], strict=True)]
    return np.array(variance), scatter[:, 1]


def _part_of(shift: Shift, outward: tuple[float, float]) -> tuple[float, float]:
    """The part of a shift that is outward, metres, and one standard deviation of it."""
    way = np.array(outward)
    return float(way @ shift.metres), float(np.sqrt(way @ shift.covariance @ way))


def _offsets_between(pairs: dict[_Key, _Pair], variance: FloatArray) -> dict[str, Shift]:
    """By how much the two runs' position offsets differ, for each corner as the others' cones show it."""
    at = [i for i, pair in enumerate(pairs.values()) if pair.measure == LINE]
    names = np.array([key[0] for key in pairs])[at]
    cones = [list(pairs.values())[i] for i in at]
    moved = np.array([pair.moved for pair in cones])
    outward = np.array([pair.new.outward for pair in cones]).reshape(-1, 2)
    spread = [float(np.hypot(pair.new.shared_sd, pair.old.shared_sd)) for pair in cones]
    known = float(np.median(spread)) if spread else 0.0
    corners = np.unique(names)
    fits = common_shift(moved, variance[at], outward, known, corners[:, None] != names)
    return dict(zip(corners.tolist(), map(Shift, *fits), strict=True))


class RunChanges:
    """What changed between any two of a rider's runs, each pair worked out once, when it is asked for."""

    def __init__(self, runs: Sequence[RunResult]) -> None:
        self.runs = tuple(runs)
        self._changes: dict[tuple[int, int], dict[_Key, Changed]] = {}

    @cached_property
    def _measured(self) -> list[dict[_Key, _Laps]]:
        return [_measures(run) for run in self.runs]

    def changes(self, earlier: int, later: int) -> dict[_Key, Changed]:
        """(corner, marker, measure) → its change from one run to another, by their places in time order."""
        pair = earlier, later
        if pair not in self._changes:
            before, after = (self.runs[i] for i in pair)
            self._changes[pair] = _changes(before, after, *(self._measured[i] for i in pair))
        return self._changes[pair]

    def every(self) -> pd.DataFrame:
        """Changes from each run to the next, in time order, and from first to last.

        A table with the fields of :class:`Changed` as its columns.
        """
        pairs = list(pairwise(range(len(self.runs))))
        if len(self.runs) > 2:
            pairs.append((0, len(self.runs) - 1))
        rows = [change for pair in pairs for change in self.changes(*pair).values()]
        return pd.DataFrame(rows, columns=list(Changed._fields))


def _measures(run: RunResult) -> dict[_Key, _Laps]:
    """(corner, marker, measure) → its values in the timed laps that could be judged."""
    corners, markers = run.tables["corners"], run.tables["markers"]
    timed = timed_numbers(run.tables["laps"])
    found: dict[_Key, _Laps] = {}
    in_corners = {name: _numbers(corners, name) for name in _CORNER}
    for (corner,), rows in _groups(corners, corners["lap"].isin(timed), "corner").items():
        for measure, values in in_corners.items():
            own = values[rows]
            found[corner, "", measure] = _Laps(own[~np.isnan(own)])
    usual = (run.tables["usual"][c].tolist() for c in ("measure", "corner", "marker", "shared_sd"))
    shared = {(c, m): sd for measure, c, m, sd in zip(*usual, strict=True) if measure == LINE}
    wide, lo, hi = (_numbers(markers, name) for name in (LINE, "wide_lo_m", "wide_hi_m"))
    spread = np.square(spread_of(lo, hi))
    kinds, east, north = (markers[c].tolist() for c in ("kind", "wide_east", "wide_north"))
    known = markers["lap"].isin(timed) & ~np.isnan(wide)
    for (corner, marker), rows in _groups(markers, known, "corner", "marker").items():
        first = rows[0]
        shared_sd = shared.get((corner, marker), 0.0)
        own = float(np.nan_to_num(spread[rows]).mean()) - shared_sd**2
        found[corner, marker, LINE] = _Laps(
            wide[rows],
            shared_sd,
            float(np.sqrt(max(own, 0.0))),
            str(kinds[first]),
            (float(east[first]), float(north[first])),
        )
    return found


def _groups(
    table: pd.DataFrame, chosen: pd.Series, *columns: str
) -> dict[tuple[str, ...], list[int]]:
    """Values of columns → chosen rows that have them, both in the order of the table."""
    groups: dict[tuple[str, ...], list[int]] = {}
    keys = zip(chosen.tolist(), *(table[c].tolist() for c in columns), strict=True)
    for row, (wanted, *key) in enumerate(keys):
        if wanted:
            groups.setdefault(tuple(key), []).append(row)
    return groups


def _numbers(table: pd.DataFrame, column: str) -> FloatArray:
    return table[column].to_numpy(dtype=np.float64)
