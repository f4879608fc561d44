"""What to say first about a whole event: whom to talk to, which corner, which cone, which logs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.compare.group import apart
from lapkit.compare.results import Unusable
from lapkit.compare.seams import seam_calls
from lapkit.compare.standard import standards
from lapkit.compare.usual import BEND
from lapkit.counting import corner_name, listed
from lapkit.course.course import Course
from lapkit.findings import numbers, sentences
from lapkit.findings.codes import Code
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.rider import RiderReview
from lapkit.findings.sentences import CHANGED, EVENT
from lapkit.findings.troubles import habits, troubles
from lapkit.units import Units


@dataclass(frozen=True)
class EventFinding:
    """One thing about an event; ``text`` is ready to be read.

    Attributes:
        code: ``talk_first``, ``corner_troubles``, ``cone_missed``, ``inside_seam``, ``inside_openly``, ``apart``, ``changed``
            or ``unusable``.
        text: one or two sentences.
        corner: where; empty when it is about no one corner.
        riders: whom it is about, most urgent first.
        harm: as of :class:`~lapkit.findings.finding.Finding`, added up; 0 where it does not apply.
    """

    code: str
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
        riders: those who rode.
        course: what they rode.
        unusable: logs that could not be used.
        units: what the coach reads.
    """
    return (
        *_talk_first(riders),
        *_troubles(riders, course),
        *_cones(riders, units),
        *_inside_seam(riders, course),
        *_inside_openly(riders, course),
        *_apart(riders),
        *_changed(riders),
        *(_of_log(u) for u in unusable),
    )


def _talk_first(riders: Sequence[RiderReview]) -> Iterator[EventFinding]:
    """Riders with something to work on, by the harm that it does."""
    works = [(f, r.findings) for r in riders for f in r.findings if f.kind is Kind.WORK]
    works.sort(key=lambda each: -each[0].harm)
    for i, (f, of_rider) in enumerate(works):
        code = "talk_first" if i == 0 else "talk_next"
        text = EVENT[code].format(rider=f.rider, what=f.code.means.short, where=_where(f, of_rider))
        yield EventFinding("talk_first", text, f.corner, (f.rider,), f.harm)


def _where(finding: Finding, of_rider: Sequence[Finding]) -> str:
    """Corner and how often; of a drift, which is of all laps, the corners that show it."""
    if finding.code.means.drift:
        return listed([corner_name(f.corner) for f in of_rider if f.code is finding.code])
    often = sentences.often(finding.laps_seen, finding.laps_counted)
    return f"{corner_name(finding.corner)} {often}"


