"""One rider's run for a notebook: log, path, laps and measures together."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.compare.results import CornerTrace, RunResult
from lapkit.compare.tables import timed_laps
from lapkit.compare.traces import trace_table
from lapkit.counting import counted
from lapkit.course.course import Course
from lapkit.errors import OptionError, named, no_such, printable
from lapkit.importer import Log, read_log
from lapkit.importer.heights import Heights
from lapkit.importer.riders_file import Entry
from lapkit.measuring.course_source import course_of, course_of_logs
from lapkit.measuring.runs import measure_log
from lapkit.path.ridden import RiddenPath
from lapkit.splitter import Lap

FilePath = str | os.PathLike[str]
"""Name of a file or folder."""

_STEP_S = 0.2  # at 200 km/h a point every 11 m


@dataclass(frozen=True, eq=False)
class Run:
    """One rider's run (session), measured against a course.

    Tables are DataFrames with the columns of the files of the same name: SI units, named in the
    columns; ``_lo`` and ``_hi`` the ends of a central 95 % interval. Each call of a table gives a
    copy.

    Attributes:
        rider, session: names for the tables.
        log: the fixes it came from.
        course: what it is measured against.
        path: the ridden path; ``path.at(time_s)`` gives the estimate (row 0) and the draws.
        laps_ridden: the laps in time order, lap 0 the out-lap.
        result: tables and traces, as findings and pages use them.
    """

    rider: str
    session: str
    log: Log
    course: Course
    path: RiddenPath
    laps_ridden: tuple[Lap, ...]
    result: RunResult

    def __repr__(self) -> str:
        """Short, since a notebook shows it unasked."""
        timed = counted(len(timed_laps(self.result.tables["laps"])), "timed lap")
        return f"<Run {printable(self.session)} of {printable(self.rider)}: {timed}>"

    def table(self, name: str) -> pd.DataFrame:
        """A table by name: ``laps``, ``corners``, ``markers``, ``seams``, ``logs``, ``usual`` or ``trace``.

        Raises:
            OptionError: there is no such table.
        """
        if name == "trace":
            return self._trace.copy()
        if name not in self.result.tables:
            raise no_such("table", name, [*self.result.tables, "trace"])
        return self.result.tables[name].copy()

    @property
    def laps(self) -> pd.DataFrame:
        """A row for each lap: ``time_s`` with its standard deviation ``time_sd_s`` (s); ``distance_m``."""
        return self.table("laps")

    @property
    def corners(self) -> pd.DataFrame:
        """A row for each lap × corner: radii (m), lean (°, positive into the turn), speeds (m/s), time."""
        return self.table("corners")

    @property
    def markers(self) -> pd.DataFrame:
        """A row for each lap × marker: gap to the cone, wide of the line (m), speed, radius, lean (°)."""
        return self.table("markers")

    @property
    def seams(self) -> pd.DataFrame:
        """A row for each lap × seam: share of the exit ridden inside it, its probability, and the call."""
        return self.table("seams")

    @property
    def trace(self) -> pd.DataFrame:
        """A row for each fix: place (° and m), station (m), speed (m/s), curvature (1/m), lean (°)."""
        return self.table("trace")

    def lap(self, number: int) -> Lap:
        """A lap by number; its times are seconds on the log's clock.

        Raises:
            OptionError: the run has no such lap.
        """
        return named("lap", str(number), {str(lap.number): lap for lap in self.laps_ridden})

    def lap_times_s(self, lap: Lap) -> FloatArray:
        """Times every 0.2 s from a lap's start to its end, seconds on the log's clock, shape ``(n,)``."""
        count = max(int((lap.end_s - lap.start_s) / _STEP_S), 1) + 1
        return np.linspace(lap.start_s, lap.end_s, count)

    def traces(self, corner: str | int) -> tuple[CornerTrace, ...]:
        """The timed laps through a corner, for drawings; shapes and units are those of :class:`CornerTrace`.

        Raises:
            OptionError: the course has no such corner.
        """
        name = self.course.corner(corner).name
        return tuple(t for t in self.result.traces if t.corner == name)

    @cached_property
    def _trace(self) -> pd.DataFrame:
        return trace_table(self.path, self.laps_ridden, self.course, self.rider, self.session)


def runs_given(runs: Run | Iterable[Run], purpose: str) -> list[Run]:
    """A run or several as a list; the error says what they are for, ``purpose``: a verb.

    Raises:
        OptionError: there is none.
    """
    given = [runs] if isinstance(runs, Run) else list(runs)
    if not given:
        raise OptionError(f"no run to {purpose}", remedy="Give one from lapkit.measure.")
    return given


def measure(
    log: Log | FilePath,
    course: Course | None = None,
    *,
    rider: str = "",
    session: str = "1",
    heights: Heights | None = None,
    columns: Mapping[str, str] | None = None,
) -> Run:
    """Recover a run's ridden path from its log, split it into laps and measure them.

    Args:
        log: a log, or the name of its file, which :func:`read_log` reads: of several logs in it the one with
            most fixes, and runs with a break between them as one. :func:`read_logs` gives each run by itself.
        course: from :func:`read_course`; without one the loop, a start line and the corners are
            found from the log itself, and everything that needs cones or seams is left out.
        rider: name for the tables; by default the rider that the log names, else the file's name.
        session: name of the run for the tables.
        heights: of antenna and centre of mass above the road, metres; usual ones by default.
        columns: for a CSV file, which header holds what; see :func:`read_log`.

    Raises:
        LogError: the log cannot be read, was ridden elsewhere, or is of no use (see :func:`assess`).
        PathError: the log does not determine a path.
        TrackError: no course was given and none can be found in the log.
        OptionError: ``course`` is not a course but, say, the name of a track file.
    """
    if course is not None and not isinstance(course, Course):
        raise OptionError(
            f"runs are measured on a course, and {type(course).__name__} is none",
            remedy="Give what lapkit.read_course makes of a track file.",
        )
    log = log if isinstance(log, Log) else read_log(log, columns=columns)
    entry = Entry(
        rider=rider or log.rider or Path(log.source).name.split(".")[0],
        session=session,
        file=Path(log.source).name,
        path=Path(log.source),
        heights=heights or Heights.usual(),
    )
    course = course or course_of_logs([log])
    path, laps, result = measure_log(log, entry, course)
    return Run(entry.rider, session, log, course, path, laps, result)


def read_course(track: FilePath, *, line: FilePath | None = None) -> Course:
    """Read a track file and place it on a local plane, with its marker line.

    The marker line is the coach's own mean lap when ``line`` is given, else the file's, else solved
    from the cones; where no line can meet the cones the course comes without one.

    Args:
        track: the track file (GeoJSON).
        line: log of the coach's own laps.

    Returns:
        The course; metres east and north on its ``plane``, stations along its ``reference``.

    Raises:
        TrackError: the track file, or the coach's laps on it, cannot be used.
        LogError: the coach's log cannot be read.
    """
    return course_of(Path(track), Path(line) if line else None)
