"""The chain, written out: from logs through measures and findings to a review.

importer → ridden path → splitter → course → measures → findings; :mod:`lapkit.reporter` writes the result.
One rider's run is the unit of work (:mod:`lapkit.runs`), so that one log and an event on many cores go the
same way.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from itertools import takewhile
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from lapkit.cluster import workers_of
from lapkit.compare.changes import RunChanges
from lapkit.compare.overlap import overlaps, rides_given_twice
from lapkit.compare.results import LogResults, RunResult, Unusable, with_unusable
from lapkit.course.check_digits import coarsely_written
from lapkit.course.check_lines import height_steps
from lapkit.course.course import Course
from lapkit.errors import EventError, no_such
from lapkit.findings import RiderReview, find, find_event, findings_table
from lapkit.importer.event_folder import (
    Entry,
    entries_of_logs,
    look_alike_riders,
    read_riders,
)
from lapkit.importer.source import safe_name
from lapkit.inputs import Given, Inputs, log_inputs
from lapkit.jobs import course_and_job, results_in_order
from lapkit.options import Options
from lapkit.packed import Keep
from lapkit.reviews import TABLES, EventReview
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
        rider: his name; by default from the ``riders.csv`` given, else the first log's name.
        options: reading options.
        units: of the sentences of findings.

    Raises:
        OptionError: the ``riders.csv`` given names nobody called ``rider``; the message has the nearest name.
        LapkitError: nothing usable in what was given.
    """
    options, given = options or Options(), given or Given()
    listed = {e.path.name: e for e in read_riders(given.riders)} if given.riders else {}
    names = [entry.rider for entry in listed.values()]
    if rider and names and rider not in names:
        raise no_such("rider", rider, names)
    entries = tuple(_entries(logs, rider, listed))
    inputs = log_inputs(entries, entries[0].rider, given)
    course, measure = course_and_job(inputs.entries, given, options)
    return _gather(inputs, map(measure, inputs.entries), course, options, units)


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
        inputs: the folder and what was given beside it (:func:`lapkit.inputs.event_inputs`).
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
        return _gather(inputs, counted, course, options, units)


def _entries(logs: Sequence[Path], rider: str, listed: dict[str, Entry]) -> Iterator[Entry]:
    """One rider's logs, each a run, with what ``riders.csv`` says about them where it lists them."""
    name = safe_name(rider) or safe_name(_common_name(logs)) or "rider"
    for number, path in enumerate(logs, 1):
        known = listed.get(path.name)
        if known is None:
            yield Entry(name, str(number), safe_name(path.name), path)
        else:
            yield replace(known, rider=safe_name(rider) or known.rider, path=path, fault="")


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


def _gather(
    inputs: Inputs,
    measured: Iterable[LogResults],
    course: Course,
    options: Options,
    units: Units,
) -> EventReview:
    """Put runs together by rider, find what to say, and join the tables."""
    riders, unusable = _riders(inputs.entries, measured, course, units)
    if not riders:
        raise _none_usable(inputs.entries, unusable)
    return EventReview(
        course=course,
        riders=tuple(riders),
        unusable=tuple(unusable),
        tables=_joined(riders, unusable),
        provenance=inputs.provenance(options, units),
        title=inputs.title,
        notes=tuple(_notes(inputs, course, riders)),
        findings=find_event(riders, course, unusable, units=units),
    )


class _Ridden(NamedTuple):
    """A run, and the line of ``riders.csv`` whose log it came from."""

    run: RunResult
    entry: Entry


def _riders(
    entries: Sequence[Entry], measured: Iterable[LogResults], course: Course, units: Units
) -> tuple[list[RiderReview], list[Unusable]]:
    """Everybody who rode, in the order in which they are listed, and the logs that could not be used.

    A rider is reviewed as soon as the last of his own logs is measured, while workers measure those of others:
    done at the end, it would keep one core busy and all others waiting.
    """
    ridden: dict[str, list[_Ridden]] = {}
    reviewed: dict[str, RiderReview] = {}
    unusable: list[Unusable] = []
    last = {entry.rider: number for number, entry in enumerate(entries)}
    for number, (entry, results) in enumerate(zip(entries, measured, strict=True)):
        for run in results.runs:
            ridden.setdefault(run.rider, []).append(_Ridden(run, entry))
            # A log listed for another rider may hold a run of his; he is then reviewed again.
            reviewed.pop(run.rider, None)
        unusable += results.unusable
        if number == last[entry.rider] and entry.rider in ridden:
            reviewed[entry.rider] = _reviewed(ridden[entry.rider], course, units)
    riders = [
        reviewed.get(rider) or _reviewed(runs, course, units) for rider, runs in ridden.items()
    ]
    return riders, unusable