def _troubles(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Corners by how many riders have a habit there."""
    for each in troubles({r.rider: r.findings for r in riders}, course):
        told = [f"{what[0].upper()}{what[1:]}: {listed(who)}" for what, who in each.alike]
        facts = {
            "corner": corner_name(each.corner),
            "count": len(each.riders),
            "riders": len(riders),
        }
        text = EVENT["corner_troubles"].format(what=". ".join(told), **facts)
        if each.is_the_cone:
            text += " " + EVENT["look_at_the_cone"]
        yield EventFinding("corner_troubles", text, each.corner, each.riders, each.harm)


def _cones(riders: Sequence[RiderReview], units: Units) -> Iterator[EventFinding]:
    """The cone that is missed in most laps of riders whose habit it is, of such the one missed by most."""
    missed: dict[tuple[str, str, Code], list[Finding]] = {}
    for rider in riders:
        for f in habits(rider.findings):
            if f.code.means.of_cone:
                missed.setdefault((f.corner, f.marker, f.code), []).append(f)
    if not missed:
        return
    corner, marker, code = max(
        missed, key=lambda key: (_laps(missed[key])[0], _middling(missed[key]))
    )
    of_cone = missed[corner, marker, code]
    text = EVENT["cone_missed"].format(
        cone=sentences.thing(marker, "cone"),
        corner=corner_name(corner),
        often=sentences.often(*_laps(of_cone)),
        riders=listed([f.rider for f in of_cone]),
        size=numbers.metres(_middling(of_cone), units),
    )
    yield EventFinding("cone_missed", text, corner, tuple(f.rider for f in of_cone))


def _laps(findings: Sequence[Finding]) -> tuple[int, int]:
    """Laps in which it was so, and laps that could be judged, of all of them."""
    return sum(f.laps_seen for f in findings), sum(f.laps_counted for f in findings)


def _middling(findings: Sequence[Finding]) -> float:
    return float(np.median([f.size for f in findings]))


def _inside_seam(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Who surely ran inside a seam that the marker line is outside of, in how many timed laps."""
    calls = {rider.rider: seam_calls(rider.runs) for rider in riders}
    for corner in course.corners:
        standard = standards(course)[corner.name]
        if standard.line is None:
            continue
        for seam in standard.seams_to_mind:
            of_seam = {rider: n.get((corner.name, seam.name)) for rider, n in calls.items()}
            inside = {rider: n for rider, n in of_seam.items() if n is not None and n.inside}
            if not inside:
                continue
            told = [f"{rider} {sentences.often(n.inside, n.laps)}" for rider, n in inside.items()]
            name = sentences.thing(seam.name, "seam")
            text = EVENT["inside_seam"].format(
                seam=name, corner=corner_name(corner.name), who=listed(told)
            )
            yield EventFinding("inside_seam", text, corner.name, tuple(inside))
            break


def _inside_openly(riders: Sequence[RiderReview], course: Course) -> Iterator[EventFinding]:
    """Who ran inside a seam and was more open than the marker line, corner by corner: for the coach to ask."""
    facts = [f for rider in riders for f in rider.findings if f.code is Code.INSIDE_OPENLY]
    for corner in course.corners:
        here = [f for f in facts if f.corner == corner.name]
        for seam in dict.fromkeys(f.marker for f in here):
            who = [f.rider for f in here if f.marker == seam]
            text = EVENT["inside_openly"].format(
                corner=corner_name(corner.name),
                riders=listed(who),
                seam=sentences.thing(seam, "seam"),
            )
            yield EventFinding("inside_openly", text, corner.name, tuple(who))


def _apart(riders: Sequence[RiderReview]) -> Iterator[EventFinding]:
    """Who rides a corner otherwise than the rest of his group."""
    beside = apart({r.rider: r.runs for r in riders}, {r.rider: r.group for r in riders})
    told: dict[tuple[str, str, str], list[str]] = {}
    for each in beside:
        if not each.found:
            continue
        more = each.usual > each.others
        if each.at.measure == BEND:
            how = EVENT["tighter" if more else "opener"]
        else:
            way = EVENT["wider" if more else "further_in"]
            how = way.format(cone=sentences.thing(each.at.marker, "cone"))
        told.setdefault((each.rider, each.at.corner, each.group), []).append(how)
    for (rider, corner, group), ways in told.items():
        which = f" in {group}" if group else ""
        text = EVENT["apart"].format(
            rider=rider, corner=corner_name(corner), group=which, how=listed(ways)
        )
        yield EventFinding("apart", text, corner, (rider,))


def _changed(riders: Sequence[RiderReview]) -> Iterator[EventFinding]:
    """What surely changed between a rider's runs: a sentence for each pair of runs."""
    for rider in riders:
        pairs: dict[tuple[str, str], dict[str, list[str]]] = {}
        for each in rider.changed:
            if not each.found:
                continue
            told = pairs.setdefault((each.session_before, each.session_after), {})
            way = CHANGED[each.measure][int(each.change > 0.0)]
            cone = sentences.thing(each.marker, "cone")
            told.setdefault(way.format(cone=cone), []).append(corner_name(each.corner))
        for (before, after), told in pairs.items():
            what = "; ".join(f"{way} at {listed(corners)}" for way, corners in told.items())
            text = EVENT["changed"].format(rider=rider.rider, before=before, after=after, what=what)
            yield EventFinding("changed", text, riders=(rider.rider,))


def _of_log(unusable: Unusable) -> EventFinding:
    text = EVENT["unusable"].format(
        rider=unusable.rider, session=unusable.session, reason=unusable.reason.rstrip(".")
    )
    return EventFinding("unusable", text, riders=(unusable.rider,))
