"""The timed laps' values of those measures of a run that may change from one run to another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.stats import spread_of
from lapkit.compare.usual import usual_of
from lapkit.path.summary import Summary

RADIUS = "exit_radius_min_m"
"""Tightest radius of the exit, metres."""

LEAN = "lean_max_deg"
"""Largest lean, degrees."""

TURN_IN = "turn_in_early_m"
"""How far before the marker line the rider turns in, metres."""

LINE = "wide_of_line_m"
"""How far wide of the marker line the rider passes a marker, metres."""

GAP = "gap_m"
"""Distance to a cone, metres, positive on its proper side."""

_OF_CORNERS = (RADIUS, LEAN, TURN_IN)


@dataclass(frozen=True, eq=False)
class LapValues:
    """The values of one measure in the laps of one run, all in the unit of the measure.

    Attributes:
        values: value of each lap that has one, ``(laps,)``.
        shared_sd: one standard deviation of the error that all laps of the run share.
        own_sd: one standard deviation of the error that each lap has for itself.
        kind: kind of the marker at which it is measured; empty for a measure of the whole corner.
        outward: unit vector to the outside of the corner at that marker, east and north.
    """

    values: FloatArray
    shared_sd: float = 0.0
    own_sd: float = 0.0
    kind: str = ""
    outward: tuple[float, float] = (0.0, 0.0)

    @cached_property
    def mean(self) -> float:
        """Mean over the laps."""
        return float(self.values.mean())

    @cached_property
    def squares(self) -> float:
        """Sum of the squared deviations of the laps from their mean."""
        return float(np.sum(np.square(self.values - self.mean)))


@dataclass(frozen=True, eq=False)
class RunValues:
    """A run's values of every measure, from those of its timed laps that could be judged."""

    rider: str
    session: str
    laps: dict[MeasureAt, LapValues]

    @classmethod
    def of(cls, run: RunResult) -> RunValues:
        """Read them from a run's tables."""
        timed = run.timed_laps
        laps = {**_of_corners(run.corners, timed), **_of_lines(run, timed)}
        return cls(run.rider, run.session, laps)


def _of_corners(corners: pd.DataFrame, timed: set[int]) -> dict[MeasureAt, LapValues]:
    """The measures of whole corners."""
    values = {measure: _numbers(corners, measure) for measure in _OF_CORNERS}
    found = {}
    on_road = corners["lap"].isin(timed) & (corners["left_road"] != 1.0)
    for (corner,), rows in _groups(corners, on_road, "corner").items():
        for measure in _OF_CORNERS:
            of_laps = values[measure][rows]
            found[MeasureAt(corner, "", measure)] = LapValues(of_laps[~np.isnan(of_laps)])
    return found


def _of_lines(run: RunResult, timed: set[int]) -> dict[MeasureAt, LapValues]:
    """The rider's line at every marker."""
    markers, usual = run.markers, usual_of(run)
    wide = Summary(*(_numbers(markers, name) for name in (LINE, "wide_lo_m", "wide_hi_m")))
    variance = np.square(spread_of(wide))
    kinds, east, north = (markers[c].tolist() for c in ("kind", "wide_east", "wide_north"))
    off_road, laps, corners = run.off_road, markers["lap"].tolist(), markers["corner"].tolist()
    rides = zip(laps, corners, strict=True)
    on_road = np.array([ride not in off_road for ride in rides], dtype=bool)
    known = markers["lap"].isin(timed) & ~np.isnan(wide.value) & on_road
    found = {}
    for (corner, marker), rows in _groups(markers, known, "corner", "marker").items():
        at = MeasureAt(corner, marker, LINE)
        shared_sd = usual[at].shared_sd if at in usual else 0.0
        # A lap's interval holds the shared error too: what is left of it is the lap's own.
        own_variance = float(np.nan_to_num(variance[rows]).mean()) - shared_sd**2
        any_row = rows[0]
        found[at] = LapValues(
            wide.value[rows],
            shared_sd,
            own_sd=float(np.sqrt(max(own_variance, 0.0))),
            kind=str(kinds[any_row]),
            outward=(float(east[any_row]), float(north[any_row])),
        )
    return found


def _groups(
    table: pd.DataFrame, chosen: pd.Series, *columns: str
) -> dict[tuple[str, ...], list[int]]:
    """Values of some columns → the indices of the chosen rows that have them, in the order of the table."""
    groups: dict[tuple[str, ...], list[int]] = {}
    keys = zip(*(table[column].tolist() for column in columns), strict=True)
    for row, (key, is_chosen) in enumerate(zip(keys, chosen.tolist(), strict=True)):
        if is_chosen:
            groups.setdefault(key, []).append(row)
    return groups


def _numbers(table: pd.DataFrame, column: str) -> FloatArray:
    return table[column].to_numpy(dtype=np.float64)
