"""What to say about a whole event: whom to talk to, which corner and which cone to look at, what changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from lapkit.compare.group import Apart, apart
from lapkit.compare.results import Unusable
from lapkit.compare.seams import SeamCalls, seam_calls
from lapkit.compare.standard import standards
from lapkit.compare.usual import BEND
from lapkit.counting import corner_name, listed
from lapkit.course.course import Course
from lapkit.findings import numbers, sentences
from lapkit.findings.codes import Code
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.rider import RiderReview
from lapkit.findings.sentences import CHANGED, EventText
from lapkit.findings.troubles import habits, troubles
from lapkit.units import Units

_MOST_NAMED = 4
"""Riders who miss a cone and are named one by one."""


class EventCode(StrEnum):
    """What a finding about an event says."""

    TALK_FIRST = "talk_first"
    """A rider with something to work on."""
    CORNER_TROUBLES = "corner_troubles"
    """A corner at which riders have habits."""
    CONE_MISSED = "cone_missed"
    """The cone that is missed most."""
    INSIDE_SEAM = "inside_seam"
    """Who ran inside the counted seam of a corner."""
    INSIDE_OPENLY = "inside_openly"
    """Who ran inside a seam on a longer radius than the marker line's, which is no fault."""
    APART = "apart"
    """A rider who rides a corner unlike the rest of his group."""
    CHANGED = "changed"
    """What changed between two runs of a rider."""
    UNUSABLE = "unusable"
    """A log that could not be used."""


@dataclass(frozen=True)
class EventFinding:
    """One thing about an event; ``text`` is ready to be read.

    Attributes:
        code: what it says.
        text: one or two sentences.
        corner: name of the corner that it is about; empty if it is about no one corner.
        riders: names of the riders that it is about, most urgent first.
        harm: as in :class:`~lapkit.findings.finding.Finding`, summed over riders; 0 where it does not apply.
    """

    code: EventCode
    text: str
    corner: str = ""
    riders: tuple[str, ...] = ()
    harm: float = 0.0


def find_event(
    riders: Sequence[RiderReview],
    course: Course,
    unusable: Sequence[Unusable] = (),
    *,
    units: Units = Units.METRIC,
) -> tuple[EventFinding, ...]:
    """What to say about an event, most urgent first.

    Args:
        riders: the reviews of all riders.
        course: the course they rode.
        unusable: logs that could not be used.
        units: units that the coach reads.
    """
    return (
        *_talk_first(riders),
        *_troubles(riders, course),
        *_cones(riders, units),
        *_inside_seam(riders, course),
        *_inside_openly(riders, course),
        *_apart(riders, course),
        *_changed(riders),
        *(_of_log(u) for u in unusable),
    )


def _talk_first(riders: Sequence[RiderReview]) -> Iterator[EventFinding]:
    """Riders with something to work on, most harm first."""
    works = [(f, r.findings) for r in riders for f in r.findings if f.kind is Kind.WORK]
    works.sort(key=lambda work: -work[0].harm)
    for i, (f, of_rider) in enumerate(works):
        template = EventText.TALK_FIRST if i == 0 else EventText.TALK_NEXT
        text = template.format(rider=f.rider, what=f.code.means.short, where=_where(f, of_rider))
        yield EventFinding(EventCode.TALK_FIRST, text, f.corner, (f.rider,), f.harm)


def _where(finding: Finding, of_rider: Sequence[Finding]) -> str:
    """The corner and how often; for a drift, which takes all laps to show, the corners that show it."""
    if finding.code.means.drift:
        return listed([corner_name(f.corner) for f in of_rider if f.code is finding.code])
    often = sentences.often(finding.laps_seen, finding.laps_counted)
    return f"{corner_name(finding.corner)} {often}"


