"""One run measured: every lap through every corner, as tables.

A few corners at a time are measured in every row of the ensemble. The rows of all passes then become the columns of the
tables at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from typing import Any, NamedTuple, TypeVar

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.compare import corners, markers, seams, usual
from lapkit.compare.corners import CornerRows, corner_columns, corner_rows
from lapkit.compare.markers import MarkerRows, marker_columns, marker_rows
from lapkit.compare.off_road import left_road, off_road_m
from lapkit.compare.passes import Passes, estimates, measure_passes
from lapkit.compare.quality import PassQuality, qualities
from lapkit.compare.results import CornerTrace, RunOf, RunResult
from lapkit.compare.seams import seam_columns, seam_rows
from lapkit.compare.standard import Standard, standards
from lapkit.compare.sweep import CornerRides, Ridden, Sweep, rides_through
from lapkit.compare.tables import Table, blanked, laps_table
from lapkit.compare.traces import corner_traces, trace_table
from lapkit.compare.usual import usual_columns
from lapkit.course.course import Course
from lapkit.splitter import Lap, LapKind

_POOLED_CORNER = (
    "curvature_1pm", "exit_curvature_1pm", "lean_deg", "exit_lean_deg", "turn_in_early_m", "time_s",
)  # fmt: skip
"""Measures of a corner in the table ``usual``: fields of :class:`~lapkit.compare.corners.CornerRows`."""

_POOLED_MARKER = ("gap_m", "wide_of_line_m", "speed_mps")
"""Measures at a marker in the table ``usual``: fields of :class:`~lapkit.compare.markers.MarkerRows`."""

_MOST_POINTS = 5000  # grid points that are measured together, so that memory stays small

T = TypeVar("T", CornerRows, MarkerRows)

_Pass = tuple[Standard, Lap]
"""One lap through one corner, the corner by its standard."""


def measure_run(
    path: Ridden,
    laps: Sequence[Lap],
    course: Course,
    run: RunOf,
    *,
    trace: bool = False,
) -> RunResult:
    """Measure one run against the course.

    Every timed lap has a line for every corner, marker and seam. Where a lap could not be measured, its quality is ``poor``
    and its measures are empty. Other laps have lines where they rode a corner whole.

    Args:
        path: the ridden path of the whole log.
        laps: its laps in time order.
        course: the course they were ridden on.
        run: whose run it is, and what its log is like.
        trace: whether to add the table ``trace``.

    Returns:
        The tables ``laps``, ``corners``, ``markers``, ``seams`` and ``usual`` (and ``trace``), and the traces of the timed
        laps.
    """
    sweep = Sweep.of(path, course)
    # Fixes too far apart for a radius count as none.
    fix_time_s = path.fix_time_s if run.tells_radius else path.fix_time_s[:0]
    tables = _Tables(course)
    traces: list[CornerTrace] = []
    measured: list[_Measured] = []
    rides = [rides_through(sweep, laps, corner, course) for corner in course.corners]
    for batch in _batches(rides):
        passes = measure_passes(path, course, batch, sweep)
        measured.append(_Measured.of(passes, course))
        traces += corner_traces(passes, run.rider, run.session)
    if measured:
        tables.add_measured(_Measured.joined(measured), fix_time_s, run.tyre_radius_m)
    tables.add_missing(list(_missing(standards(course).values(), rides, laps)))
    frames = {"laps": laps_table(laps, run), **tables.frames(run.rider, run.session)}
    if trace:
        frames["trace"] = trace_table(path, laps, course, run.rider, run.session)
    return RunResult(run.rider, run.session, frames, tuple(traces))


def _batches(rides: Sequence[CornerRides]) -> Iterator[list[CornerRides]]:
    """Corners to measure together, each with all its laps; corners that no lap rode are left out."""
    batch: list[CornerRides] = []
    points = 0
    for of_corner in rides:
        own = len(of_corner.laps) * of_corner.points
        if batch and points + own > _MOST_POINTS:
            yield batch
            batch, points = [], 0
        if own:
            batch.append(of_corner)
            points += own
    if batch:
        yield batch


class _Measured(NamedTuple):
    """What was measured of passes.

    Attributes:
        passes: the passes, with the estimate as their only row.
        corners: corner measures in every row of the ensemble.
        markers: marker measures in every row.
        seams: share of the exit phase inside each seam in every row, ``(rows, passes, seams)``.
        off_road_m: how far beyond an edge the tyres ran in every row, metres, ``(rows, passes)``.
    """

    passes: Passes
    corners: CornerRows
    markers: MarkerRows
    seams: FloatArray
    off_road_m: FloatArray

    @classmethod
    def of(cls, passes: Passes, course: Course) -> _Measured:
        """Measure passes."""
        return cls(
            passes=estimates([passes]),
            corners=corner_rows(passes),
            markers=marker_rows(passes),
            seams=seam_rows(passes),
            off_road_m=off_road_m(passes, course),
        )

    @classmethod
    def joined(cls, batches: Sequence[_Measured]) -> _Measured:
        """Several batches as one, with their passes one after the other."""
        return cls(
            passes=estimates([batch.passes for batch in batches]),
            corners=_along_passes([batch.corners for batch in batches]),
            markers=_along_passes([batch.markers for batch in batches]),
            seams=np.concatenate([batch.seams for batch in batches], axis=1),
            off_road_m=np.concatenate([batch.off_road_m for batch in batches], axis=1),
        )


def _along_passes(batches: Sequence[T]) -> T:
    """Measures of several batches, ``(rows, passes, ...)`` each, as those of one."""
    kind = type(batches[0])
    joined = {
        field.name: np.concatenate([getattr(batch, field.name) for batch in batches], axis=1)
        for field in fields(kind)
    }
    return kind(**joined)


class _Tables:
    """The tables of a run while they are put together."""

    def __init__(self, course: Course) -> None:
        names = [corner.name for corner in course.corners]
        self.corners = Table(names)
        self.markers = Table(names)
        self.seams = Table(names)
        self.usual = Table(names)

    def add_measured(
        self, measured: _Measured, fix_time_s: FloatArray, tyre_radius_m: float
    ) -> None:
        """Add lines for what was measured; those of a poor pass leave their measures empty."""
        passes = measured.passes
        quality = qualities(passes, measured.corners, fix_time_s)
        poor = quality == PassQuality.POOR
        ridden = [
            (passes.standards[corner], lap)
            for corner, lap in zip(passes.corner_of, passes.laps, strict=True)
        ]
        timed = np.array([lap.kind is LapKind.TIMED for lap in passes.laps])
        left = left_road(measured.off_road_m, passes.corner_of, timed)
        columns = corner_columns(passes, measured.corners, tyre_radius_m)
        columns |= {"off_road_m": measured.off_road_m[0], "left_road": left}
        self.corners.add(_corner_keys(ridden), blanked(columns, poor), {"quality": quality})

        markers = [len(standard.corner.markers) for standard, _ in ridden]
        columns = marker_columns(passes, measured.markers)
        self.markers.add(_marker_keys(ridden), blanked(columns, np.repeat(poor, markers)))

        seams = np.array([len(standard.corner.seams) for standard, _ in ridden])
        there = np.arange(measured.seams.shape[-1]) < seams[:, None]
        columns = seam_columns(measured.seams[:, there])
        self.seams.add(_seam_keys(ridden), blanked(columns, np.repeat(poor, seams)))

        for keys, columns in _usual(measured, timed & ~poor & (left != 1.0)):
            self.usual.add(keys, columns)

    def add_missing(self, missed: Sequence[_Pass]) -> None:
        """Add empty lines for laps in which a corner could not be measured at all."""
        self.corners.add(_corner_keys(missed), {"quality": PassQuality.POOR.value})
        self.markers.add(_marker_keys(missed))
        self.seams.add(_seam_keys(missed), {"call": "unclear"})

    def frames(self, rider: str, session: str) -> dict[str, pd.DataFrame]:
        """Name of a table → its lines as a frame."""
        return {
            "corners": self.corners.frame(corners.ALL_COLUMNS, rider, session),
            "markers": self.markers.frame(markers.ALL_COLUMNS, rider, session),
            "seams": self.seams.frame(seams.ALL_COLUMNS, rider, session),
            "usual": self.usual.frame(usual.COLUMNS, rider, session),
        }


def _missing(
    standards: Iterable[Standard], rides: Sequence[CornerRides], laps: Sequence[Lap]
) -> Iterator[_Pass]:
    """Timed laps that did not ride a corner whole; ``standards`` and ``rides`` are in the order of the corners."""
    timed = [lap for lap in laps if lap.kind is LapKind.TIMED]
    for standard, of_corner in zip(standards, rides, strict=True):
        rode = {lap.number for lap in of_corner.laps}
        yield from ((standard, lap) for lap in timed if lap.number not in rode)


def _corner_keys(ridden: Sequence[_Pass]) -> dict[str, list[Any]]:
    """Key columns of a line for each pass."""
    return {
        "lap": [lap.number for _, lap in ridden],
        "corner": [standard.corner.name for standard, _ in ridden],
        "turn": [standard.corner.turn.value for standard, _ in ridden],
    }


def _marker_keys(ridden: Sequence[_Pass]) -> dict[str, list[Any]]:
    """Key columns of a line for each marker of each pass."""
    lines = [(s.corner, lap, marker) for s, lap in ridden for marker in s.corner.markers]
    return {
        "lap": [lap.number for _, lap, _ in lines],
        "corner": [corner.name for corner, _, _ in lines],
        "marker": [marker.name for _, _, marker in lines],
        "kind": [marker.kind.value for _, _, marker in lines],
    }


def _seam_keys(ridden: Sequence[_Pass]) -> dict[str, list[Any]]:
    """Key columns of a line for each seam of each pass."""
    lines = [(standard, lap, seam) for standard, lap in ridden for seam in standard.corner.seams]
    return {
        "lap": [lap.number for _, lap, _ in lines],
        "corner": [standard.corner.name for standard, _, _ in lines],
        "seam": [seam.name for _, _, seam in lines],
        "counted": [seam is standard.counted_seam for standard, _, seam in lines],
    }


def _usual(
    measured: _Measured, chosen: np.ndarray
) -> Iterator[tuple[dict[str, Any], dict[str, FloatArray]]]:
    """Lines of the table ``usual`` from the passes that are chosen, ``(passes,)``, corner by corner: keys and values.

    A corner has a line for each of its own measures, then for each measure at its markers one for each marker.
    """
    passes = measured.passes
    of_corner = np.stack([getattr(measured.corners, name) for name in _POOLED_CORNER], axis=-1)
    at_markers = np.stack([getattr(measured.markers, name) for name in _POOLED_MARKER], axis=-2)
    for i in np.unique(passes.corner_of):
        corner, own = passes.corners[i], chosen & (passes.corner_of == i)
        names = [marker.name for marker in corner.markers]
        of_markers = at_markers[:, own, :, : len(names)]
        lines = len(_POOLED_MARKER) * len(names)
        of_markers = of_markers.reshape(*of_markers.shape[:2], lines)
        keys = {
            "lap": [0] * (len(_POOLED_CORNER) + lines),
            "corner": corner.name,
            "marker": [""] * len(_POOLED_CORNER) + names * len(_POOLED_MARKER),
            "measure": [*_POOLED_CORNER, *(m for m in _POOLED_MARKER for _ in names)],
        }
        yield keys, usual_columns(np.concatenate([of_corner[:, own], of_markers], axis=-1))
