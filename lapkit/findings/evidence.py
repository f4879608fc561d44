"""What there is to judge a rider by at one corner: his timed laps of all runs, as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtr

from lapkit.compare.results import RunResult
from lapkit.compare.standard import Standard, standards
from lapkit.course.course import Corner, Course, CourseMarker
from lapkit.course.types import MarkerKind
from lapkit.units import FloatArray

_LEAST_SPREAD = 1e-6  # what seems to be known exactly is still on one side of a limit


@dataclass(frozen=True, eq=False)
class Evidence:
    """One rider at one corner; ``laps`` has a line a timed lap that could be judged, in time order.

    ``markers`` and ``seams`` map a name to frames with the same lines. ``run`` numbers the runs,
    shape ``(laps,)``. ``pooled`` holds the lines of the table ``usual`` for this corner.
    """

    rider: str
    corner: Corner
    standard: Standard
    laps: pd.DataFrame
    run: np.ndarray
    markers: dict[str, pd.DataFrame]
    seams: dict[str, pd.DataFrame]
    pooled: pd.DataFrame

    @property
    def count(self) -> int:
        """How many laps there are to judge by."""
        return len(self.laps)

    def lap(self, column: str) -> FloatArray:
        """A column of ``corners.csv``, ``(laps,)``."""
        return self.laps[column].to_numpy(dtype=np.float64)

    @property
    def exit_lean_added_deg(self) -> FloatArray:
        """Lean of each lap's exit beyond what the marker line asks for at its speeds, ``(laps,)``."""
        return self.lap("exit_lean_max_deg") - self.lap("exit_lean_on_line_deg")

    def last_marker(self, kind: MarkerKind) -> CourseMarker | None:
        """The corner's last marker of a kind."""
        return next((m for m in reversed(self.corner.markers) if m.kind is kind), None)

    def usual(self, measure: str, marker: str = "") -> tuple[float, float]:
        """Mean over all laps, and one standard deviation of how well it is known.

        What the laps of a run share counts once a run, their scatter by their number. NaN where the
        measure is not to be had.
        """
        rows = self._pooled_of(measure, marker)
        laps, usual, shared, scatter = rows[:, rows[0] > 0]
        if not len(laps):
            return float("nan"), float("nan")
        weight = laps / laps.sum()
        mean = float(weight @ usual)
        scatter = np.nan_to_num(scatter)
        variance = np.square(weight) @ (np.square(shared) + np.square(scatter) / laps)
        return mean, float(np.sqrt(variance))

    def scatter(self, measure: str, marker: str = "") -> tuple[float, int]:
        """Standard deviation from lap to lap within runs, and its degrees of freedom."""
        rows = self._pooled_of(measure, marker)
        laps, _, _, scatter = rows[:, rows[0] > 1]
        if not len(laps):
            return float("nan"), 0
        free = laps - 1.0
        squares = free @ np.square(scatter)
        return float(np.sqrt(squares / free.sum())), int(free.sum())

    def _pooled_of(self, measure: str, marker: str) -> FloatArray:
        """Laps, usual value, shared and scatter deviations of each run, ``(4, runs)``."""
        numbers, places = self._pooled
        return numbers[:, places.get((measure, marker), [])]

    @cached_property
    def _pooled(self) -> tuple[FloatArray, dict[tuple[str, str], list[int]]]:
        # Looked up some hundred times a rider: as arrays, which a frame would filter anew each time.
        columns = ("laps", "usual", "shared_sd", "scatter_sd")
        numbers = np.array([self.pooled[c].to_numpy(dtype=np.float64) for c in columns])
        places: dict[tuple[str, str], list[int]] = {}
        keys = zip(self.pooled["measure"].tolist(), self.pooled["marker"].tolist(), strict=True)
        for place, key in enumerate(keys):
            places.setdefault(key, []).append(place)
        return numbers, places


def gather(runs: Sequence[RunResult], course: Course) -> list[Evidence]:
    """All that a rider's runs, in time order, hold about each corner of the course."""
    tables = {
        name: pd.concat(
            [run.tables[name].assign(run=i) for i, run in enumerate(runs)], ignore_index=True
        )
        for name in ("laps", "corners", "markers", "seams", "usual")
    }
    laps = tables["laps"]
    timed = laps.loc[laps["kind"] == "timed", ["run", "lap"]]
    corners = tables["corners"].merge(timed, on=["run", "lap"])
    corners = corners[corners["quality"] != "poor"]
    found = []
    for corner in course.corners:
        own = corners[corners["corner"] == corner.name].sort_values(["run", "lap"])
        found.append(
            Evidence(
                rider=runs[0].rider,
                corner=corner,
                standard=standards(course)[corner.name],
                laps=own.reset_index(drop=True),
                run=own["run"].to_numpy(),
                markers=_split(tables["markers"], own, corner.name, "marker"),
                seams=_split(tables["seams"], own, corner.name, "seam"),
                pooled=tables["usual"][tables["usual"]["corner"] == corner.name],
            )
        )
    return found


def _split(
    table: pd.DataFrame, laps: pd.DataFrame, corner: str, key: str
) -> dict[str, pd.DataFrame]:
    """A corner's lines by marker or seam, each with a line for every one of the laps."""
    of_corner = table[table["corner"] == corner]
    keys = laps[["run", "lap"]]
    return {str(name): _beside(keys, rows) for name, rows in of_corner.groupby(key, sort=False)}


def _beside(keys: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """The line of each lap; empty where a lap has none. Most have one each, and are only put in order."""
    places = {lap: i for i, lap in enumerate(zip(rows["run"], rows["lap"], strict=True))}
    order = [places.get(lap, -1) for lap in zip(keys["run"], keys["lap"], strict=True)]
    if -1 in order or len(places) < len(rows):
        return keys.merge(rows, on=["run", "lap"], how="left")
    return rows.take(order).reset_index(drop=True)


def p_above(value: Any, sd: Any, limit: Any) -> Any:
    """Probability that a value known with a spread lies above a limit, numbers or arrays of one shape.

    Zero where it is not known.
    """
    with np.errstate(invalid="ignore"):
        p = ndtr((value - limit) / np.maximum(sd, _LEAST_SPREAD))
    return np.nan_to_num(p)
