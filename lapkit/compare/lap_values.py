"""What each timed lap of a run shows of the measures that may change from one run to another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import spread_of
from lapkit.compare.tables import timed_numbers
from lapkit.compare.usual import usual_of
from lapkit.path.summary import Summary
from lapkit.units import FloatArray

RADIUS = "exit_radius_min_m"
"""Tightest radius of the exit, metres."""

LEAN = "lean_max_deg"
"""Largest lean, degrees."""

TURN_IN = "turn_in_early_m"
"""How far before the marker line the rider turns in, metres."""

LINE = "wide_of_line_m"
"""How far wide of the marker line he passes a marker, metres."""

_OF_CORNERS = (RADIUS, LEAN, TURN_IN)


@dataclass(frozen=True, eq=False)
class LapValues:
    """One measure in the laps of one run.

    Attributes:
        values: in the measure's unit, ``(laps,)``, every one known.
        shared_sd: one standard deviation of the error that all laps share.
        own_sd: the same of the error that each lap has for itself.
        kind: of the marker at which it is measured; empty for a measure of the whole corner.
        outward: unit vector to the outside of the corner at that marker, east and north.
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
class RunValues:
    """A run with what its timed laps show of every measure, as far as they could be judged."""

    rider: str
    session: str
    laps: dict[MeasureAt, LapValues]

    @classmethod
    def of(cls, run: RunResult) -> RunValues:
        """Read from a run's tables."""
        timed = timed_numbers(run.tables["laps"])
        laps = {**_of_corners(run.tables["corners"], timed), **_of_lines(run, timed)}
        return cls(run.rider, run.session, laps)


def _of_corners(corners: pd.DataFrame, timed: set[int]) -> dict[MeasureAt, LapValues]:
    """The measures of whole corners."""
    values = {measure: _numbers(corners, measure) for measure in _OF_CORNERS}
    found = {}
    for (corner,), rows in _groups(corners, corners["lap"].isin(timed), "corner").items():
        for measure in _OF_CORNERS:
            of_laps = values[measure][rows]
            found[MeasureAt(corner, "", measure)] = LapValues(of_laps[~np.isnan(of_laps)])
    return found


def _of_lines(run: RunResult, timed: set[int]) -> dict[MeasureAt, LapValues]:
    """The line at every marker."""
    markers, usual = run.tables["markers"], usual_of(run)
    wide = Summary(*(_numbers(markers, name) for name in (LINE, "wide_lo_m", "wide_hi_m")))
    variance = np.square(spread_of(wide))
    kinds, east, north = (markers[c].tolist() for c in ("kind", "wide_east", "wide_north"))
    known = markers["lap"].isin(timed) & ~np.isnan(wide.value)
    found = {}
    for (corner, marker), rows in _groups(markers, known, "corner", "marker").items():
        at, first = MeasureAt(corner, marker, LINE), rows[0]
        shared_sd = usual[at].shared_sd if at in usual else 0.0
        own_variance = float(np.nan_to_num(variance[rows]).mean()) - shared_sd**2
        found[at] = LapValues(
            wide.value[rows],
            shared_sd,
            own_sd=float(np.sqrt(max(own_variance, 0.0))),
            kind=str(kinds[first]),
            outward=(float(east[first]), float(north[first])),
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
