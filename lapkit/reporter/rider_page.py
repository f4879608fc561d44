"""The rider's page: what to work on first, then corner by corner, laps, logs, how to read it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import pandas as pd

from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import standards
from lapkit.compare.tables import began, timed_laps
from lapkit.compare.usual import usual_of
from lapkit.counting import counted, run_names
from lapkit.course.course import Corner, Course
from lapkit.days import in_words, local_day
from lapkit.findings import Code, Finding, Kind, RiderReview, untold, worth_a_look
from lapkit.findings.untold import LAP_TIMES_ONLY, NO_LAP, NO_LINE, TOO_COARSE, TOO_FEW
from lapkit.measuring.reviews import EventReview
from lapkit.reporter import display
from lapkit.reporter.corner_section import CornerSection, corner_section
from lapkit.reporter.course_words import line_note, seams_count_from_inside
from lapkit.reporter.event_words import NO_TRACK_FILE, event_title
from lapkit.reporter.figures import course_map_svg
from lapkit.reporter.first_screen import FirstFinding, FirstScreen
from lapkit.reporter.glossary import glossary
from lapkit.reporter.lap_words import lap_count, lap_rows
from lapkit.reporter.laps_at_corner import laps_at_corners
from lapkit.reporter.log_words import not_used, without_lap, words_of_run
from lapkit.reporter.page import render
from lapkit.reporter.rider_at_corner import RiderAtCorner
from lapkit.reporter.run_changes import can_change, run_changes
from lapkit.reporter.slugs import slug
from lapkit.reporter.usual_lap import usual_words
from lapkit.splitter import UNTIMED
from lapkit.units import Units

_SEE_LOGS = "Why, and what would help, is said under “How good the logs are”."


@dataclass(frozen=True)
class RiderPage:
    """A page, and its pictures by a name that is safe in a file's name."""

    html: str
    pictures: Mapping[str, str] = field(default_factory=dict)


def rider_page(event: EventReview, rider: RiderReview, *, units: Units) -> RiderPage:
    """One rider's page, complete in itself, together with its pictures.

    Args:
        event: course, notes and provenance; its tables and its other riders are not looked at.
        rider: whose page.
        units: what is read.
    """
    course = event.course
    laps = _joined(rider, "laps")
    traces = [t for run in rider.runs for t in run.traces]
    corners = _sections(course, rider, traces, units)
    sections = {c.name: section for c, section in zip(course.corners, corners, strict=True)}
    screen = FirstScreen(course, traces, sections, units)
    said_first = (f for f in rider.findings if f.kind not in (Kind.OTHER, Kind.FACT))
    first = [screen.finding(finding, number) for number, finding in enumerate(said_first)]
    why = untold(rider.runs, course)
    nothing = nothing_to_work_on(why, rider, units)
    coarse = any(untold([run], course) == TOO_COARSE for run in rider.runs)
    if why == TOO_COARSE or (why == TOO_FEW and coarse):
        nothing = nothing._replace(text=f"{nothing.text} {_SEE_LOGS}")
    seamed = any(c.seams for c in course.corners)
    html = render(
        "rider.html.j2",
        scripted=True,
        title=f"{rider.rider} – debrief",
        version=event.provenance.get("version", ""),
        rider=rider.rider,
        facts=page_facts(event, rider, units),
        work=[f for f in first if f.kind == Kind.WORK],
        minds=[f for f in first if f.kind == Kind.MIND],
        wells=[f for f in first if f.kind == Kind.WELL],
        others=[f.text for f in rider.findings if f.kind is Kind.OTHER and not f.corner],
        nothing=nothing,
        notes=[
            *rider.remarks,
            *([NO_TRACK_FILE] if course.found else []),
            *(not_used(u, units) for u in event.unusable if u.rider == rider.rider),
        ],
        # Where the corners are that were found from the logs: nobody knows them by these numbers.
        map=course_map_svg(course, units) if course.found else "",
        line_note=line_note(course, units),
        marked=any(c.markers for c in course.corners),
        seamed=seamed,
        seams_counted=seams_count_from_inside(course),
        corners=corners,
        changes=run_changes(rider, units) if can_change(rider, course) else None,
        laps_first=why in LAP_TIMES_ONLY,
        untold=why,
        laps=lap_rows(laps, units),
        lap_count=lap_count(laps),
        logs=[log for run in rider.runs for log in words_of_run(run, units, course)],
        glossary=glossary(units, lined=course.marker_line is not None, seamed=seamed),
    )
    return RiderPage(html, _pictures(course, first, corners))


