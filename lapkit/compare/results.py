"""What measuring a run gives: its tables, and traces to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.errors import printable
from lapkit.lean import USUAL_TYRE_RADIUS_M
from lapkit.splitter import LapKind


class MeasureAt(NamedTuple):
    """A measure and where it is taken.

    ``corner`` and ``marker`` are names; ``marker`` is empty for a measure of the whole corner. ``measure`` is named as its
    column in the tables, with its unit.
    """

    corner: str
    marker: str
    measure: str


@dataclass(frozen=True, eq=False)
class CornerTrace:
    """One lap through one corner, thinned for drawing.

    Arrays have shape ``(n,)`` and run from 20 m of station before turn-in to 20 m after the exit marker. ``_sd`` is one
    standard deviation over the draws.

    Attributes:
        rider, session: names of the rider and of his run.
        lap: number of the lap within the run.
        corner: name of the corner.
        station_m: station on the course, metres, unwrapped as in :class:`~lapkit.course.course.Corner`.
        x_m, y_m: the tyre path, metres east and north.
        offset_m, offset_sd_m: offset of the tyre path from the reference, metres, left positive; the position offset of the
            receiver is part of its standard deviation.
        wide_of_line_m: distance of the tyre path from the marker line, metres, positive when wide of it; NaN without one.
        speed_mps: speed, m/s.
        curvature_1pm, curvature_sd_1pm: curvature of the ridden path, 1/m, positive into the turn.
        lean_deg, lean_sd_deg: lean, degrees, positive into the turn.
    """

    rider: str
    session: str
    lap: int
    corner: str
    station_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    offset_m: FloatArray
    offset_sd_m: FloatArray
    wide_of_line_m: FloatArray
    speed_mps: FloatArray
    curvature_1pm: FloatArray
    curvature_sd_1pm: FloatArray
    lean_deg: FloatArray
    lean_sd_deg: FloatArray


@dataclass(frozen=True)
class RunOf:
    """Whose run is measured, and what its tables need to know of the log besides the ridden path.

    Attributes:
        rider: name of the rider in the tables.
        session: name of the run in the tables.
        tyre_radius_m: crown radius of the tyres, metres.
        has_clock: whether the log's times count from 1970, so that laps have a date.
        tells_radius: whether the log has enough fixes for radius and lean; if not, every pass is poor.
    """

    rider: str
    session: str
    tyre_radius_m: float = USUAL_TYRE_RADIUS_M
    has_clock: bool = True
    tells_radius: bool = True


@dataclass(frozen=True, eq=False)
class RunResult:
    """One rider's run (session): its tables, and the traces of its laps.

    Attributes:
        rider: name of the rider.
        session: name of the run.
        tables: name of a table → its lines. ``laps``, ``corners``, ``markers``, ``seams`` and ``usual`` are measured
            (:func:`~lapkit.compare.run.measure_run`), ``trace`` only when it was asked for; ``logs`` comes from reading the
            log. The published columns come first, in their order, then any further ones.
        traces: every timed lap through every corner.
    """

    rider: str
    session: str
    tables: dict[str, pd.DataFrame]
    traces: Sequence[CornerTrace]

    @property
    def laps(self) -> pd.DataFrame:
        """The table ``laps``: a line for each lap."""
        return self.tables["laps"]

    @property
    def corners(self) -> pd.DataFrame:
        """The table ``corners``: a line for each lap through each corner."""
        return self.tables["corners"]

    @property
    def markers(self) -> pd.DataFrame:
        """The table ``markers``: a line for each lap past each marker."""
        return self.tables["markers"]

    @property
    def seams(self) -> pd.DataFrame:
        """The table ``seams``: a line for each lap along each seam."""
        return self.tables["seams"]

    @property
    def timed_laps(self) -> set[int]:
        """Numbers of the laps that are timed, from start line to start line."""
        kinds = zip(self.laps["lap"].tolist(), self.laps["kind"].tolist(), strict=True)
        return {lap for lap, kind in kinds if kind == LapKind.TIMED.value}

    @property
    def off_road(self) -> set[tuple[int, str]]:
        """Laps that left the road, with the corner at which they did (:mod:`lapkit.compare.off_road`)."""
        columns = (self.corners[name].tolist() for name in ("lap", "corner", "left_road"))
        return {(lap, corner) for lap, corner, left in zip(*columns, strict=True) if left == 1.0}

    def renamed(self, session: str) -> RunResult:
        """The same run under another name."""
        tables = {name: table.assign(session=session) for name, table in self.tables.items()}
        traces = tuple(replace(trace, session=session) for trace in self.traces)
        return RunResult(self.rider, session, tables, traces)

    def __repr__(self) -> str:
        """Short, because a notebook shows it."""
        who = f"run {printable(self.session)} of {printable(self.rider)}"
        return f"<RunResult of {who}: {', '.join(self.tables)}>"


NO_MEMORY = "there was not enough memory for it; close other programs, or use fewer --workers"
"""Why a log could not be used that another time may be."""


@dataclass(frozen=True)
class Unusable:
    """A log that could not be used: whose it is, its file, and the reason."""

    rider: str
    session: str
    file: str
    reason: str

    @property
    def for_now(self) -> bool:
        """Whether another run may fare better, so that this is not to be kept: memory was short."""
        return self.reason == NO_MEMORY


class LogResults(NamedTuple):
    """What came of one log: a run for each rider and part of it, and records of what could not be used."""

    runs: list[RunResult]
    unusable: list[Unusable]


UNUSABLE = "unusable"
"""The verdict on a log that could not be used."""


def with_unusable(logs: pd.DataFrame, unusable: Sequence[Unusable]) -> pd.DataFrame:
    """The table ``logs`` with a further row, without numbers, for each log that could not be used."""
    if not unusable:
        return logs
    rows = pd.DataFrame(
        [(u.rider, u.session, u.file, UNUSABLE, u.reason) for u in unusable],
        columns=["rider", "session", "file", "verdict", "note"],
        dtype=object,
    ).reindex(columns=logs.columns)
    texts = {"sha256": "", "offset_from": "none", "no_lap": "", "guessed": ""}
    rows = rows.assign(**{c: text for c, text in texts.items() if c in rows})
    joined = {c: [*logs[c], *rows[c]] for c in logs.columns}
    return pd.DataFrame(joined).astype({"has_velocity": "boolean", "wild_fixes": "Int64"})
