"""What the comparison hands on: tables, and traces to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from lapkit.errors import printable
from lapkit.units import FloatArray


class MeasureAt(NamedTuple):
    """A measure and where it is taken; ``marker`` is empty for what belongs to the corner as a whole.

    ``measure`` is named as in the tables, with its unit.
    """

    corner: str
    marker: str
    measure: str


@dataclass(frozen=True, eq=False)
class CornerTrace:
    """One lap through one corner, thinned for drawing; every array has shape ``(n,)``.

    It runs from 20 m of station before turn-in to 20 m after the exit marker. ``station_m`` is the
    course station, unwrapped as in :class:`~lapkit.course.course.Corner`. ``x_m``, ``y_m`` and
    ``offset_m`` (from the reference, left positive) belong to the tyre path; ``curvature_1pm`` and
    ``lean_deg`` are positive into the turn; ``wide_of_line_m`` is positive when wide of the marker
    line, NaN without one. ``_sd`` is one standard deviation over the draws; ``offset_sd_m`` counts
    the position offset in.
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
    """Whose run is measured, and what its tables must know of the log beside the ridden path.

    Attributes:
        rider: name for the tables.
        session: name of the run for the tables.
        tyre_radius_m: crown radius of the tyres, metres.
        has_clock: whether the log's times count from 1970.
        tells_radius: whether the log has fixes enough for radius and lean; if not, every pass is poor.
    """

    rider: str
    session: str
    tyre_radius_m: float = 0.09
    has_clock: bool = True
    tells_radius: bool = True


@dataclass(frozen=True, eq=False)
class RunResult:
    """One rider's run (session): a frame for each table, and its traces.

    ``tables`` maps ``laps``, ``corners``, ``markers``, ``seams`` and ``logs`` to frames with
    exactly the published columns first, in their order, then any further ones; ``trace`` when it was
    asked for.
    """

    rider: str
    session: str
    tables: dict[str, pd.DataFrame]
    traces: Sequence[CornerTrace]

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every table."""
        who = f"run {printable(self.session)} of {printable(self.rider)}"
        return f"<RunResult of {who}: {', '.join(self.tables)}>"


@dataclass(frozen=True)
class Unusable:
    """A log that could not be used, and why."""

    rider: str
    session: str
    file: str
    reason: str


class LogResults(NamedTuple):
    """What came of one log: its runs, one for each rider and part, and records of what could not be used."""

    runs: list[RunResult]
    unusable: list[Unusable]


UNUSABLE = "unusable"
"""Verdict on a log of which nothing could be used."""


def with_unusable(logs: pd.DataFrame, unusable: Sequence[Unusable]) -> pd.DataFrame:
    """The table ``logs`` with a row for each log that could not be used: verdict and reason, no numbers."""
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