def _notes(inputs: Inputs, course: Course, riders: Sequence[RiderReview]) -> Iterator[str]:
    """Sentences about the whole: what was guessed, what was left out, and what looks wrong in the input."""
    yield from inputs.notes
    yield from _of_track(course)
    yield from look_alike_riders([entry.rider for entry in inputs.entries])
    yield from (entry.remark for entry in inputs.entries if entry.remark)
    for one in riders:
        yield from overlaps(one.rider, one.runs)
    yield from rides_given_twice([run for one in riders for run in one.runs])


def _of_track(course: Course) -> Iterator[str]:
    """Sentences about what in a track file makes it a poor standard for riders."""
    track = course.track
    if track is None:
        return
    if course.marker_line_from != "given":
        track = replace(track, marker_line=None)
    name = "The track file"
    yield from map(str, [*coarsely_written(track, name), *height_steps(track, course.plane, name)])


def _none_usable(entries: Sequence[Entry], unusable: Sequence[Unusable]) -> EventError:
    reasons = "; ".join(f"{u.file}: {u.reason}" for u in unusable)
    lines = [bool(entry.fault) for entry in entries]
    remedies = ["Mend riders.csv."] * any(lines)
    remedies += ["Run `lapkit check` on a log to see more."] * (not all(lines))
    return EventError(f"no log could be used ({reasons})", remedy=" ".join(remedies))


def _reviewed(of_rider: Sequence[_Ridden], course: Course, units: Units) -> RiderReview:
    """A rider's runs, and what there is to say of them."""
    in_order = _as_ridden(of_rider)
    runs, entries = [each.run for each in in_order], [each.entry for each in in_order]
    groups = [entry.group for entry in entries if entry.group]
    between = RunChanges(runs)
    # A rider who rode with the novices in any run is told nothing in seconds.
    findings = find(runs, course, " ".join(groups), units=units, between=between)
    return RiderReview(
        rider=runs[0].rider,
        group=groups[-1] if groups else "",
        runs=tuple(runs),
        findings=findings,
        bikes=tuple(entry.bike for entry in entries),
        note=entries[0].note,
        changed=between.every(),
    )


def _as_ridden(of_rider: Sequence[_Ridden]) -> Sequence[_Ridden]:
    """In the order in which he rode them; if a log has no date, as they were listed."""
    began = [min(each.run.tables["laps"]["start_utc"].astype(str), default="") for each in of_rider]
    if not all(began):
        return of_rider
    # Equal times keep the order of the list.
    return [of_rider[i] for i in sorted(range(len(of_rider)), key=began.__getitem__)]


def _joined(riders: Sequence[RiderReview], unusable: Sequence[Unusable]) -> dict[str, pd.DataFrame]:
    tables: dict[str, pd.DataFrame] = {}
    everything = [run for rider in riders for run in rider.runs]
    for name in dict.fromkeys([*TABLES, *everything[0].tables]):
        if name == "findings":
            tables[name] = findings_table([f for rider in riders for f in rider.findings])
        else:
            frames = [run.tables[name] for run in everything if name in run.tables]
            full = [f for f in frames if len(f)] or frames[:1]
            tables[name] = pd.concat(full, ignore_index=True)
    tables["logs"] = with_unusable(tables["logs"], unusable)
    return tables


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
    for results in map(measure, entries):
        runs += results.runs
        unusable += results.unusable
    if not runs:
        # Each reason ends in what to do about that log.
        raise EventError("; ".join(f"{u.file}: {u.reason}" for u in unusable), remedy="")
    names = [n for n in TABLES if n != "findings"]
    tables = {n: pd.concat([r.tables[n] for r in runs], ignore_index=True) for n in names}
    return course, tables, tuple(unusable)
