"""One run measured: every lap through every corner, as tables.

Its passes are looked at a few corners at a time, in every row of the ensemble; what was measured in the rows
becomes the tables' columns for all passes at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from typing import Any, NamedTuple, TypeVar

import numpy as np

from lapkit.compare import corners, markers, seams, usual
from lapkit.compare.corners import CornerRows, corner_columns, corner_rows
from lapkit.compare.markers import MarkerRows, marker_columns, marker_rows
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
from lapkit.units import FloatArray

_POOLED_CORNER = (
    "curvature_1pm", "exit_curvature_1pm", "lean_deg", "exit_lean_deg", "turn_in_early_m", "time_s",
)  # fmt: skip
_POOLED_MARKER = ("gap_m", "wide_of_line_m", "speed_mps")
_MOST_POINTS = 5000  # of the grid looked at together, so that memory stays small

_COLUMNS = {
    "corners": corners.ALL_COLUMNS,
    "markers": markers.ALL_COLUMNS,
    "seams": seams.ALL_COLUMNS,
    "usual": usual.COLUMNS,
}
"""Tables of what was measured, and their columns."""

T = TypeVar("T", CornerRows, MarkerRows)

_Pass = tuple[Standard, Lap]
"""One lap through one corner, which its standard names."""


def measure_run(
    path: Ridden,
    laps: Sequence[Lap],
    course: Course,
    run: RunOf,
    *,
    trace: bool = False,
) -> RunResult:
    """Measure one run against the course.

    Every timed lap has a line for every corner, marker and seam; where a lap could not be measured
    its quality is ``poor`` and its numbers are empty. Other laps have lines where they rode a
    corner whole.

    Args:
        path: the ridden path of the whole log.
        laps: its laps in time order.
        course: the course they were ridden on.
        run: whose it is, and what its log is like.
        trace: whether to add the table ``trace``.

    Returns:
        The tables ``laps``, ``corners``, ``markers``, ``seams`` (and ``trace``), and
        ``usual`` (see :mod:`lapkit.compare.usual`); traces of the timed laps.
    """
    sweep = Sweep.of(path, course)
    # Too far apart for a radius they count as none.
    fixes = path.fix_time_s if run.tells_radius else path.fix_time_s[:0]
    tables = {name: Table([corner.name for corner in course.corners]) for name in _COLUMNS}
    traces: list[CornerTrace] = []
    measured: list[_Measured] = []
    rides = [rides_through(sweep, laps, corner, course) for corner in course.corners]
    for together in _batches(rides):
        passes = measure_passes(path, course, together, sweep)
        measured.append(_Measured.of(passes))
        traces += corner_traces(passes, run.rider, run.session)
    if measured:
        _add_measured(tables, _Measured.joined(measured), fixes, run.tyre_radius_m)
    _add_missing(tables, list(_missing(standards(course).values(), rides, laps)))
    frames = {"laps": laps_table(laps, run)}
    for name, columns in _COLUMNS.items():
        frames[name] = tables[name].frame(columns, run.rider, run.session)
    if trace:
        frames["trace"] = trace_table(path, laps, course, run.rider, run.session)
    return RunResult(run.rider, run.session, frames, tuple(traces))


def _batches(rides: Sequence[CornerRides]) -> Iterator[list[CornerRides]]:
    """Corners to look at together, all laps of each, but for those that no lap rode."""
    together: list[CornerRides] = []
    points = 0
    for each in rides:
        own = len(each.laps) * each.points
        if together and points + own > _MOST_POINTS:
            yield together
            together, points = [], 0
        if own:
            together.append(each)
            points += own
    if together:
        yield together


class _Measured(NamedTuple):
    """Measures of passes in every row of the ensemble, and the passes as the estimate alone has them."""

    passes: Passes
    rows: CornerRows
    at_markers: MarkerRows
    beside_seams: FloatArray

    @classmethod
    def of(cls, passes: Passes) -> _Measured:
        return cls(
            estimates([passes]),
            corner_rows(passes),
            marker_rows(passes),
            seam_rows(passes),
        )

    @classmethod
    def joined(cls, parts: Sequence[_Measured]) -> _Measured:
        """Several batches put together, one pass after the other."""
        passes, rows, at_markers, beside_seams = zip(*parts, strict=True)
        return cls(
            estimates(passes),
            _along_passes(rows),
            _along_passes(at_markers),
            np.concatenate(beside_seams, axis=1),
        )


def _along_passes(parts: Sequence[T]) -> T:
    """Rows of several batches, ``(rows, passes, ...)`` each, as those of one."""
    kind = type(parts[0])
    names = [field.name for field in fields(kind)]
    return kind(
        *(np.concatenate([getattr(part, name) for part in parts], axis=1) for name in names)
    )


def _add_measured(
    tables: dict[str, Table],
    measured: _Measured,
    fix_time_s: FloatArray,
    tyre_radius_m: float,
) -> None:
    """Lines for what was measured; those of a poor pass leave their numbers empty."""
    passes, rows, at_markers, beside_seams = measured
    quality = qualities(passes, rows, fix_time_s)
    poor = quality == PassQuality.POOR
    ridden = [
        (passes.standards[i], lap) for i, lap in zip(passes.corner_of, passes.laps, strict=True)
    ]
    columns = corner_columns(passes, rows, tyre_radius_m)
    tables["corners"].add(_corner_keys(ridden), blanked(columns, poor), {"quality": quality})
    count = [len(standard.corner.markers) for standard, _ in ridden]
    columns = marker_columns(passes, at_markers)
    tables["markers"].add(_marker_keys(ridden), blanked(columns, np.repeat(poor, count)))
    count = [len(standard.corner.seams) for standard, _ in ridden]
    there = np.arange(beside_seams.shape[-1]) < np.array(count)[:, None]
    columns = seam_columns(beside_seams[:, there])
    tables["seams"].add(_seam_keys(ridden), blanked(columns, np.repeat(poor, count)))
    timed = ~poor & np.array([lap.kind is LapKind.TIMED for lap in passes.laps])
    for keys, columns in _usual(passes, rows, at_markers, timed):
        tables["usual"].add(keys, columns)


def _missing(
    standards: Iterable[Standard], rides: Sequence[CornerRides], laps: Sequence[Lap]
) -> Iterator[_Pass]:
    """Timed laps that did not ride a corner whole."""
    timed = [lap for lap in laps if lap.kind is LapKind.TIMED]
    for standard, each in zip(standards, rides, strict=True):
        seen = {lap.number for lap in each.laps}
        yield from ((standard, lap) for lap in timed if lap.number not in seen)


def _add_missing(tables: dict[str, Table], missed: Sequence[_Pass]) -> None:
    """Empty lines for laps in which a corner could not be measured at all."""
    tables["corners"].add(_corner_keys(missed), {"quality": PassQuality.POOR.value})
    tables["markers"].add(_marker_keys(missed))
    tables["seams"].add(_seam_keys(missed), {"call": "unclear"})


def _corner_keys(ridden: Sequence[_Pass]) -> dict[str, list[Any]]:
    """Key columns of a line for each pass."""
    lines = [(lap.number, s.corner.name, s.corner.turn.value) for s, lap in ridden]
    return _named(("lap", "corner", "turn"), lines)


def _marker_keys(ridden: Sequence[_Pass]) -> dict[str, list[Any]]:
    """The same of a line for each marker of each pass."""
    lines = [
        (lap.number, s.corner.name, marker.name, marker.kind.value)
        for s, lap in ridden
        for marker in s.corner.markers
    ]
    return _named(("lap", "corner", "marker", "kind"), lines)


def _seam_keys(ridden: Sequence[_Pass]) -> dict[str, list[Any]]:
    """The same of a line for each seam of each pass."""
    lines = [
        (lap.number, s.corner.name, seam.name, seam is s.counted_seam)
        for s, lap in ridden
        for seam in s.corner.seams
    ]
    return _named(("lap", "corner", "seam", "counted"), lines)


def _named(names: Sequence[str], lines: Sequence[tuple[Any, ...]]) -> dict[str, list[Any]]:
    return {name: [line[i] for line in lines] for i, name in enumerate(names)}


def _usual(
    passes: Passes, rows: CornerRows, at_markers: MarkerRows, timed: np.ndarray
) -> Iterator[tuple[dict[str, Any], dict[str, FloatArray]]]:
    """The passes chosen pooled corner by corner, measure by measure: of the corner, then of its markers."""
    of_corner = np.stack([getattr(rows, measure) for measure in _POOLED_CORNER], axis=-1)
    of_markers = np.stack([getattr(at_markers, measure) for measure in _POOLED_MARKER], axis=-2)
    for i in np.unique(passes.corner_of):
        corner, own = passes.corners[i], timed & (passes.corner_of == i)
        names = [marker.name for marker in corner.markers]
        there = of_markers[:, own, :, : len(names)]
        flat = there.reshape(*there.shape[:2], len(_POOLED_MARKER) * len(names))
        measures = [*_POOLED_CORNER, *(m for m in _POOLED_MARKER for _ in names)]
        keys = {
            "lap": [0] * len(measures),
            "corner": corner.name,
            "marker": [""] * len(_POOLED_CORNER) + names * len(_POOLED_MARKER),
            "measure": measures,
        }
        yield keys, usual_columns(np.concatenate([of_corner[:, own], flat], axis=-1))
