"""The chain, written out: from logs through measures and findings to a review.

importer → ridden path → splitter → course → measures → findings; :mod:`lapkit.reporter` writes the result.
One rider's run is the unit of work (:mod:`lapkit.measuring.runs`), so that one log and an event on many cores go the
same way.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from itertools import takewhile
from pathlib import Path

import pandas as pd

from lapkit.compare.results import LogResults, RunResult, Unusable
from lapkit.course.course import Course
from lapkit.errors import no_such
from lapkit.importer.event_folder import entries_of_logs
from lapkit.importer.riders_file import Entry, read_riders, with_runs_of_own_names
from lapkit.importer.run_names import RunNames
from lapkit.importer.source import safe_name
from lapkit.measuring.cluster import workers_of
from lapkit.measuring.gather import gather, none_usable
from lapkit.measuring.inputs import Given, Inputs, log_inputs
from lapkit.measuring.jobs import course_and_job, results_in_order
from lapkit.measuring.options import Options
from lapkit.measuring.packed import Keep
from lapkit.measuring.reviews import TABLES, EventReview
from lapkit.measuring.runs import of_own_name
from lapkit.units import Units

Progress = Callable[[int, int], None]
"""Called with runs done and runs in all."""


def review(
    logs: Sequence[Path],
    given: Given | None = None,
    *,
    rider: str = "",
    options: Options | None = None,
    units: Units = Units.METRIC,
) -> EventReview:
    """One rider's debrief from his logs, each a run.

    Args:
        logs: his logs, put in order by their dates; if one has no date, in the order given.
        given: files beside them; without a track file loop and corners are found from the logs.
        rider: his name; by default from the ``riders.csv`` given, else what his logs' names begin with.
        options: reading options.
        units: of the sentences of findings.

    Raises:
        OptionError: the ``riders.csv`` given names nobody called ``rider``; the message has the nearest name.
        LapkitError: nothing usable in what was given.
    """
    options, given = options or Options(), given or Given()
    listed = read_riders(given.riders).entries if given.riders else ()
    names = [entry.rider for entry in listed]
    if rider and names and rider not in names:
        raise no_such("rider", rider, names)
    entries = tuple(_entries(logs, rider, listed))
    inputs = log_inputs(entries, entries[0].rider, given)
    course, measure = course_and_job(inputs.entries, given, options)
    return gather(inputs, map(measure, inputs.entries), course, options, units)


def event(
    inputs: Inputs,
    *,
    options: Options | None = None,
    units: Units = Units.METRIC,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    keep: Keep | None = None,
) -> EventReview:
    """Every rider of an event folder.

    Args:
        inputs: the folder and what was given beside it (:func:`lapkit.measuring.inputs.event_inputs`).
        options, units: as in :func:`review`.
        workers: processes to use; the machine's cores when None.
        executor: anything with the ``concurrent.futures`` interface, instead of own processes.
        progress: called after each log.
        keep: where results are put on disk meanwhile, and where an earlier run's are; in memory when None.

    Raises:
        LapkitError: what was given cannot be used, or none of the logs can.
    """
    options = options or Options()
    entries = inputs.entries
    with workers_of(executor, workers, len(entries)) as pool:
        course, measure = course_and_job(entries, inputs.given, options)
        measured = results_in_order(entries, inputs.job_keys(options), pool, measure, keep)
        counted = _counted(measured, len(entries), progress)
        return gather(inputs, counted, course, options, units)


def _entries(logs: Sequence[Path], rider: str, listed: Sequence[Entry]) -> Iterator[Entry]:
    """One rider's logs, each a run, with what ``riders.csv`` says about them where it lists them."""
    lines = [_line_of(path, rider, listed) for path in logs]
    known = rider or next((line.rider for line in lines if line), "")
    name = safe_name(known) or safe_name(_common_name(logs)) or "rider"
    entries = [
        Entry(name, str(number), safe_name(path.name), path)
        if line is None
        else replace(line, rider=safe_name(rider) or line.rider, path=path, fault="")
        for number, (path, line) in enumerate(zip(logs, lines, strict=True), 1)
    ]
    return with_runs_of_own_names(entries)


def _line_of(log: Path, rider: str, listed: Sequence[Entry]) -> Entry | None:
    """The line about a log: that of its path, else of its name, since the table may lie elsewhere; None without any.

    Of several that of the rider asked for, else the last.
    """
    by_path = [line for line in listed if line.path.resolve() == log.resolve()]
    lines = by_path or [line for line in listed if line.path.name == log.name]
    own = [line for line in lines if line.rider == rider] or lines
    return own[-1] if own else None


def _common_name(logs: Sequence[Path]) -> str:
    """What the names of a rider's logs begin with, without numbers and signs at its end: ``bo`` of ``bo-1`` and ``bo-2``.

    The first one's whole name where they have nothing in common, or there is no other.
    """
    names = [path.name.split(".")[0] for path in logs]
    alike = takewhile(lambda letters: len(set(letters)) == 1, zip(*names, strict=False))
    common = "".join(letters[0] for letters in alike)
    return common if common in names else re.sub(r"[\d\W_]+$", "", common) or names[0]


def _counted(
    measured: Iterable[LogResults], total: int, progress: Progress | None
) -> Iterator[LogResults]:
    """The results as they come; ``progress`` is called for each."""
    for done, results in enumerate(measured, 1):
        if progress:
            progress(done, total)
        yield results


def lap_tables(
    logs: Sequence[Path], *, track: Path | None = None, options: Options | None = None
) -> tuple[Course, dict[str, pd.DataFrame], tuple[Unusable, ...]]:
    """Course, tables and unusable logs, for a quick look at laps.

    Each log counts as another rider's, unless the logs are those of an event folder.

    Raises:
        LapkitError: nothing usable in what was given.
    """
    options = options or Options()
    entries = entries_of_logs(logs)
    course, measure = course_and_job(entries, Given(track), options)
    runs: list[RunResult] = []
    unusable: list[Unusable] = []
    names = RunNames()
    for results in map(measure, entries):
        runs += (of_own_name(run, names) for run in results.runs)
        unusable += results.unusable
    if not runs:
        raise none_usable(entries, unusable)
    tables = {
        name: pd.concat([run.tables[name] for run in runs], ignore_index=True)
        for name in TABLES
        if name != "findings"
    }
    return course, tables, tuple(unusable)
