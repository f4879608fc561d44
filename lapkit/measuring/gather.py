"""An event's runs put together: every rider's findings, the tables joined, and what there is to say of the whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import pandas as pd

from lapkit.compare.changes import RunChanges
from lapkit.compare.other_day import of_another_day
from lapkit.compare.overlap import overlaps, rides_given_twice
from lapkit.compare.results import LogResults, RunResult, Unusable, with_unusable
from lapkit.compare.tables import began
from lapkit.counting import counted, first_of
from lapkit.course.check_digits import COARSE
from lapkit.course.checks import check_track
from lapkit.course.course import Course
from lapkit.course.problem import Severity
from lapkit.course.types import LineSource
from lapkit.days import event_began
from lapkit.errors import EventError
from lapkit.findings import RiderReview, find, find_event, findings_table
from lapkit.findings.troubles import alike, cones_to_doubt, with_doubt
from lapkit.importer.rider_names import look_alike_riders
from lapkit.importer.riders_file import Entry
from lapkit.importer.run_names import RunNames
from lapkit.measuring.inputs import Inputs
from lapkit.measuring.options import Options
from lapkit.measuring.reviews import TABLES, EventReview
from lapkit.measuring.runs import of_own_name
from lapkit.remarks import Remark
from lapkit.units import Units

_ERRORS_TOLD = 3  # of a track file; more would bury the other notes


def gather(
    inputs: Inputs,
    measured: Iterable[LogResults],
    course: Course,
    options: Options,
    units: Units,
) -> EventReview:
    """Put runs together by rider, find what to say of each and of the event, and join the tables.

    Args:
        inputs: what was measured.
        measured: results in the order of the entries of ``inputs``; they may still be under way.
        course: what they were measured against.
        options, units: as in :func:`lapkit.pipeline.event`.

    Raises:
        EventError: no log could be used; the message has the reason of each.
    """
    riders, unusable, renamed = _riders(inputs.entries, measured, course, units)
    if not riders:
        raise none_usable(inputs.entries, unusable)
    findings = {one.rider: one.findings for one in riders}
    doubted = alike(findings, course)
    remarks = [*renamed, *_remarks(inputs, course, riders)]
    if (cones := cones_to_doubt(findings, doubted, course)) is not None:
        remarks.append(cones)
    return EventReview(
        course=course,
        riders=tuple(_with_remarks(rider, remarks, doubted) for rider in riders),
        unusable=tuple(unusable),
        tables=_joined(riders, unusable),
        provenance=inputs.provenance(options, units),
        title=inputs.title,
        notes=tuple(remark.text for remark in remarks),
        findings=find_event(riders, course, unusable, units=units),
        began=event_began(
            (began(run.laps) for one in riders for run in one.runs), course.plane.lon_deg
        ),
        files=tuple(inputs.hashes),
    )


class _Ridden(NamedTuple):
    """A run, and the line of ``riders.csv`` whose log it came from."""

    run: RunResult
    entry: Entry


def _riders(
    entries: Sequence[Entry], measured: Iterable[LogResults], course: Course, units: Units
) -> tuple[list[RiderReview], list[Unusable], list[Remark]]:
    """Everybody who rode, in the order in which they are listed, the logs that could not be used, and runs renamed.

    A rider is reviewed as soon as the last of his own logs is measured, while workers measure those of others:
    done at the end, it would keep one core busy and all others waiting.
    """
    ridden: dict[str, list[_Ridden]] = {}
    reviewed: dict[str, RiderReview] = {}
    unusable: list[Unusable] = []
    renamed: list[Remark] = []
    names = RunNames()
    last = {entry.rider: number for number, entry in enumerate(entries)}
    for number, (entry, results) in enumerate(zip(entries, measured, strict=True)):
        for run in results.runs:
            own = of_own_name(run, names)
            ridden.setdefault(run.rider, []).append(_Ridden(own, entry))
            if own is not run:
                text = (
                    f"{run.rider} has more than one run {run.session}; that in {entry.file} is run "
                    f"{own.session} here."
                )
                renamed.append(Remark(text, (run.rider,)))
            # A log listed for another rider may hold a run of his; he is then reviewed again.
            reviewed.pop(run.rider, None)
        unusable += results.unusable
        if number == last[entry.rider] and entry.rider in ridden:
            reviewed[entry.rider] = _reviewed(ridden[entry.rider], course, units)
    riders = [
        reviewed.get(rider) or _reviewed(runs, course, units) for rider, runs in ridden.items()
    ]
    return riders, unusable, renamed


def _with_remarks(
    rider: RiderReview, remarks: Iterable[Remark], doubted: Mapping[str, Sequence[str]]
) -> RiderReview:
    """A rider with the remarks that concern him, and with his doubt of cones where he is to work on something."""
    told = tuple(remark.text for remark in remarks if remark.concerns(rider.rider))
    return replace(rider, remarks=told, findings=with_doubt(rider.findings, doubted))


def _remarks(inputs: Inputs, course: Course, riders: Sequence[RiderReview]) -> Iterator[Remark]:
    """What was guessed, what was left out and what looks wrong in the input."""
    yield from (Remark(note, ()) for note in inputs.notes)
    yield from map(Remark, _of_track(course))
    listed_runs: dict[str, list[str]] = {}
    for entry in inputs.entries:
        listed_runs.setdefault(entry.rider, []).append(entry.session)
    yield from look_alike_riders(listed_runs)
    yield from (Remark(e.remark, (e.rider,)) for e in inputs.entries if e.remark)
    for one in riders:
        yield from overlaps(one.rider, one.runs)
    runs = [run for one in riders for run in one.runs]
    yield from rides_given_twice(runs)
    yield from of_another_day(runs, course.plane.lon_deg)


def _of_track(course: Course) -> Iterator[str]:
    """Sentences about what in a track file makes it a poor standard for riders."""
    track = course.track
    if track is None:
        return
    if course.marker_line_from is not LineSource.GIVEN:
        track = replace(track, marker_line=None)
    problems = check_track(replace(track, source="The track file"), course)
    errors = [problem for problem in problems if problem.severity is Severity.ERROR]
    yield from map(str, errors[:_ERRORS_TOLD])
    if len(errors) > _ERRORS_TOLD:
        more = counted(len(errors) - _ERRORS_TOLD, "more error")
        yield f"The track file has {more}, told by `lapkit track`: mend it before figures are believed."
    yield from (str(problem) for problem in problems if problem.code == COARSE)
    if course.profile is None:
        yield (
            "The track file has no heights, so the road counts as level: over a crest or in a dip, lean is wrong by more "
            "than its interval says."
        )


def none_usable(entries: Sequence[Entry], unusable: Sequence[Unusable]) -> EventError:
    """The error where no log of all that were listed is of use."""
    # Parts of one log are often of no use for one reason, and with the track file of another course every log is.
    by_reason: dict[str, list[str]] = {}
    for each in unusable:
        files = by_reason.setdefault(each.reason, [])
        files += [each.file] * (each.file not in files)
    reasons = "; ".join(f"{first_of(files)}: {reason}" for reason, files in by_reason.items())
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
    starts = [began(each.run.laps) for each in of_rider]
    if not all(starts):
        return of_rider
    # Equal times keep the order of the list.
    return [of_rider[i] for i in sorted(range(len(of_rider)), key=starts.__getitem__)]


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
