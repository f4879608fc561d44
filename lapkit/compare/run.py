"""One run measured: every lap through every corner, as the tables of the contract."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

import pandas as pd

from lapkit.compare import corners, markers, seams, usual
from lapkit.compare.corners import CornerRows, corner_record, corner_rows
from lapkit.compare.markers import MarkerRows, marker_records, marker_rows
from lapkit.compare.passes import Crossing, Pass, Ridden, Sweep, crossings_of, measure_pass
from lapkit.compare.quality import Quality, quality_of
from lapkit.compare.results import CornerTrace, RunResult
from lapkit.compare.seams import seam_records
from lapkit.compare.standard import Standard, standards
from lapkit.compare.traces import corner_trace, trace_table
from lapkit.course.course import Corner, Course
from lapkit.splitter import Lap

LAP_COLUMNS = (
    "rider", "session", "lap", "kind", "start_utc", "time_s", "time_sd_s", "distance_m", "samples",
    "missing_s", "note",
)  # fmt: skip
"""The contract's columns of ``laps.csv``, in its order."""

_EXTREMES = frozenset({"exit_curvature_1pm", "curvature_1pm", "lean_deg", "exit_lean_deg"})


@dataclass(frozen=True)
class _Measured:
    """A pass with what was made of it; None where it could not be measured."""

    crossing: Crossing
    quality: Quality
    through: Pass | None = None
    corner: CornerRows | None = None
    markers: MarkerRows | None = None


@dataclass
class _Rows:
    """Lines of the tables while they are gathered."""

    corners: list[dict[str, object]] = field(default_factory=list)
    markers: list[dict[str, object]] = field(default_factory=list)
    seams: list[dict[str, object]] = field(default_factory=list)
    usual: list[dict[str, object]] = field(default_factory=list)
    traces: list[CornerTrace] = field(default_factory=list)


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
    """
    standard = standards(course)
    gathered = _Rows()
    ridden: dict[str, dict[int, Crossing]] = {corner.name: {} for corner in course.corners}
    for crossing in crossings_of(Sweep.of(path, course), laps, course):
        ridden[crossing.corner.name][crossing.lap.number] = crossing
    for corner in course.corners:
        of_corner = standard[corner.name]
        measured = []
        for lap in laps:
            crossing = ridden[corner.name].get(lap.number)
            if crossing is None:
                if lap.kind == "timed":
                    _add_empty(gathered, lap, corner)
                continue
            measured.append(_measure(path, course, crossing, of_corner))
            _add(gathered, measured[-1], of_corner, tyre_radius_m)
        timed = [m for m in measured if m.crossing.lap.kind == "timed" and m.through is not None]
        gathered.usual += _usual(corner, [m for m in timed if m.quality is not Quality.POOR])
        gathered.traces += [corner_trace(m.through, of_corner, rider, session) for m in timed]
    tables = _tables(gathered, laps, rider, session, has_clock)
    if trace:
        tables["trace"] = trace_table(path, laps, course, rider, session)
    return RunResult(rider, session, tables, tuple(gathered.traces))


def _measure(path: Ridden, course: Course, crossing: Crossing, standard: Standard) -> _Measured:
    through = measure_pass(path, course, crossing)
    if not through.whole:
        return _Measured(crossing, Quality.POOR)
    rows = corner_rows(through, standard)
    quality = quality_of(through, rows, path.fix_time_s)
    return _Measured(crossing, quality, through, rows, marker_rows(through, standard))


def _add(gathered: _Rows, m: _Measured, standard: Standard, tyre_radius_m: float) -> None:
    lap, corner = m.crossing.lap, m.crossing.corner
    if m.quality is Quality.POOR:
        _add_empty(gathered, lap, corner)
        return
    key = {"lap": lap.number, "corner": corner.name}
    gathered.corners.append(
        {
            **key,
            "turn": corner.turn.value,
            **corner_record(m.through, standard, m.corner, tyre_radius_m),
            "quality": m.quality.value,
        }
    )
    gathered.markers += [{**key, **r} for r in marker_records(m.through, standard, m.markers)]
    gathered.seams += [{**key, **r} for r in seam_records(m.through)]


def _add_empty(gathered: _Rows, lap: Lap, corner: Corner) -> None:
    key = {"lap": lap.number, "corner": corner.name}
    gathered.corners.append({**key, "turn": corner.turn.value, "quality": Quality.POOR.value})
    gathered.markers += [
        {**key, "marker": m.name, "kind": m.kind.value, "lane": None} for m in corner.markers
    ]
    gathered.seams += [{**key, "seam": s.name, "call": "unclear"} for s in corner.seams]


def _usual(corner: Corner, timed: list[_Measured]) -> list[dict[str, object]]:
    names = [m.name for m in corner.markers]
    records = usual.usual_records(
        {
            measure: [getattr(m.corner, measure) for m in timed]
            for measure in (*sorted(_EXTREMES), "turn_in_early_m", "time_s")
        },
        {
            measure: [getattr(m.markers, measure) for m in timed]
            for measure in ("gap_m", "wide_of_line_m", "speed_mps")
        },
        names,
        _EXTREMES,
    )
    return [{"corner": corner.name, **record} for record in records]


def _tables(
    gathered: _Rows, laps: Sequence[Lap], rider: str, session: str, has_clock: bool
) -> dict[str, pd.DataFrame]:
    layout = {
        "corners": (gathered.corners, corners.COLUMNS + corners.EXTRA_COLUMNS),
        "markers": (gathered.markers, markers.COLUMNS + markers.EXTRA_COLUMNS),
        "seams": (gathered.seams, seams.COLUMNS),
        "usual": (gathered.usual, usual.COLUMNS),
    }
    tables = {"laps": _laps_table(laps, rider, session, has_clock)}
    for name, (records, columns) in layout.items():
        tables[name] = pd.DataFrame(
            [{"rider": rider, "session": session, **record} for record in records],
            columns=list(columns),
        )
    order = ["lap"]
    for name in ("corners", "markers", "seams"):
        tables[name] = tables[name].sort_values(order, kind="stable", ignore_index=True)
    tables["markers"]["lane"] = tables["markers"]["lane"].astype("Int64")
    return tables


def _laps_table(
    laps: Sequence[Lap], rider: str, session: str, has_clock: bool
) -> pd.DataFrame:
    records = [
        {
            "rider": rider,
            "session": session,
            "lap": lap.number,
            "kind": str(lap.kind),
            "start_utc": _utc(lap.start_s) if has_clock else "",
            "time_s": lap.time_s,
            "time_sd_s": lap.time_sd_s,
            "distance_m": lap.distance_m,
            "samples": lap.samples,
            "missing_s": lap.missing_s,
            "note": lap.note,
        }
        for lap in laps
    ]
    return pd.DataFrame(records, columns=list(LAP_COLUMNS))


def _utc(time_s: float) -> str:
    """A time as ISO 8601 to the millisecond, in UTC."""
    stamp = datetime.fromtimestamp(time_s, tz=UTC).isoformat(timespec="milliseconds")
    return stamp.replace("+00:00", "Z")
