"""What there is to judge a rider by at one corner: his timed laps of all runs, as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from lapkit.compare.judged_laps import ConeLaps, CornerLaps, Lines, SeamLaps
from lapkit.compare.quality import PassQuality
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.standard import Standard, standards
from lapkit.compare.stats import LEAST_SPREAD
from lapkit.compare.tables import timed_numbers
from lapkit.compare.usual import Usual, sd_of_usual, usual_of
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.units import FloatArray

FEWEST_LAPS = 3
"""Fewer laps than this make no habit, and do not tell how a corner is ridden now."""

T = TypeVar("T", ConeLaps, SeamLaps)


@dataclass(frozen=True, eq=False)
class Evidence:
    """One rider's timed laps through one corner that could be judged, those of all his runs in time order.

    Attributes:
        rider: whose.
        corner: where.
        standard: what the corner asks for.
        sessions: names of all his runs, in time order.
        run: which of these each lap belongs to, by its index, ``(laps,)``.
        number: of each lap within its run, ``(laps,)``.
        laps: measures of the corner.
        cones: cone's name → measures there.
        seams: seam's name → measures there.
        usual_of_runs: what each run tells of his usual lap, at every corner.
    """

    rider: str
    corner: Corner
    standard: Standard
    sessions: tuple[str, ...]
    run: np.ndarray
    number: np.ndarray
    laps: CornerLaps
    cones: dict[str, ConeLaps]
    seams: dict[str, SeamLaps]
    usual_of_runs: tuple[dict[MeasureAt, Usual], ...]

    @property
    def count(self) -> int:
        """How many laps there are to judge by."""
        return len(self.run)

    def session(self, lap: int) -> str:
        """Name of the run that a lap belongs to, by the lap's index here."""
        return self.sessions[int(self.run[lap])]

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
        """Mean of a measure over all laps, and one standard deviation of how well it is known, both in its unit.

        The more laps, the less their scatter counts; the error that all laps of a run share stays what it is. NaN where
        there is no such measure.
        """
        return _mean(self._usual(measure, marker))

    def usual_now(self, measure: str, marker: str = "") -> tuple[float, float]:
        """The same over the laps of :attr:`now`."""
        told = self._usual(measure, marker)
        return _mean(_enough(told)[-1:] or told)

    def shared_sd(self, measure: str, marker: str = "") -> float:
        """One standard deviation of the error that the laps of :attr:`now` share; NaN where there is no such measure."""
        told = self._usual(measure, marker)
        last = (_enough(told) or told)[-1:]
        return last[0].shared_sd if last else float("nan")

    def _usual(self, measure: str, marker: str) -> list[Usual]:
        """What each run that has it tells of a measure here, in time order."""
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
    laps = CornerLaps.read(Lines(runs, "corners"))
    ridden = _judged(runs)
    cones = _ByName.read(ConeLaps, runs, "markers", "marker")
    seams = _ByName.read(SeamLaps, runs, "seams", "seam")
    usual_of_runs = tuple(usual_of(run) for run in runs)
    found = []
    for corner in course.corners:
        own = sorted(ridden.get(corner.name, {}).items())
        which = [ride for ride, _ in own]
        run, number = np.array(which, dtype=np.intp).reshape(-1, 2).T
        found.append(
            Evidence(
                rider=runs[0].rider,
                corner=corner,
                standard=standards(course)[corner.name],
                sessions=tuple(run.session for run in runs),
                run=run,
                number=number,
                laps=laps.of(np.array([line for _, line in own], dtype=np.intp)),
                cones=cones.beside(corner.name, which),
                seams=seams.beside(corner.name, which),
                usual_of_runs=usual_of_runs,
            )
        )
    return found


_Ride = tuple[int, int]
"""Number of a run and of a lap in it."""


def _judged(runs: Sequence[RunResult]) -> dict[str, dict[_Ride, int]]:
    """Corner → its timed laps that could be judged, each with its line in the table ``corners`` of all runs."""
    timed = [timed_numbers(run.tables["laps"]) for run in runs]
    found: dict[str, dict[_Ride, int]] = {}
    keys = Lines(runs, "corners").keys("lap", "corner", "quality")
    for line, (run, lap, corner, quality) in enumerate(keys):
        if lap in timed[run] and quality != PassQuality.POOR:
            found.setdefault(corner, {})[run, lap] = line
    return found


@dataclass(frozen=True, eq=False)
class _ByName(Generic[T]):
    """A table with a line for each lap past a cone or along a seam.

    ``lines`` maps corner, cone or seam, and ride to the line in ``every``.
    """

    every: T
    lines: dict[str, dict[str, dict[_Ride, int]]]

    @classmethod
    def read(cls, kind: type[T], runs: Sequence[RunResult], table: str, key: str) -> _ByName[T]:
        """That table of all runs; ``key`` is the column with the cone's or seam's name."""
        of_runs = Lines(runs, table)
        lines: dict[str, dict[str, dict[_Ride, int]]] = {}
        for line, (run, corner, name, lap) in enumerate(of_runs.keys("corner", key, "lap")):
            lines.setdefault(corner, {}).setdefault(name, {})[run, lap] = line
        return cls(kind.read(of_runs), lines)

    def beside(self, corner: str, rides: Sequence[_Ride]) -> dict[str, T]:
        """Cone or seam of a corner → its measures in each of the laps."""
        return {
            name: self.every.of(np.array([lines.get(ride, -1) for ride in rides], dtype=np.intp))
            for name, lines in self.lines.get(corner, {}).items()
        }


def p_above(value: ArrayLike, sd: ArrayLike, limit: ArrayLike) -> FloatArray:
    """Probability that a value lies above a limit; zero where it is not known. Arguments broadcast.

    Args:
        value: what was measured, any shape.
        sd: one standard deviation of it, in its unit.
        limit: in its unit.
    """
    with np.errstate(invalid="ignore"):
        p = ndtr(np.subtract(value, limit) / np.maximum(sd, LEAST_SPREAD))
    return np.nan_to_num(p)
