"""Which corners trouble an event's riders: how many have a habit there, and which of them do the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from lapkit.counting import corner_name, listed
from lapkit.course.course import Course
from lapkit.course.types import LineSource
from lapkit.findings.codes import Code
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.sentences import Detail
from lapkit.remarks import Remark

FEWEST_TO_DOUBT = 3
"""With fewer riders than this, cones are not doubted for what most of them do alike."""

FEWEST_TO_REMARK = 4
"""Fewer riders who do the same are told of at the corner alone, and not above everything else."""

FEWEST_ALIKE = 3
"""A habit at fewer corners than this is not said to be a rider's all round the course."""


class SameHabit(NamedTuple):
    """A habit in a few words, with its cone or seam, and the names of the riders who have it."""

    what: str
    riders: tuple[str, ...]


@dataclass(frozen=True)
class Trouble:
    """A corner at which riders have habits. For each rider, what leads his story there counts.

    Attributes:
        corner: name of the corner.
        habits: what is done there and who does it; what most do comes first.
        here_only: the same without riders who do it at most corners (:func:`all_round`).
        riders: names of all riders with a habit there, most harm first.
        harm: sum of their harm, as in :class:`~lapkit.findings.finding.Finding`.
        is_the_cone: whether more than half of the event's riders do the same, so that the cone is to be doubted first.
    """

    corner: str
    habits: tuple[SameHabit, ...]
    here_only: tuple[SameHabit, ...]
    riders: tuple[str, ...]
    harm: float
    is_the_cone: bool


def habits(findings: Sequence[Finding]) -> list[Finding]:
    """The findings of a rider that are both faults and habits."""
    return [f for f in findings if f.kind not in (Kind.WELL, Kind.FACT) and f.habit]


def all_round(findings: Mapping[str, Sequence[Finding]], course: Course) -> dict[str, Finding]:
    """Riders with one habit at more than half of the corners, and at :data:`FEWEST_ALIKE`: it is theirs, no corner's.

    Args:
        findings: name of a rider → his findings.
        course: the course.

    Returns:
        Name of a rider → that habit, as it leads his story at one of the corners. Where its words differ from corner to
        corner, by cone or seam, it is one with the words that are most frequent.
    """
    found = {}
    for rider, of_rider in findings.items():
        leads = [f for c in course.corners if (f := _lead(of_rider, c.name)) is not None]
        if not leads:
            continue
        ((code, count),) = Counter(f.code for f in leads).most_common(1)
        if count >= FEWEST_ALIKE and 2 * count > len(course.corners):
            of_code = [f for f in leads if f.code is code]
            words = Counter(f.in_short for f in of_code)
            found[rider] = max(of_code, key=lambda f: words[f.in_short])
    return found


def troubles(findings: Mapping[str, Sequence[Finding]], course: Course) -> list[Trouble]:
    """Corners at which riders have habits, those of most riders first, among equals by harm.

    ``findings`` maps the name of each rider to his findings.
    """
    everywhere = {(rider, f.code) for rider, f in all_round(findings, course).items()}
    found = []
    for corner in course.corners:
        of_riders = [_lead(of_rider, corner.name) for of_rider in findings.values()]
        leads = [f for f in of_riders if f is not None]
        if leads:
            found.append(_trouble(corner.name, leads, len(findings), everywhere))
    return sorted(found, key=lambda trouble: (-len(trouble.riders), -trouble.harm))


def alike(findings: Mapping[str, Sequence[Finding]], course: Course) -> dict[str, tuple[str, ...]]:
    """Corners at which most riders do the same, in riding order, each with the names of those who do.

    ``findings`` maps the name of each rider to his findings.
    """
    found = {
        trouble.corner: trouble.habits[0].riders
        for trouble in troubles(findings, course)
        if trouble.is_the_cone and len(trouble.habits[0].riders) >= FEWEST_TO_REMARK
    }
    return {corner.name: found[corner.name] for corner in course.corners if corner.name in found}


def cones_to_doubt(
    findings: Mapping[str, Sequence[Finding]], doubted: Mapping[str, Sequence[str]], course: Course
) -> Remark | None:
    """A sentence about corners at which most riders do the same, before anybody is blamed; None without such corners.

    A marker line worked out from the cones uses all of the road, so it may be more open there than the coach meant.
    A rider reads it unless all that it says of him stands with what he is to work on (:func:`with_doubt`).

    Args:
        findings: name of a rider → his findings.
        doubted: corners at which most riders do the same, each with their names (:func:`alike`).
        course: the course.
    """
    if not doubted:
        return None
    text = (
        f"More than half of the riders do the same at {listed(list(map(corner_name, doubted)))}: "
        "the cones or the marker line may be what is off there."
    )
    if course.marker_line_from is LineSource.SOLVED:
        text += " The line is worked out from the cones and uses all of the road."
    riders = [
        name
        for name, of_rider in findings.items()
        if any(name in who for corner, who in doubted.items() if corner != _works_at(of_rider))
    ]
    return Remark(text, tuple(riders))


def with_doubt(
    of_rider: Sequence[Finding], doubted: Mapping[str, Sequence[str]]
) -> tuple[Finding, ...]:
    """A rider's findings; what he is to work on says so where most riders do the same.

    He would else read that only after he was blamed.

    Args:
        of_rider: his findings.
        doubted: corners at which most riders do the same, each with their names (:func:`alike`).
    """
    return tuple(
        replace(f, doubt=Detail.SAME_AS_MOST)
        if f.kind is Kind.WORK and f.rider in doubted.get(f.corner, ())
        else f
        for f in of_rider
    )


def _works_at(of_rider: Sequence[Finding]) -> str:
    """The corner of what a rider is to work on; empty without."""
    return next((f.corner for f in of_rider if f.kind is Kind.WORK), "")


def _lead(of_rider: Sequence[Finding], corner: str) -> Finding | None:
    """The habit that leads a rider's story at a corner; None if he has none there."""
    return next((f for f in habits(of_rider) if f.corner == corner), None)


def _trouble(
    corner: str, leads: Sequence[Finding], of_riders: int, everywhere: set[tuple[str, Code]]
) -> Trouble:
    """A corner's trouble.

    Args:
        corner: name of the corner.
        leads: what leads the story of each rider who has a habit there.
        of_riders: number of riders in the event.
        everywhere: riders and codes of the habits that they have all round the course.
    """
    places = Counter((f.code, f.marker) for f in leads if f.code.means.doubts_cones)
    most = max(places.values(), default=0)
    return Trouble(
        corner,
        habits=_by_habit(leads),
        here_only=_by_habit([f for f in leads if (f.rider, f.code) not in everywhere]),
        riders=tuple(f.rider for f in sorted(leads, key=lambda f: -f.harm)),
        harm=sum(f.harm for f in leads),
        is_the_cone=of_riders >= FEWEST_TO_DOUBT and 2 * most > of_riders,
    )


def _by_habit(leads: Sequence[Finding]) -> tuple[SameHabit, ...]:
    """What is done and who does it, what most do first."""
    who_does: dict[str, list[str]] = {}
    for f in leads:
        who_does.setdefault(f.in_short, []).append(f.rider)
    by_riders = sorted(who_does.items(), key=lambda item: -len(item[1]))
    return tuple(SameHabit(what, tuple(riders)) for what, riders in by_riders)
