"""What is said of an event, on its page and on its sheet: whom to talk to, seams, corners, changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from lapkit.compare.standard import standards
from lapkit.compare.tables import timed_laps
from lapkit.counting import corner_name, counted, listed
from lapkit.course.course import Course
from lapkit.findings import EventCode, Finding, Kind, RiderReview, sentences, untold, worth_a_look
from lapkit.findings.troubles import Trouble, all_round, habits, troubles
from lapkit.findings.untold import TOO_FEW
from lapkit.reporter import display
from lapkit.reporter.between import Changes, run_changes
from lapkit.reporter.event_words import NO_TRACK_FILE, event_title
from lapkit.reporter.exit_grid import ExitsTold, exits_told
from lapkit.reporter.log_words import without_lap
from lapkit.reporter.seam_grid import SeamsTold, seam_grid, seam_words, unplaced_words
from lapkit.reviews import EventReview
from lapkit.units import Units

ALL_ROUND = "The same at most corners, so it is the rider’s and not the corner’s:"
"""What stands above the habits that a rider has all round the course."""

_FEW = 4  # riders to be named; more are counted
_FEW_CORNERS = 3  # the same of corners where a rider does what he is told of


@dataclass(frozen=True)
class RiderLine:
    """A rider in the summary: what to talk to him of, or why that cannot be told.

    Attributes:
        name, group: of him.
        link: file name of his page; empty where it has none.
        corner: where the habit to work on is; empty without one.
        text: that habit, and where else he has it; or what is said without one.
        more: what else is to be kept in mind, in a few words.
        remarked: whether there is anything to talk of.
        untold: why nothing can be told of him, with what is worth a look all the same; empty where something can.
        left_off: whether a habit of an earlier run is left off.
    """

    name: str
    group: str = ""
    link: str = ""
    corner: str = ""
    text: str = ""
    more: tuple[str, ...] = ()
    remarked: bool = False
    untold: str = ""
    left_off: bool = False


class TroubleLine(NamedTuple):
    """A corner, how many riders have a habit there, what they do, and what to look at before them."""

    corner: str
    who: str
    what: list[str]
    look: str


@dataclass(frozen=True)
class Summary:
    """What is said of an event, on its page and on its sheet.

    Attributes:
        heading: the event's name.
        facts: when, how many riders and laps, units.
        notes: sentences about the whole.
        riders: whom to talk to, most urgent first.
        unremarked, left_off: those of whom nothing stands out, and those of whom nothing does any more.
        untold: reasons why nothing can be told, each with the riders that it holds for.
        seams: None where the course was found from the logs and has none.
        exits: None without a marker line.
        all_round: what riders do at most corners, and who.
        troubles: corners by how many riders have a habit there.
        judged: whether anything could be told of any rider.
        cones: the cone missed most, in a sentence.
        changes: rider, and what surely changed between his runs.
        unusable: rider, run, file and reason of each log that was not used.
    """

    heading: str
    facts: list[str]
    notes: list[str]
    riders: list[RiderLine]
    unremarked: list[RiderLine]
    left_off: list[RiderLine]
    untold: list[tuple[str, list[RiderLine]]]
    seams: SeamsTold | None
    exits: ExitsTold | None
    all_round: list[str]
    troubles: list[TroubleLine]
    judged: bool
    cones: list[str]
    changes: list[tuple[str, Changes]]
    unusable: list[tuple[str, str, str, str]]


def summary(event: EventReview, units: Units, links: Mapping[str, str]) -> Summary:
    """What is to be said of an event: who to talk to, seams, corners, changes.

    Args:
        event: what to tell of.
        units: what is read.
        links: rider → file name of his page.
    """
    changes = [(r.rider, run_changes(r, units)) for r in event.riders]
    riders = [_rider(r, links, event.course) for r in _urgent_first(event.riders)]
    quiet = [one for one in riders if not one.remarked and not one.untold]
    found = event.course.found
    return Summary(
        heading=event_title(event) or "Event",
        facts=_facts(event, units),
        notes=[*event.notes, *([NO_TRACK_FILE] if found else [])],
        riders=[one for one in riders if one.remarked],
        unremarked=[one for one in quiet if not one.left_off],
        left_off=[one for one in quiet if one.left_off],
        untold=_untold(riders, event),
        # Where the course was found from the logs a note says that seams are left out.
        seams=None if found else _inside_the_seam(event, links),
        exits=exits_told(event, links),
        all_round=_all_round(event),
        troubles=_troubles(event),
        judged=any(not one.untold for one in riders),
        cones=said(event, EventCode.CONE_MISSED),
        changes=[(rider, rows) for rider, rows in changes if rows],
        unusable=_not_used(event, units),
    )


def _inside_the_seam(event: EventReview, links: Mapping[str, str]) -> SeamsTold:
    """Who ran inside the seam that is counted, and the corners where none is: the line runs inside all."""
    corners, held = event.course.corners, standards(event.course)
    counted_at = [(c, seam) for c in corners for seam in held[c.name].seams_to_mind[:1]]
    left_out = [c for c in corners if c.seams and not held[c.name].seams_to_mind]
    grid = seam_grid(event.riders, counted_at)
    return SeamsTold(
        head=[corner_name(c.name) for c, _ in counted_at],
        words=seam_words(grid, [c for c, _ in counted_at]),
        left_out=listed([corner_name(c.name) for c in left_out]),
        rows=[(rider, links.get(rider, ""), cells) for rider, cells in grid],
        why=unplaced_words(
            counted_at, event.tables, hold_point=event.course.hold_points is not None
        ),
        facts=said(event, EventCode.INSIDE_OPENLY),
    )


def _not_used(event: EventReview, units: Units) -> list[tuple[str, str, str, str]]:
    """Logs that could not be used, and those that held no lap."""
    unusable = [(u.rider, u.session, u.file, u.reason) for u in event.unusable]
    told = [*unusable, *without_lap(event.tables["logs"])]
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


def said(event: EventReview, code: EventCode) -> list[str]:
    """Sentences about the event as a whole, of one kind."""
    return [f.text for f in event.findings if f.code is code]


def _untold(riders: Sequence[RiderLine], event: EventReview) -> list[tuple[str, list[RiderLine]]]:
    """Reasons why nothing can be told, each with the riders that it holds for."""
    found: dict[str, list[RiderLine]] = {}
    for one in riders:
        if one.untold and not one.remarked:
            found.setdefault(one.untold, []).append(one)
    measured = {r.rider for r in event.riders}
    for name in dict.fromkeys(u.rider for u in event.unusable if u.rider not in measured):
        found.setdefault("no log could be used.", []).append(RiderLine(name))
    return list(found.items())


def _rider(rider: RiderReview, links: Mapping[str, str], course: Course) -> RiderLine:
    work = _first(rider)
    more = tuple(_minded(f) for f in rider.findings if f.kind == Kind.MIND)
    why = untold(rider.runs, course)
    nothing = f"{why[0].upper()}{why[1:]}." if why else "No habit to work on."
    return RiderLine(
        name=rider.rider,
        group=rider.group,
        link=links.get(rider.rider, ""),
        corner=corner_name(work.corner) if work else "",
        text=f"{work.text}{_elsewhere(work, rider)}" if work else nothing,
        more=more,
        remarked=bool(work or more),
        untold=_why_untold(why, rider),
        left_off=any(f.left_off for f in rider.findings),
    )


def _why_untold(why: str, rider: RiderReview) -> str:
    """The same as sentences, and what is worth a look all the same where there were too few laps."""
    look = worth_a_look(rider.findings) if why == TOO_FEW else ""
    return f"{why}. {look}".rstrip() if why else ""


def _elsewhere(work: Finding, rider: RiderReview) -> str:
    """At how many other corners a rider has the habit: what he does everywhere is another talk than one corner's."""
    same = (f.corner for f in habits(rider.findings) if f.code == work.code)
    others = [corner_name(c) for c in dict.fromkeys(same) if c != work.corner]
    # At how many corners a drift shows is in its own sentence.
    if not others or work.code.means.drift:
        return ""
    few = len(others) <= _FEW_CORNERS
    corners = listed(others) if few else f"{len(others)} other corners"
    return " " + sentences.Detail.ALSO_AT.format(corners=corners)


