"""What there is to judge a rider by at one corner: his timed laps of all runs, as arrays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.special import ndtr

from lapkit.compare.quality import PassQuality
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.standard import Standard, standards
from lapkit.compare.stats import LEAST_SPREAD
from lapkit.compare.tables import timed_numbers
from lapkit.compare.usual import Usual, sd_of_usual, usual_of
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.units import FloatArray

Measures = dict[str, FloatArray]
"""Column of a table → its value in each lap, ``(laps,)``; NaN where a lap has none."""

FEWEST_LAPS = 3
"""Fewer laps than this make no habit, and do not tell how a corner is ridden now."""

_AT_MARKER = (
    "gap_m", "gap_lo_m", "gap_hi_m", "line_gap_m", "wide_of_line_m", "wide_lo_m", "wide_hi_m",
    "lane", "p_lane", "radius_m",
)  # fmt: skip
_MARKERS = ("markers", "marker", _AT_MARKER)
_SEAMS = ("seams", "seam", ("p_inside",))


@dataclass(frozen=True, eq=False)
class Evidence:
    """One rider at one corner; ``laps`` has a line a timed lap that could be judged, in time order.

    ``markers`` and ``seams`` map a name to its measures in these laps. ``run`` numbers the runs, shape
    ``(laps,)``, and ``sessions`` names all of his by that number. ``usual_of_runs`` has what each run tells of his
    usual lap, at every corner.
    """

    rider: str
    corner: Corner
    standard: Standard
    laps: pd.DataFrame
    run: np.ndarray
    sessions: tuple[str, ...]
    markers: dict[str, Measures]
    seams: dict[str, Measures]
    usual_of_runs: tuple[dict[MeasureAt, Usual], ...]

    @property
    def count(self) -> int:
        """How many laps there are to judge by."""
        return len(self.laps)

    def session(self, lap: int) -> str:
        """Name of the run that a lap belongs to, by the lap's index here."""
        return self.sessions[int(self.run[lap])]

    def lap(self, column: str) -> FloatArray:
        """A column of ``corners.csv``, ``(laps,)``."""
        if column not in self._looked_up:
            self._looked_up[column] = self.laps[column].to_numpy(dtype=np.float64)
        return self._looked_up[column]

    @cached_property
    def _looked_up(self) -> Measures:
        return {}

    @property
    def exit_lean_added_deg(self) -> FloatArray:
        """Lean of each lap's exit beyond what the marker line asks for at its speeds, ``(laps,)``."""
        return self.lap("exit_lean_max_deg") - self.lap("exit_lean_on_line_deg")

    @property
    def exit_called(self) -> np.ndarray:
        """Laps whose exit is called tightened, ``(laps,)``: clearly tighter than the marker line's, and further over."""
        return self.lap("tightened") == 1.0

    @cached_property
    def now(self) -> np.ndarray:
        """Laps of the last run that has enough of them, ``(laps,)``; all laps where none has."""
        runs, laps = np.unique(self.run, return_counts=True)
        enough = runs[laps >= FEWEST_LAPS]
        return self.run == enough[-1] if len(enough) else np.ones(self.count, dtype=bool)

    def marker(self, name: str) -> CourseMarker:
        """The corner's marker of a name that it has."""
        return next(m for m in self.corner.markers if m.name == name)

    def last_marker(self, kind: MarkerKind) -> CourseMarker | None:
        """The corner's last marker of a kind."""
        return next((m for m in reversed(self.corner.markers) if m.kind is kind), None)

    def usual(self, measure: str, marker: str = "") -> tuple[float, float]:
        """Mean over all laps, and one standard deviation of how well it is known.

        What the laps of a run share counts once a run, their scatter by their number. NaN where the
        measure is not to be had.
        """
        return _mean(self._usual(measure, marker))

    def usual_now(self, measure: str, marker: str = "") -> tuple[float, float]:
        """The same over the laps of the last run with laps enough (:attr:`now`); over all where none has."""
        told = self._usual(measure, marker)
        return _mean(_enough(told)[-1:] or told)

    def shared_sd(self, measure: str, marker: str = "") -> float:
        """One standard deviation of what the laps of the last run with laps enough share; NaN where not known."""
        told = self._usual(measure, marker)
        last = (_enough(told) or told)[-1:]
        return last[0].shared_sd if last else float("nan")

    def _usual(self, measure: str, marker: str) -> list[Usual]:
        """What those runs tell of a measure here that have it, in time order."""
        at = MeasureAt(self.corner.name, marker, measure)
        return [of_run[at] for of_run in self.usual_of_runs if at in of_run]


def _enough(told: Sequence[Usual]) -> list[Usual]:
    return [each for each in told if each.laps >= FEWEST_LAPS]


