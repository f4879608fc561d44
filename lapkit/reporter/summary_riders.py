"""Whom to talk to after an event: a line for each rider, on the summary's page and on its sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from lapkit.counting import corner_name, listed
from lapkit.course.course import Course
from lapkit.findings import Finding, Kind, RiderReview, sentences, untold, worth_a_look
from lapkit.findings.evidence import FEWEST_LAPS
from lapkit.findings.troubles import habits
from lapkit.findings.untold import TOO_FEW
from lapkit.measuring.reviews import EventReview

_FEW_CORNERS = 3  # where a rider has the same habit too are named; more are counted


@dataclass(frozen=True)
class RiderLine:
    """A rider in the summary: what to talk to him about, or why nothing can be said.

    Attributes:
        name, group: of the rider.
        link: file name of his page; empty where he has none.
        corner: where the habit to work on is; empty without one.
        text: that habit, and where else he has it; or what is said without one.
        more: what else to keep in mind, each in a few words.
        remarked: whether there is anything to talk about.
        untold: why no habit of his can be told, and what is worth a look all the same; empty where one can.
        left_off: which habits of an earlier run were given up; empty without any.
    """

    name: str
    group: str = ""
    link: str = ""
    corner: str = ""
    text: str = ""
    more: tuple[str, ...] = ()
    remarked: bool = False
    untold: str = ""
    left_off: str = ""


class UntoldRiders(NamedTuple):
    """A reason why no habit can be told, and the riders that it holds for."""

    why: str
    riders: list[RiderLine]


def rider_lines(event: EventReview, links: Mapping[str, str]) -> list[RiderLine]:
    """A line for each rider who was measured, the one whose habit does most harm first.

    Args:
        event: what to summarise.
        links: rider → file name of his page.
    """
    most_harm_first = sorted(event.riders, key=_harm, reverse=True)
    return [_rider_line(r, links.get(r.rider, ""), event.course) for r in most_harm_first]


def untold_riders(lines: Sequence[RiderLine], event: EventReview) -> list[UntoldRiders]:
    """Why no habit can be told of some riders, each reason once."""
    found: dict[str, list[RiderLine]] = {}
    for line in lines:
        if line.untold and not line.remarked:
            found.setdefault(line.untold, []).append(line)
    measured = {rider.rider for rider in event.riders}
    without_log = dict.fromkeys(u.rider for u in event.unusable if u.rider not in measured)
    if without_log:
        found["no log could be used."] = [RiderLine(name) for name in without_log]
    return [UntoldRiders(why, riders) for why, riders in found.items()]


def _harm(rider: RiderReview) -> float:
    """The harm that a rider's habit to work on does; below every other rider's where he has none."""
    work = _to_work_on(rider)
    return float("-inf") if work is None else work.harm


def _to_work_on(rider: RiderReview) -> Finding | None:
    return next((f for f in rider.findings if f.kind == Kind.WORK), None)


def _rider_line(rider: RiderReview, link: str, course: Course) -> RiderLine:
    work = _to_work_on(rider)
    more = tuple(_in_mind(f) for f in rider.findings if f.kind == Kind.MIND)
    why = untold(rider.runs, course)
    if work is not None:
        text = work.text + _elsewhere(work, rider)
    else:
        text = f"{why[0].upper()}{why[1:]}." if why else "No habit to work on."
    return RiderLine(
        name=rider.rider,
        group=rider.group,
        link=link,
        corner=corner_name(work.corner) if work else "",
        text=text,
        more=more,
        remarked=bool(work or more),
        untold=_why_untold(why, rider),
        left_off=_left_off(rider.findings),
    )


def _left_off(findings: Sequence[Finding]) -> str:
    """What led at each corner in an earlier run and is a habit no more; empty where nothing is."""
    lead: dict[str, str] = {}
    for finding in findings:
        if finding.left_off and finding.in_short:
            lead.setdefault(finding.corner, finding.in_short)
    if not lead:
        return ""
    at: dict[str, list[str]] = {}
    for corner, habit in lead.items():
        at.setdefault(habit, []).append(corner_name(corner))
    was = listed([f"{habit} at {listed(corners)}" for habit, corners in at.items()])
    return f"in an earlier run it was {was}"


def _why_untold(why: str, rider: RiderReview) -> str:
    """The reason as a sentence, and what is worth a look all the same where there were too few laps."""
    if not why:
        return ""
    look = worth_a_look(rider.findings) if why == TOO_FEW else ""
    return f"{why}. {look}".rstrip()


def _elsewhere(work: Finding, rider: RiderReview) -> str:
    """At which other corners a rider has the habit: one that he has everywhere asks for another talk."""
    same = (f.corner for f in habits(rider.findings) if f.code == work.code)
    others = [corner_name(c) for c in dict.fromkeys(same) if c != work.corner]
    # At how many corners a drift shows is in its own sentence.
    if not others or work.code.means.drift:
        return ""
    few = len(others) <= _FEW_CORNERS
    corners = listed(others) if few else f"{len(others)} other corners"
    return " " + sentences.Detail.ALSO_AT.format(corners=corners)


def _in_mind(finding: Finding) -> str:
    """What to keep in mind, in a few words; a lapse is called one, or it would read as a habit.

    Of too few laps to tell which it is, it is said in how many it was so.
    """
    where = f" at {corner_name(finding.corner)}" if finding.corner else ""
    standing = "" if finding.habit else ", a lapse"
    if not finding.habit and finding.laps_counted < FEWEST_LAPS:
        standing = f", {sentences.often(finding.laps_seen, finding.laps_counted)}"
    return f"{finding.in_short}{where}{standing}"