def _minded(finding: Finding) -> str:
    """What else is to be kept in mind, in a few words: a lapse is called one, or it would read as a habit."""
    where = f" at {corner_name(finding.corner)}" if finding.corner else ""
    return f"{finding.in_short}{where}{'' if finding.habit else ', a lapse'}"


def _all_round(event: EventReview) -> list[str]:
    """What riders do at most corners, and who."""
    named: dict[str, list[str]] = {}
    for rider, habit in all_round(_findings(event), event.course).items():
        named.setdefault(habit.in_short, []).append(rider)
    return [f"{what}: {', '.join(who)}" for what, who in named.items()]


def _troubles(event: EventReview) -> list[TroubleLine]:
    """Corners by how many riders have a habit there, and what those do who are not told of already.

    A corner comes with a word of its own where so many do the same that it is the cone's.
    """
    return [
        TroubleLine(
            corner_name(each.corner),
            f"{len(each.riders)} of {len(event.riders)} riders{_left(each)}",
            [f"{what}: {_who(who)}" for what, who in each.own],
            sentences.EventText.LOOK_AT_THE_CONE if each.is_the_cone else "",
        )
        for each in troubles(_findings(event), event.course)
    ]


def _findings(event: EventReview) -> dict[str, tuple[Finding, ...]]:
    return {r.rider: r.findings for r in event.riders}


def _left(trouble: Trouble) -> str:
    """Which of a corner's riders are told of already, as doing the same at most corners."""
    own = {rider for _, who in trouble.own for rider in who}
    above = [rider for rider in trouble.riders if rider not in own]
    if not above:
        return ""
    return f", {listed(above) if len(above) <= _FEW else len(above)} as above"


def _who(riders: Sequence[str]) -> str:
    return ", ".join(riders) if len(riders) <= _FEW else f"{len(riders)} riders"
