"""The summary after the event: who to talk to, who ran inside the seam, which corner troubles most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from lapkit.compare.standard import standards
from lapkit.compare.tables import timed_laps
from lapkit.counting import corner_name, counted, listed
from lapkit.course.course import Course
from lapkit.findings import Finding, Kind, RiderReview, sentences, untold
from lapkit.findings.troubles import Trouble, all_round, troubles
from lapkit.reporter import display, words
from lapkit.reporter.between import run_changes, side_by_side, usual_laps
from lapkit.reporter.figures import course_map_svg
from lapkit.reporter.page import render
from lapkit.reporter.seam_grid import seam_grid, seam_words, unplaced_words
from lapkit.reviews import EventReview
from lapkit.units import Units

_FEW = 4  # riders to be named; more are counted


def event_page(event: EventReview, *, units: Units, links: Mapping[str, str]) -> str:
    """The event's page, complete in itself.

    Args:
        event: what to show.
        units: what is read.
        links: rider → file name of his page.
    """
    usual = [(r, usual_laps(r)) for r in event.riders]
    told = summary(event, units, links)
    return render(
        "event.html.j2",
        title=f"{told['heading']} – summary",
        version=event.provenance.get("version", ""),
        **told,
        map=course_map_svg(event.course, units),
        course=words.course_rows(event.course, units),
        apart=_said(event, "apart"),
        tables=[
            (corner_name(c.name), *side_by_side(usual, c, units)) for c in event.course.corners
        ],
        logs=_logs(event, units),
    )


def summary(event: EventReview, units: Units, links: Mapping[str, str]) -> dict[str, Any]:
    """What is said of an event, on its page and on its sheet: who to talk to, seams, corners, changes.

    Args:
        event: what to tell of.
        units: what is read.
        links: rider → file name of his page.
    """
    changes = [(r.rider, run_changes(r, units)) for r in event.riders]
    riders = [_rider(r, links, event.course) for r in _urgent_first(event.riders)]
    quiet = [one for one in riders if not one["remarked"] and not one["untold"]]
    return {
        "heading": words.heading(event) or "Event",
        # Where the course was found from the logs a note says that seams are left out.
        "seams_asked": not event.course.found,
        "facts": _facts(event, units),
        "notes": [*event.notes, *([words.LEFT_OUT] if event.course.found else [])],
        "riders": [one for one in riders if one["remarked"]],
        "unremarked": [one for one in quiet if not one["left_off"]],
        "left_off": [one for one in quiet if one["left_off"]],
        "untold": _untold(riders, event),
        **_inside_the_seam(event, links),
        **_troubles(event),
        "judged": any(not one["untold"] for one in riders),
        "cones": _said(event, "cone_missed"),
        "changes": [(rider, rows) for rider, rows in changes if rows],
        "unusable": _not_used(event, units),
    }


def _inside_the_seam(event: EventReview, links: Mapping[str, str]) -> dict[str, Any]:
    """Who ran inside the seam that is counted, and the corners where none is: the line runs inside all."""
    corners, held = event.course.corners, standards(event.course)
    counted_at = [(c, seam) for c in corners for seam in held[c.name].seams_to_mind[:1]]
    left_out = [c for c in corners if c.seams and not held[c.name].seams_to_mind]
    grid = seam_grid([r.rider for r in event.riders], counted_at, event.tables)
    return {
        "seam_head": [corner_name(c.name) for c, _ in counted_at],
        "seam_words": seam_words(grid, [c for c, _ in counted_at]),
        "seam_left_out": listed([corner_name(c.name) for c in left_out]),
        "seam_rows": [(rider, links.get(rider, ""), cells) for rider, cells in grid],
        "seam_rule": words.SEAM_RULE,
        "seam_sure": words.SEAM_SURE,
        "seam_why": unplaced_words(
            counted_at, event.tables, hold_point=event.course.hold_points is not None
        ),
        "seam_facts": _said(event, "inside_openly"),
    }


def _not_used(event: EventReview, units: Units) -> list[tuple[str, str, str, str]]:
    """Logs that could not be used, and those that held no lap."""
    unusable = [(u.rider, u.session, u.file, u.reason) for u in event.unusable]
    told = [*unusable, *words.without_lap(event.tables["logs"])]
    return [(rider, run, file, display.in_units(why, units)) for rider, run, file, why in told]


def _facts(event: EventReview, units: Units) -> list[str]:
    laps = event.tables["laps"]
    timed = len(timed_laps(laps))
    start = laps["start_utc"].dropna().astype(str)
    when = [display.date_text(start.min())] if len(start) else []
    riders = counted(len(event.riders), "rider")
    return [*when, riders, counted(timed, "timed lap"), units.words]


def _first(rider: RiderReview) -> Finding | None:
    return next((f for f in rider.findings if f.kind == Kind.WORK), None)


def _urgent_first(riders: tuple[RiderReview, ...]) -> list[RiderReview]:
    """Riders with something to work on, by the harm that it does."""

    def key(rider: RiderReview) -> tuple[bool, float]:
        work = _first(rider)
        return (True, 0.0) if work is None else (False, -work.harm)

    return sorted(riders, key=key)


def _said(event: EventReview, code: str) -> list[str]:
    """Sentences about the event as a whole, of one kind."""
    return [f.text for f in event.findings if f.code == code]


def _untold(
    riders: Sequence[Mapping[str, Any]], event: EventReview
) -> list[tuple[str, list[Mapping[str, Any]]]]:
    """Reasons why nothing can be told, each with the riders that it holds for."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for one in riders:
        if one["untold"] and not one["remarked"]:
            found.setdefault(one["untold"], []).append(one)
    measured = {r.rider for r in event.riders}
    for name in dict.fromkeys(u.rider for u in event.unusable if u.rider not in measured):
        found.setdefault("no log could be used", []).append({"name": name, "link": ""})
    return list(found.items())