def _mean(told: Sequence[Usual]) -> tuple[float, float]:
    """Mean over the laps of several runs, and one standard deviation of it."""
    some = [each for each in told if each.laps]
    if not some:
        return float("nan"), float("nan")
    laps, mean, scatter_sd, shared_sd = (
        np.array(each, dtype=np.float64) for each in zip(*some, strict=True)
    )
    weight = laps / laps.sum()
    known = sd_of_usual(laps, scatter_sd, shared_sd)
    return float(weight @ mean), float(np.linalg.norm(weight * known))


def gather(runs: Sequence[RunResult], course: Course) -> list[Evidence]:
    """All that a rider's runs, in time order, hold about each corner of the course."""
    laps = _judged_laps(runs)
    corners = laps["corner"].to_numpy()
    markers, seams = (_Passes.of(runs, *each) for each in (_MARKERS, _SEAMS))
    usual_of_runs = tuple(usual_of(run) for run in runs)
    found = []
    for corner in course.corners:
        own = laps[corners == corner.name].reset_index(drop=True)
        ridden = list(zip(own["run"].tolist(), own["lap"].tolist(), strict=True))
        found.append(
            Evidence(
                rider=runs[0].rider,
                corner=corner,
                standard=standards(course)[corner.name],
                laps=own,
                run=own["run"].to_numpy(),
                sessions=tuple(run.session for run in runs),
                markers=markers.beside(corner.name, ridden),
                seams=seams.beside(corner.name, ridden),
                usual_of_runs=usual_of_runs,
            )
        )
    return found


def _judged_laps(runs: Sequence[RunResult]) -> pd.DataFrame:
    """The lines of ``corners`` of timed laps that could be judged, with the number of their run, in time order."""
    tables = [run.tables["corners"] for run in runs]
    timed = [
        corners["lap"].isin(timed_numbers(run.tables["laps"]))
        for run, corners in zip(runs, tables, strict=True)
    ]
    laps = pd.concat(tables, ignore_index=True)
    laps["run"] = np.repeat(np.arange(len(runs)), [len(corners) for corners in tables])
    judged = np.concatenate(timed) & (laps["quality"] != PassQuality.POOR).to_numpy()
    return laps[judged].sort_values(["run", "lap"], ignore_index=True)


@dataclass(frozen=True, eq=False)
class _Passes:
    """A table with a line for each lap past a marker or seam, as arrays ``(lines,)``.

    Asked for at every corner, where a frame would be filtered and put in order each time.
    """

    columns: Measures
    lines: dict[str, dict[str, dict[tuple[int, int], int]]]
    """Corner → marker or seam → run and lap → number of the line."""

    @classmethod
    def of(cls, runs: Sequence[RunResult], table: str, key: str, columns: Sequence[str]) -> _Passes:
        """That table of all runs; ``key`` is the column with the marker or seam."""
        lines: dict[str, dict[str, dict[tuple[int, int], int]]] = {}
        for line, (run, corner, name, lap) in enumerate(_keys(runs, table, "corner", key, "lap")):
            lines.setdefault(corner, {}).setdefault(name, {})[run, lap] = line
        return cls({name: _column(runs, table, name) for name in columns}, lines)

    def beside(self, corner: str, laps: Sequence[tuple[int, int]]) -> dict[str, Measures]:
        """Marker or seam of a corner → its measures in each of the laps, given by run and lap."""
        found = {}
        for name, lines in self.lines.get(corner, {}).items():
            order = np.array([lines.get(lap, -1) for lap in laps], dtype=np.intp)
            found[name] = {
                column: np.where(order < 0, np.nan, values[order])
                for column, values in self.columns.items()
            }
        return found


def _column(runs: Sequence[RunResult], table: str, name: str) -> FloatArray:
    """A column of a table, the lines of all runs one after the other."""
    return np.concatenate([run.tables[table][name].to_numpy(dtype=np.float64) for run in runs])


def _keys(runs: Sequence[RunResult], table: str, *names: str) -> Iterator[tuple[Any, ...]]:
    """Number of the run and some columns of each line, in the same order."""
    for number, run in enumerate(runs):
        for line in zip(*(run.tables[table][name].tolist() for name in names), strict=True):
            yield number, *line


def p_above(value: ArrayLike, sd: ArrayLike, limit: ArrayLike) -> FloatArray:
    """Probability that a value known with a spread lies above a limit; arguments broadcast. Zero where it is not known.

    Args:
        value: what was measured, any shape.
        sd: one standard deviation of it, in its unit.
        limit: in its unit.
    """
    with np.errstate(invalid="ignore"):
        p = ndtr(np.subtract(value, limit) / np.maximum(sd, LEAST_SPREAD))
    return np.nan_to_num(p)
