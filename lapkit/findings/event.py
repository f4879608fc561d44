"""What to say first about a whole event: whom to talk to, which corner, which cone, which logs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from lapkit.compare.group import apart
from lapkit.compare.results import RunResult, Unusable
from lapkit.compare.standard import standards
from lapkit.compare.tables import timed_laps
from lapkit.counting import corner_name, listed
from lapkit.course.course import Course
from lapkit.findings import sentences
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import DRIFTS
from lapkit.findings.sentences import CHANGED, EVENT, SHORT
from lapkit.findings.stories import CONE_CODES
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
    findings: Mapping[str, Sequence[Finding]],
    runs: Mapping[str, Sequence[RunResult]],
    changes: Mapping[str, pd.DataFrame],
    groups: Mapping[str, str],
    course: Course,
    unusable: Sequence[Unusable] = (),
    *,
    units: str = "metric",
) -> tuple[EventFinding, ...]:
    """What to say about an event, most urgent first.

    Args:
        findings: rider → what was found for him.
        runs: rider → his runs in time order.
        changes: rider → what changed between them, a table of :meth:`~lapkit.compare.changes.RunChanges.every`.
        groups: rider → his group.
        course: what they rode.
        unusable: logs that could not be used.
        units: ``metric`` or ``us``.

    Raises:
        OptionError: there are no such units.
    """
    shown = Units.named(units)
    return (
        *_talk_first(findings),
        *_troubles(findings, course),
        *_cones(findings, shown),
        *_inside_seam(runs, course),
        *_inside_openly(findings, course),
        *_apart(runs, groups),
        *_changed(changes),
        *(_of_log(u) for u in unusable),
    )


def _talk_first(findings: Mapping[str, Sequence[Finding]]) -> Iterator[EventFinding]:
    """Riders with something to work on, by the harm that it does."""
    works = [f for of_rider in findings.values() for f in of_rider if f.kind is Kind.WORK]
    works.sort(key=lambda f: -f.harm)
    for i, f in enumerate(works):
        code = "talk_first" if i == 0 else "talk_next"
        text = EVENT[code].format(
            rider=f.rider, what=SHORT[f.code], where=_where(f, findings[f.rider])
        )
        yield EventFinding("talk_first", text, f.corner, (f.rider,), f.harm)


def _where(finding: Finding, of_rider: Sequence[Finding]) -> str:
    """Corner and how often; of a drift, which is of all laps, the corners that show it."""
    if finding.code in DRIFTS:
        return listed([corner_name(f.corner) for f in of_rider if f.code == finding.code])
    often = sentences.often(finding.laps_seen, finding.laps_counted)
    return f"{corner_name(finding.corner)} {often}"


def _troubles(findings: Mapping[str, Sequence[Finding]], course: Course) -> Iterator[EventFinding]:
    """Corners by how many riders have a habit there."""
    for each in troubles(findings, course):
        told = [f"{what[0].upper()}{what[1:]}: {listed(who)}" for what, who in each.alike]
        facts = {
            "corner": corner_name(each.corner),
            "count": len(each.riders),
            "riders": len(findings),
        }
        text = EVENT["corner_troubles"].format(what=". ".join(told), **facts)
        if each.is_the_cone:
            text += " " + EVENT["look_at_the_cone"]
        yield EventFinding("corner_troubles", text, each.corner, each.riders, each.harm)


def _cones(findings: Mapping[str, Sequence[Finding]], units: Units) -> Iterator[EventFinding]:
    """The cone that is missed in most laps of riders whose habit it is, of such the one missed by most."""
    missed: dict[tuple[str, str, str], list[Finding]] = {}
    for of_rider in findings.values():
        for f in habits(of_rider):
            if f.code in CONE_CODES:
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
        size=sentences.metres(_middling(of_cone), units),
    )
    yield EventFinding("cone_missed", text, corner, tuple(f.rider for f in of_cone))


def _laps(findings: Sequence[Finding]) -> tuple[int, int]:
    """Laps in which it was so, and laps that could be judged, of all of them."""
    return sum(f.laps_seen for f in findings), sum(f.laps_counted for f in findings)


def _middling(findings: Sequence[Finding]) -> float:
    return float(np.median([f.size for f in findings]))


def _inside_seam(runs: Mapping[str, Sequence[RunResult]], course: Course) -> Iterator[EventFinding]:
    """Who surely ran inside a seam that the marker line is outside of, in how many timed laps."""
    calls = {rider: _calls(of_rider) for rider, of_rider in runs.items()}
    for corner in course.corners:
        standard = standards(course)[corner.name]
        if standard.line is None:
            continue
        for seam in standard.seams_to_mind:
            of_seam = {rider: n.get((corner.name, seam.name), (0, 0)) for rider, n in calls.items()}
            inside = {rider: n for rider, n in of_seam.items() if n[0]}
            if not inside:
                continue
            told = [f"{rider} {sentences.often(*n)}" for rider, n in inside.items()]
            name = sentences.thing(seam.name, "seam")
            text = EVENT["inside_seam"].format(
                seam=name, corner=corner_name(corner.name), who=listed(told)
            )
            yield EventFinding("inside_seam", text, corner.name, tuple(inside))
            break


def _inside_openly(
    findings: Mapping[str, Sequence[Finding]], course: Course
) -> Iterator[EventFinding]:
    """Who ran inside a seam and was more open than the marker line, corner by corner: for the coach to ask."""
    facts = [f for of_rider in findings.values() for f in of_rider if f.code == "inside_openly"]
    for corner in course.corners:
        here = [f for f in facts if f.corner == corner.name]
        for seam in dict.fromkeys(f.marker for f in here):
            riders = [f.rider for f in here if f.marker == seam]
            text = EVENT["inside_openly"].format(
                corner=corner_name(corner.name),
                riders=listed(riders),
                seam=sentences.thing(seam, "seam"),
            )
            yield EventFinding("inside_openly", text, corner.name, tuple(riders))


def _calls(runs: Sequence[RunResult]) -> dict[tuple[str, str], tuple[int, int]]:
    """(corner, seam) → timed laps called inside, and timed laps in all."""
    inside: Counter[tuple[str, str]] = Counter()
    counted: Counter[tuple[str, str]] = Counter()
    for run in runs:
        seams = run.tables["seams"]
        timed = set(timed_laps(run.tables["laps"])["lap"])
        lines = (seams[name].tolist() for name in ("lap", "corner", "seam", "call"))
        for lap, corner, seam, call in zip(*lines, strict=True):
            if lap in timed:
                counted[corner, seam] += 1
                inside[corner, seam] += call == "inside"
    return {place: (inside[place], n) for place, n in counted.items()}


def _apart(
    runs: Mapping[str, Sequence[RunResult]], groups: Mapping[str, str]
) -> Iterator[EventFinding]:
    """Who rides a corner otherwise than the rest of his group."""
    table = apart(runs, groups)
    told: dict[tuple[str, str, str], list[str]] = {}
    for row in table[table["found"]].itertuples():
        more = row.usual > row.others
        if row.measure == "exit_curvature_1pm":
            how = EVENT["tighter" if more else "opener"]
        else:
            way = EVENT["wider" if more else "further_in"]
            how = way.format(cone=sentences.thing(row.marker, "cone"))
        told.setdefault((row.rider, row.corner, row.group), []).append(how)
    for (rider, corner, group), ways in told.items():
        which = f" in {group}" if group else ""
        text = EVENT["apart"].format(
            rider=rider, corner=corner_name(corner), group=which, how=listed(ways)
        )
        yield EventFinding("apart", text, corner, (rider,))


def _changed(changes: Mapping[str, pd.DataFrame]) -> Iterator[EventFinding]:
    """What surely changed between a rider's runs: a sentence for each pair of runs."""
    for rider, table in changes.items():
        pairs = table[table["found"].astype(bool)].groupby(
            ["session_before", "session_after"], sort=False
        )
        for (before, after), rows in pairs:
            told: dict[str, list[str]] = {}
            for row in rows.itertuples():
                way = CHANGED[row.measure][int(row.change > 0.0)]
                cone = sentences.thing(str(row.marker), "cone")
                told.setdefault(way.format(cone=cone), []).append(corner_name(row.corner))
            what = "; ".join(f"{way} at {listed(corners)}" for way, corners in told.items())
            text = EVENT["changed"].format(rider=rider, before=before, after=after, what=what)
            yield EventFinding("changed", text, riders=(rider,))


def _of_log(unusable: Unusable) -> EventFinding:
    text = EVENT["unusable"].format(
        rider=unusable.rider, session=unusable.session, reason=unusable.reason.rstrip(".")
    )
    return EventFinding("unusable", text, riders=(unusable.rider,))