def _troubles(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Corners at which riders have habits, those that trouble most riders first."""
    for trouble in troubles({r.rider: r.findings for r in riders}, course):
        whats = [f"{what[0].upper()}{what[1:]}: {listed(who)}" for what, who in trouble.habits]
        text = EventText.CORNER_TROUBLES.format(
            corner=corner_name(trouble.corner),
            count=len(trouble.riders),
            riders=len(riders),
            what=". ".join(whats),
        )
        if trouble.is_the_cone:
            text += f" {EventText.LOOK_AT_THE_CONE}"
        yield EventFinding(
            EventCode.CORNER_TROUBLES, text, trouble.corner, trouble.riders, trouble.harm
        )


def _cones(riders: Sequence[RiderReview], units: Units) -> Iterator[EventFinding]:
    """The cone that is missed in most laps as a habit; among equals the one missed by most metres."""
    missed: dict[tuple[str, str, Code], list[Finding]] = {}
    for rider in riders:
        for f in habits(rider.findings):
            if f.code.means.of_cone:
                missed.setdefault((f.corner, f.marker, f.code), []).append(f)
    if not missed:
        return
    findings = max(missed.values(), key=lambda each: (_laps_seen(each), _median_size(each)))
    corner, marker = findings[0].corner, findings[0].marker
    text = EventText.CONE_MISSED.format(
        cone=sentences.cone_called(marker),
        corner=corner_name(corner),
        often=sentences.often(_laps_seen(findings), sum(f.laps_counted for f in findings)),
        riders=_by_how_much(findings, units),
    )
    yield EventFinding(EventCode.CONE_MISSED, text, corner, tuple(f.rider for f in findings))


def _laps_seen(findings: Sequence[Finding]) -> int:
    return sum(f.laps_seen for f in findings)


def _median_size(findings: Sequence[Finding]) -> float:
    return float(np.median([f.size for f in findings]))


def _by_how_much(findings: Sequence[Finding], units: Units) -> str:
    """Each rider with his own size, as sizes may differ several times; for many riders the smallest and the largest."""
    sizes = [f.size for f in findings]
    if len(findings) <= _MOST_NAMED:
        return listed([f"{f.rider} by {numbers.metres(f.size, units)}" for f in findings])
    span = f"{numbers.metres(min(sizes), units)} to {numbers.metres(max(sizes), units)}"
    return f"{len(findings)} riders by {span}"


def _inside_seam(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Corner by corner who ran inside a seam that the marker line stays outside of, and in how many timed laps.

    Of several seams at a corner it is the innermost that anybody was called inside of.
    """
    calls = {rider.rider: seam_calls(rider.runs) for rider in riders}
    for corner in course.corners:
        standard = standards(course)[corner.name]
        for seam in () if standard.line is None else standard.seams_to_mind:
            who = _called_inside(calls, (corner.name, seam.name))
            if who:
                text = EventText.INSIDE_SEAM.format(
                    seam=sentences.seam_called(seam.name),
                    corner=corner_name(corner.name),
                    who=listed(list(who.values())),
                )
                yield EventFinding(EventCode.INSIDE_SEAM, text, corner.name, tuple(who))
                break


def _called_inside(
    calls: Mapping[str, Mapping[tuple[str, str], SeamCalls]], place: tuple[str, str]
) -> dict[str, str]:
    """Riders who were called inside a seam, each with how often in words.

    Args:
        calls: name of a rider → his calls, by the names of corner and seam.
        place: names of the corner and the seam.
    """
    nowhere = SeamCalls(0, 0, 0)
    here = {rider: of_rider.get(place, nowhere) for rider, of_rider in calls.items()}
    return {
        rider: f"{rider} {sentences.often(called.inside, called.laps)}"
        for rider, called in here.items()
        if called.inside
    }


def _inside_openly(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Corner by corner who ran inside a seam on a longer radius than the marker line's, for the coach to ask why."""
    facts = [f for rider in riders for f in rider.findings if f.code is Code.INSIDE_OPENLY]
    for corner in course.corners:
        here = [f for f in facts if f.corner == corner.name]
        for seam in dict.fromkeys(f.marker for f in here):
            who = [f.rider for f in here if f.marker == seam]
            text = EventText.INSIDE_OPENLY.format(
                corner=corner_name(corner.name),
                riders=listed(who),
                seam=sentences.seam_called(seam),
            )
            yield EventFinding(EventCode.INSIDE_OPENLY, text, corner.name, tuple(who))


def _apart(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Who rides a corner unlike the rest of his group."""
    looked_at = {
        (corner.name, marker.name)
        for corner in course.corners
        for marker in corner.markers
        if marker not in corner.ridden_past
    }
    runs, groups = {r.rider: r.runs for r in riders}, {r.rider: r.group for r in riders}
    beside = apart(runs, groups, looked_at=looked_at)
    ways: dict[tuple[str, str, str], list[str]] = {}
    for each in beside:
        if each.found:
            ways.setdefault((each.rider, each.group, each.at.corner), []).append(_how_apart(each))
    # What a rider does alike at several corners is one thing to hear, not several.
    alike: dict[tuple[str, str, str], list[str]] = {}
    for (rider, group, corner), how in ways.items():
        alike.setdefault((rider, group, listed(how)), []).append(corner)
    for (rider, group, done), corners in alike.items():
        text = EventText.APART.format(
            rider=rider,
            corners=listed([corner_name(corner) for corner in corners]),
            group=f" in {group}" if group else "",
            how=done,
        )
        yield EventFinding(EventCode.APART, text, corners[0] if len(corners) == 1 else "", (rider,))


def _how_apart(each: Apart) -> str:
    more = each.usual > each.others
    if each.at.measure == BEND:
        return EventText.TIGHTER if more else EventText.OPENER
    way = EventText.WIDER if more else EventText.FURTHER_IN
    return way.format(cone=sentences.cone_called(each.at.marker))


def _changed(riders: Sequence[RiderReview]) -> Iterator[EventFinding]:
    """What surely changed between a rider's runs, in one sentence for each pair of runs."""
    for rider in riders:
        # Runs before and after → what changed → the corners at which it did.
        pairs: dict[tuple[str, str], dict[str, list[str]]] = {}
        for each in rider.changed:
            if each.found:
                ways = pairs.setdefault((each.session_before, each.session_after), {})
                became_smaller, became_larger = CHANGED[each.measure]
                way = became_larger if each.change > 0.0 else became_smaller
                way = way.format(cone=sentences.cone_called(each.marker))
                ways.setdefault(way, []).append(corner_name(each.corner))
        for (before, after), ways in pairs.items():
            what = "; ".join(f"{way} at {listed(corners)}" for way, corners in ways.items())
            text = EventText.CHANGED.format(
                rider=rider.rider, before=before, after=after, what=what
            )
            yield EventFinding(EventCode.CHANGED, text, riders=(rider.rider,))


def _of_log(unusable: Unusable) -> EventFinding:
    text = EventText.UNUSABLE.format(
        rider=unusable.rider, session=unusable.session, reason=unusable.reason.rstrip(".")
    )
    return EventFinding(EventCode.UNUSABLE, text, riders=(unusable.rider,))