def _rider(rider: RiderReview, links: Mapping[str, str], course: Course) -> dict[str, Any]:
    work = _first(rider)
    more = [_minded(f) for f in rider.findings if f.kind == Kind.MIND]
    why = untold(rider.runs, course)
    nothing = f"{why[0].upper()}{why[1:]}." if why else "No habit to work on."
    return {
        "name": rider.rider,
        "group": rider.group,
        "link": links.get(rider.rider, ""),
        "corner": corner_name(work.corner) if work else "",
        "text": work.text if work else nothing,
        "more": more,
        "remarked": bool(work or more),
        "untold": why,
        "left_off": any(f.left_off for f in rider.findings),
    }


def _minded(finding: Finding) -> str:
    """What else is to be kept in mind, in a few words: a lapse is called one, or it would read as a habit."""
    where = f" at {corner_name(finding.corner)}" if finding.corner else ""
    return f"{finding.in_short}{where}{'' if finding.habit else ', a lapse'}"


def _troubles(event: EventReview) -> dict[str, Any]:
    """Who does the same at most corners; then corners by how many riders have a habit there, and what the rest do.

    A corner comes with a word of its own where so many do the same that it is the cone's.
    """
    findings = {r.rider: r.findings for r in event.riders}
    named: dict[str, list[str]] = {}
    for rider, habit in all_round(findings, event.course).items():
        named.setdefault(habit.in_short, []).append(rider)
    return {
        "all_round_head": words.ALL_ROUND,
        "all_round": [f"{what}: {', '.join(who)}" for what, who in named.items()],
        "troubles": [
            (
                corner_name(each.corner),
                f"{len(each.riders)} of {len(event.riders)} riders{_left(each)}",
                [f"{what}: {_who(who)}" for what, who in each.own],
                sentences.EVENT["look_at_the_cone"] if each.is_the_cone else "",
            )
            for each in troubles(findings, event.course)
        ],
    }


def _left(trouble: Trouble) -> str:
    """How many of a corner's riders are told of already, as doing the same at most corners."""
    above = len(trouble.riders) - sum(len(who) for _, who in trouble.own)
    if not above:
        return ""
    return (
        f", {'one' if above == 1 else above} of them told above" if trouble.own else ", told above"
    )


def _who(riders: Sequence[str]) -> str:
    return ", ".join(riders) if len(riders) <= _FEW else f"{len(riders)} riders"


def _logs(event: EventReview, units: Units) -> list[tuple[str, ...]]:
    # By what was measured: the whole event's table has the logs too that are told as not used.
    used = pd.concat([run.tables["logs"] for rider in event.riders for run in rider.runs])
    return [
        (
            str(r.rider),
            str(r.session),
            words.VERDICTS.get(str(r.verdict), str(r.verdict)),
            words.log_words(r, units, event.course),
        )
        for r in used.itertuples()
    ]
