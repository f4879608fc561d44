"""What a rider is judged by at one corner: his timed laps of all runs, as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Generic, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from lapkit.arrays import FloatArray
from lapkit.compare.judged_laps import ConeLaps, CornerLaps, Lines, Ride, SeamLaps, judged_lines
from lapkit.compare.results import MeasureAt, RunResult
from lapkit.compare.standard import Standard, standards
from lapkit.compare.stats import LEAST_SPREAD
from lapkit.compare.usual import Usual, usual_of
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind

FEWEST_LAPS = 3
"""Fewer laps than this make no habit, and do not show how a corner is ridden now."""

T = TypeVar("T", ConeLaps, SeamLaps)


class UsualValue(NamedTuple):
    """Mean of a measure over several runs, and its standard error, both in its unit; NaN where it is not known."""

    mean: float
    sd: float


@dataclass(frozen=True, eq=False)
class Evidence:
    """One rider's timed laps through one corner that could be judged, from all his runs in time order.

    Attributes:
        rider: name of the rider.
        corner: the corner.
        standard: what he is held against there.
        sessions: names of all his runs, in time order.
        run: index of each lap's run among these, ``(laps,)``.
        number: number of each lap within its run, ``(laps,)``.
        laps: measures of the corner.
        cones: name of a cone → measures of the laps at it.
        seams: name of a seam → measures of the laps along it.
        usual_of_runs: what each run shows of his usual lap, at every corner.
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
        """Number of laps."""
        return len(self.run)

    def session(self, lap: int) -> str:
        """Name of the run of the lap with this index."""
        return self.sessions[int(self.run[lap])]

    @cached_property
    def last_run(self) -> np.ndarray:
        """Which laps belong to the last run of at least :data:`FEWEST_LAPS` laps, ``(laps,)``; all laps without such a run."""
        runs, laps = np.unique(self.run, return_counts=True)
        enough = runs[laps >= FEWEST_LAPS]
        return self.run == enough[-1] if len(enough) else np.ones(self.count, dtype=bool)

    def marker(self, name: str) -> CourseMarker:
        """The corner's marker with this name, which it must have."""
        return next(m for m in self.corner.markers if m.name == name)

    def last_marker(self, kind: MarkerKind) -> CourseMarker | None:
        """The corner's last marker of a kind; None if it has none."""
        return next((m for m in reversed(self.corner.markers) if m.kind is kind), None)

    def usual(self, measure: str, marker: str = "") -> UsualValue:
        """A measure over the laps of all runs.

        More laps make their scatter count for less; the error that all laps of a run share is not reduced.
        """
        return _mean(self._by_run(measure, marker))

    def usual_in_last_run(self, measure: str, marker: str = "") -> UsualValue:
        """As :meth:`usual`, over the laps of :attr:`last_run`."""
        runs = self._by_run(measure, marker)
        return _mean(_with_enough_laps(runs)[-1:] or runs)

    def shared_sd(self, measure: str, marker: str = "") -> float:
        """One standard deviation of the error that the laps of :attr:`last_run` share; NaN if the measure is not known."""
        runs = self._by_run(measure, marker)
        candidates = _with_enough_laps(runs) or runs
        return candidates[-1].shared_sd if candidates else float("nan")

    def _by_run(self, measure: str, marker: str) -> list[Usual]:
        """The usual value of a measure at this corner in each run that has one, in time order."""
        at = MeasureAt(self.corner.name, marker, measure)
        return [of_run[at] for of_run in self.usual_of_runs if at in of_run]


def _with_enough_laps(runs: Sequence[Usual]) -> list[Usual]:
    return [usual for usual in runs if usual.laps >= FEWEST_LAPS]


def _mean(runs: Sequence[Usual]) -> UsualValue:
    """Mean over the laps of several runs; NaN for no lap."""
    known = [usual for usual in runs if usual.laps]
    if not known:
        return UsualValue(float("nan"), float("nan"))
    laps = np.array([usual.laps for usual in known], dtype=np.float64)
    mean = np.array([usual.mean for usual in known])
    sd = np.array([usual.sd for usual in known])
    weight = laps / laps.sum()
    return UsualValue(float(weight @ mean), float(np.linalg.norm(weight * sd)))


def gather(runs: Sequence[RunResult], course: Course, *, off_road: bool = False) -> list[Evidence]:
    """All evidence about a rider, for each corner of the course; ``runs`` are his, in time order.

    Laps that left the road at a corner are evidence of nothing else; they take part where ``off_road`` asks for them.
    """
    corner_laps = CornerLaps.read(Lines(run.corners for run in runs))
    cones = _ByName.read(ConeLaps, Lines(run.markers for run in runs), "marker")
    seams = _ByName.read(SeamLaps, Lines(run.seams for run in runs), "seam")
    lines_of_corners = judged_lines(runs, off_road=off_road)
    usual_of_runs = tuple(usual_of(run) for run in runs)
    found = []
    for corner in course.corners:
        lines = lines_of_corners.get(corner.name, {})
        rides = sorted(lines)
        run, number = np.array(rides, dtype=np.intp).reshape(-1, 2).T
        found.append(
            Evidence(
                rider=runs[0].rider,
                corner=corner,
                standard=standards(course)[corner.name],
                sessions=tuple(run.session for run in runs),
                run=run,
                number=number,
                laps=corner_laps.of(np.array([lines[ride] for ride in rides], dtype=np.intp)),
                cones=cones.beside(corner.name, rides),
                seams=seams.beside(corner.name, rides),
                usual_of_runs=usual_of_runs,
            )
        )
    return found


@dataclass(frozen=True, eq=False)
class _ByName(Generic[T]):
    """A table with a line for each lap past a cone or along a seam.

    ``lines`` maps corner → cone or seam → ride → index of the line in ``every``.
    """

    every: T
    lines: dict[str, dict[str, dict[Ride, int]]]

    @classmethod
    def read(cls, kind: type[T], table: Lines, key: str) -> _ByName[T]:
        """Read the table of all runs; ``key`` is its column with the name of the cone or seam."""
        lines: dict[str, dict[str, dict[Ride, int]]] = {}
        for line, (run, corner, name, lap) in enumerate(table.keys("corner", key, "lap")):
            lines.setdefault(corner, {}).setdefault(name, {})[run, lap] = line
        return cls(kind.read(table), lines)

    def beside(self, corner: str, rides: Sequence[Ride]) -> dict[str, T]:
        """Name of a cone or seam of a corner → its measures in each of these laps."""
        return {
            name: self.every.of(np.array([lines.get(ride, -1) for ride in rides], dtype=np.intp))
            for name, lines in self.lines.get(corner, {}).items()
        }


def p_above(value: ArrayLike, sd: ArrayLike, limit: ArrayLike) -> FloatArray:
    """Probability that a normally distributed value exceeds a limit; zero where not known. Arguments broadcast.

    Args:
        value: mean of the value, any shape.
        sd: its standard deviation, in its unit.
        limit: the limit, in its unit.
    """
    with np.errstate(invalid="ignore"):
        p = ndtr(np.subtract(value, limit) / np.maximum(sd, LEAST_SPREAD))
    return np.nan_to_num(p)
