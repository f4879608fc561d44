"""One run measured: every lap through every corner, as the tables of the contract."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd

from lapkit.compare import corners, markers, seams, usual
from lapkit.compare.corners import CornerRows, corner_columns, corner_rows
from lapkit.compare.markers import MarkerRows, marker_columns, marker_rows
from lapkit.compare.passes import Passes, Ridden, Sweep, crossings_of, measure_passes
from lapkit.compare.quality import Quality, qualities
from lapkit.compare.results import CornerTrace, RunResult
from lapkit.compare.seams import seam_columns, seam_rows
from lapkit.compare.standard import Standard, standards
from lapkit.compare.traces import corner_traces, trace_table
from lapkit.course.course import Corner, Course
from lapkit.splitter import Lap

LAP_COLUMNS = (
    "rider", "session", "lap", "kind", "start_utc", "time_s", "time_sd_s", "distance_m", "samples",
    "missing_s", "note",
)  # fmt: skip
"""The contract's columns of ``laps.csv``, in its order."""

TEXT_COLUMNS = frozenset({"quality", "call"})
"""Columns that hold words, not numbers."""

_POOLED_CORNER = {
    "exit_curvature_1pm": True, "curvature_1pm": True, "lean_deg": True, "exit_lean_deg": True,
    "turn_in_early_m": False, "time_s": False,
}  # fmt: skip
_POOLED_MARKER = ("gap_m", "wide_of_line_m", "speed_mps")


@dataclass(frozen=True, eq=False)
class _CornerResult:
    """One corner of one run: table name → frame, without rider and session; and its traces."""

    tables: dict[str, pd.DataFrame]
    traces: list[CornerTrace]


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
) -> RunResult:
    """Measure one run against the course.

    Every timed lap has a line for every corner, marker and seam; where a lap could not be measured its
    quality is ``poor`` and its numbers are empty. Other laps have lines where they rode a corner whole.

    Args:
        path: the ridden path of the whole log.
        laps: its laps in time order.
        course: the course they were ridden on.
        rider: name for the tables.
        session: name of the run for the tables.
        trace: whether to add the table ``trace``.
        tyre_radius_m: crown radius of the tyres, metres.
        has_clock: whether the log's times count from 1970.

    Returns:
        The contract's tables ``laps``, ``corners``, ``markers``, ``seams`` (and ``trace``), and ``usual``
        (see :mod:`lapkit.compare.usual`); traces of the timed laps.
    """
    sweep = Sweep.of(path, course)
    gathered = _Gathered()
    for corner in course.corners:
        standard = standards(course)[corner.name]
        found = crossings_of(sweep, laps, corner, course)
        passes = measure_passes(path, course, corner, found, sweep)
        if passes is not None:
            gathered.add(passes, standard, path, tyre_radius_m)
    ...