def _sections(
    course: Course,
    rider: RiderReview,
    traces: Sequence[CornerTrace],
    units: Units,
) -> list[CornerSection]:
    """Everything about each corner, in the order of the course."""
    laps = laps_at_corners(rider.runs)
    usual, of_corner = usual_of(rider.runs[-1]), standards(course)
    return [
        corner_section(
            RiderAtCorner(
                course,
                corner,
                i,
                findings=_of_corner(rider.findings, corner),
                traces=[t for t in traces if t.corner == corner.name],
                laps=laps.get(corner.name, ()),
                units=units,
            ),
            untold=untold(rider.runs, course, corner.name),
            usual=usual_words(usual, corner, of_corner[corner.name], rider, units),
        )
        for i, corner in enumerate(course.corners)
    ]


def _joined(rider: RiderReview, table: str) -> pd.DataFrame:
    """One table of all of a rider's runs."""
    return pd.concat([run.tables[table] for run in rider.runs], ignore_index=True)


def _of_corner(findings: Sequence[Finding], corner: Corner) -> list[Finding]:
    """The findings to tell at a corner, each thing once.

    Praise for what was mended stands on the first screen, in the words of the habit that was given up. Where running
    inside the seam leads, the distance from the exit cone would say the same again.
    """
    here = [f for f in findings if f.corner == corner.name and f.code is not Code.MENDED]
    if not here or here[0].code is not Code.INSIDE_SEAM:
        return here
    return [f for f in here if f.code is not Code.EXIT_CONE_MISSED or f.habit != here[0].habit]


def page_facts(event: EventReview, rider: RiderReview, units: Units) -> list[str]:
    """What stands under the rider's name."""
    laps = _joined(rider, "laps")
    timed = len(timed_laps(laps))
    starts = [began(run.laps) for run in rider.runs]
    # A log of another day counts only where he has no other.
    start = min((at for at in starts if at and at >= event.began), default=began(laps))
    when = in_words(local_day(start, event.course.plane.lon_deg)) if start else ""
    none = [run.session for run in rider.runs if not len(timed_laps(run.tables["laps"]))]
    without = f", none in {run_names(none)}" if timed and none else ""
    runs = f"{counted(len(rider.runs), 'run')}, {counted(timed, 'timed lap')}{without}"
    title = event_title(event)
    title = "" if title.casefold() == rider.rider.casefold() else title
    facts = [title, rider.group, _bikes(rider.bikes), when, runs, units.words]
    return [f for f in facts if f and f != display.EMPTY]


def _bikes(of_runs: Sequence[str]) -> str:
    """The bikes of a rider's runs in the order in which he rode them, each once."""
    return ", then ".join(dict.fromkeys(filter(None, of_runs)))


class NothingToWorkOn(NamedTuple):
    """What a first screen says without anything to work on: its tag, its heading, and a sentence."""

    tag: str
    heading: str
    text: str


def nothing_to_work_on(why: str, rider: RiderReview, units: Units) -> NothingToWorkOn:
    """What a first screen says without anything to work on, and why there is nothing.

    ``why`` is what :func:`~lapkit.findings.untold.untold` says of all his runs.
    """
    if not why:
        # A habit that was given up was shown often and surely enough, in an earlier run.
        left_off = any(f.left_off for f in rider.findings)
        when = "In your last run nothing" if left_off else "Nothing"
        said = f"{when} was off the coach’s line often enough and surely enough to be called."
        return NothingToWorkOn("Nothing stands out", "No habit to work on", said)
    heading = {
        NO_LAP: "No lap to measure",
        TOO_FEW: "Too few laps",
        NO_LINE: "Radius and lean only",
    }.get(why, "Lap times only")
    more = worth_a_look(rider.findings) if why == TOO_FEW else ""
    if why == NO_LAP:
        more = _why_no_lap(rider, units)
    said = f"{why[0].upper()}{why[1:]}. {more}".rstrip()
    return NothingToWorkOn("No habit can be told", heading, said)


def _why_no_lap(rider: RiderReview, units: Units) -> str:
    """Why no lap of a rider's runs could be timed, each reason once; empty where the logs do not say."""
    runs: dict[str, list[str]] = {}
    for log in without_lap(_joined(rider, "logs")):
        reason = display.in_units(log.why.removeprefix(UNTIMED), units)
        runs.setdefault(reason, []).append(log.session)
    told = (f"{run_names(sessions)}: {reason}." for reason, sessions in runs.items())
    return " ".join(f"{words[0].upper()}{words[1:]}" for words in told)


def _pictures(
    course: Course, first: Sequence[FirstFinding], corners: Sequence[CornerSection]
) -> dict[str, str]:
    """Every picture of the page by a name for its file."""
    found: dict[str, str] = {}
    for i, finding in enumerate(first, 1):
        if finding.picture:
            found[f"first-{i}-{finding.kind}"] = finding.picture.svg
    for i, (corner, section) in enumerate(zip(course.corners, corners, strict=True), 1):
        for picture in section.pictures:
            found[f"{i:02d}-{slug(corner.name, 'corner')}-{_FILES[picture.kind]}"] = picture.svg
    return found


_FILES = {"plan": "above", "line": "straightened", "bend": "radius-and-lean"}
