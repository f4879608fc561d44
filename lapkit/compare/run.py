"""One run measured: every lap through every corner, as the tables of the contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from lapkit.compare import corners, markers, seams, usual
from lapkit.compare.corners import CornerRows, corner_columns, corner_rows
from lapkit.compare.markers import MarkerRows, marker_columns, marker_rows
from lapkit.compare.passes import Passes, Ridden, Sweep, crossings_of, measure_passes
from lapkit.compare.quality import Quality, qualities
from lapkit.compare.results import CornerTrace, RunResult
from lapkit.compare.seams import seam_columns, seam_rows
from lapkit.compare.standard import Standard, standards
from lapkit.compare.tables import Table, blanked, laps_table
from lapkit.compare.traces import corner_traces, trace_table
from lapkit.compare.usual import usual_columns
from lapkit.course.course import Corner, Course
from lapkit.splitter import Lap
from lapkit.units import FloatArray

_POOLED_CORNER = (
    "curvature_1pm", "exit_curvature_1pm", "lean_deg", "exit_lean_deg", "turn_in_early_m", "time_s",
)  # fmt: skip
_POOLED_MARKER = ("gap_m", "wide_of_line_m", "speed_mps")


def measure_run(
    path: Ridden,
    laps: Sequence[Lap],
    course: Course,
    *,
    rider: str,
    session: str,
    trace: bool = False,
    tyre_radius_m: float = 0.09,
    has_clock: bool = True,
    tells_radius: bool = True,
) -> RunResult:
    """Measure one run against the course.

    Every timed lap has a line for every corner, marker and seam; where a lap could not be measured
    its quality is ``poor`` and its numbers are empty. Other laps have lines where they rode a
    corner whole.

    Args:
        path: the ridden path of the whole log.
        laps: its laps in time order.
        course: the course they were ridden on.
        rider: name for the tables.
        session: name of the run for the tables.
        trace: whether to add the table ``trace``.
        tyre_radius_m: crown radius of the tyres, metres.
        has_clock: whether the log's times count from 1970.
        tells_radius: whether the log has fixes enough for radius and lean; if not, every pass is poor.

    Returns:
        The contract's tables ``laps``, ``corners``, ``markers``, ``seams`` (and ``trace``), and
        ``usual`` (see :mod:`lapkit.compare.usual`); traces of the timed laps.
    """
    sweep = Sweep.of(path, course)
    # Too far apart for a radius they count as none.
    fixes = path.fix_time_s if tells_radius else path.fix_time_s[:0]
    tables = {name: Table() for name in ("corners", "markers", "seams", "usual")}
    traces: list[CornerTrace] = []
    for corner in course.corners:
        standard = standards(course)[corner.name]
        found = crossings_of(sweep, laps, corner, course)
        passes = measure_passes(path, course, corner, found, sweep)
        ridden = () if passes is None else passes.laps
        if passes is not None:
            _add_measured(tables, passes, standard, fixes, tyre_radius_m)
            traces += corner_traces(passes, standard, rider, session)
        _add_missing(tables, standard, [x for x in laps if x.kind == "timed" and x not in ridden])
    return RunResult(
        rider,
        session,
        {
            "laps": laps_table(laps, rider, session, has_clock),
            "corners": tables["corners"].frame(corners.ALL_COLUMNS, rider, session),
            "markers": tables["markers"].frame(markers.ALL_COLUMNS, rider, session),
            "seams": tables["seams"].frame(seams.ALL_COLUMNS, rider, session),
            "usual": tables["usual"].frame(usual.COLUMNS, rider, session),
            **({"trace": trace_table(path, laps, course, rider, session)} if trace else {}),
        },
        tuple(traces),
    )


def _add_measured(
    tables: dict[str, Table],
    p: Passes,
    standard: Standard,
    fix_time_s: FloatArray,
    tyre_radius_m: float,
) -> None:
    """Measure all passes of one corner into the tables; a poor pass leaves its numbers empty."""
    corner, at_markers, beside_seams = (
        corner_rows(p, standard),
        marker_rows(p, standard),
        seam_rows(p),
    )
    quality = qualities(p, corner, fix_time_s)
    poor = quality == Quality.POOR
    tables["corners"].add(
        _keys(p.corner, p.laps, 1),
        blanked(corner_columns(p, standard, corner, tyre_radius_m), poor),
        {"turn": p.corner.turn.value, "quality": quality},
    )
    tables["markers"].add(
        _keys(p.corner, p.laps, len(p.corner.markers)),
        blanked(marker_columns(p, standard, at_markers), poor),
        _marker_names(p.corner, len(p.laps)),
    )
    tables["seams"].add(
        _keys(p.corner, p.laps, len(p.corner.seams)),
        blanked(seam_columns(beside_seams), poor),
        _seam_names(standard, len(p.laps)),
    )
    timed = ~poor & np.array([lap.kind == "timed" for lap in p.laps])
    for record in _usual(p.corner, corner, at_markers, timed):
        none = np.zeros(len(record["laps"]), dtype=int)
        tables["usual"].add({"lap": none, "corner": p.corner.name}, record)


def _add_missing(tables: dict[str, Table], standard: Standard, laps: Sequence[Lap]) -> None:
    """Empty lines for laps in which a corner could not be measured at all."""
    if not laps:
        return
    corner, count = standard.corner, len(laps)
    text = {"turn": corner.turn.value, "quality": Quality.POOR.value}
    tables["corners"].add(_keys(corner, laps, 1), text)
    tables["markers"].add(_keys(corner, laps, len(corner.markers)), _marker_names(corner, count))
    unclear = {"call": "unclear", **_seam_names(standard, count)}
    tables["seams"].add(_keys(corner, laps, len(corner.seams)), unclear)


def _keys(corner: Corner, laps: Sequence[Lap], each: int) -> dict[str, Any]:
    """Key columns of so many lines a lap."""
    return {"lap": np.repeat([lap.number for lap in laps], each), "corner": corner.name}


def _marker_names(corner: Corner, laps: int) -> dict[str, Any]:
    return {
        "marker": [m.name for m in corner.markers] * laps,
        "kind": [m.kind.value for m in corner.markers] * laps,
    }


def _seam_names(standard: Standard, laps: int) -> dict[str, Any]:
    names = [s.name for s in standard.corner.seams]
    counted = [s.name for s in standard.seams_to_mind[:1]]
    return {"seam": names * laps, "counted": [name in counted for name in names] * laps}


def _usual(
    corner: Corner, rows: CornerRows, at_markers: MarkerRows, timed: np.ndarray
) -> Iterator[dict[str, Any]]:
    """The laps chosen pooled, measure by measure: of the corner, then of its markers."""
    of_corner = np.stack([getattr(rows, measure)[:, timed] for measure in _POOLED_CORNER], axis=-1)
    yield {"marker": "", "measure": _POOLED_CORNER, **usual_columns(of_corner)}
    names = [marker.name for marker in corner.markers]
    for measure in _POOLED_MARKER:
        pooled = usual_columns(getattr(at_markers, measure)[:, timed])
        yield {"marker": names, "measure": measure, **pooled}
