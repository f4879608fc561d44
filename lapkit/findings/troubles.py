"""Which corners trouble an event's riders: how many have a habit there, and which of them do the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapkit.course.course import Course
from lapkit.findings.codes import Code
from lapkit.findings.finding import Finding, Kind

FEWEST_TO_DOUBT = 3
"""From so many riders on, a corner that most of them ride alike is worth a look at its cones."""

FEWEST_ALIKE = 3
"""At fewer corners than this a habit is no rider's all round the course."""


@dataclass(frozen=True)
class Trouble:
    """A corner where riders have habits; of each counts what leads his story there.

    Attributes:
        corner: where.
        alike: what is done, in a few words with its cone or seam, and who does it, riders in the order of
            the event; what most do comes first.
        own: the same without those who do it at most corners (:func:`all_round`).
        riders: all of them, by the harm it does, most first.
        harm: as of :class:`~lapkit.findings.finding.Finding`, added up.
        is_the_cone: whether so many do the same that the cone is to be doubted before them.
    """

    corner: str
    alike: tuple[tuple[str, tuple[str, ...]], ...]
    own: tuple[tuple[str, tuple[str, ...]], ...]
    riders: tuple[str, ...]
    harm: float
    is_the_cone: bool


def habits(findings: Sequence[Finding]) -> list[Finding]:
    """A rider's faults that hold in more than half of his laps."""
    return [f for f in findings if f.kind not in (Kind.WELL, Kind.FACT) and f.habit]


def all_round(findings: Mapping[str, Sequence[Finding]], course: Course) -> dict[str, Finding]:
    """Riders who have one habit at more than half of the corners, and at three at least: it is theirs, no corner's.

    Returns:
        Rider → the habit as it leads his story at one of these corners, the one told in the commonest words.
    """
    found = {}
    for rider, of_rider in findings.items():
        leads = [f for c in course.corners if (f := _lead(of_rider, c.name)) is not None]
        for code, count in Counter(f.code for f in leads).most_common(1):
            if count >= FEWEST_ALIKE and 2 * count > len(course.corners):
                words = Counter(f.in_short for f in leads if f.code == code)
                found[rider] = max(
                    (f for f in leads if f.code == code), key=lambda f: words[f.in_short]
                )
    return found


def troubles(findings: Mapping[str, Sequence[Finding]], course: Course) -> list[Trouble]:
    """Corners where anybody has a habit, by how many have one, then by harm; ``findings`` by rider."""
    everywhere = {(rider, f.code) for rider, f in all_round(findings, course).items()}
    found = []
    for corner in course.corners:
        leads = [_lead(of_rider, corner.name) for of_rider in findings.values()]
        known = [f for f in leads if f is not None]
        if known:
            found.append(_trouble(corner.name, known, len(findings), everywhere))
    return sorted(found, key=lambda each: (-len(each.riders), -each.harm))


def _lead(of_rider: Sequence[Finding], corner: str) -> Finding | None:
    """The habit that leads a rider's story at a corner."""
    return next((f for f in habits(of_rider) if f.corner == corner), None)


def _trouble(
    corner: str, leads: Sequence[Finding], of_riders: int, everywhere: set[tuple[str, Code]]
) -> Trouble:
    """What leads the story of each rider who has a habit at a corner, put together."""
    places = Counter((f.code, f.marker) for f in leads if f.code.means.doubts_cones)
    most = max(places.values(), default=0)
    return Trouble(
        corner,
        alike=_alike(leads),
        own=_alike([f for f in leads if (f.rider, f.code) not in everywhere]),
        riders=tuple(f.rider for f in sorted(leads, key=lambda f: -f.harm)),
        harm=sum(f.harm for f in leads),
        is_the_cone=of_riders >= FEWEST_TO_DOUBT and 2 * most > of_riders,
    )


def _alike(leads: Sequence[Finding]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What is done and who does it, what most do first."""
    does: dict[str, list[str]] = {}
    for f in leads:
        does.setdefault(f.in_short, []).append(f.rider)
    alike = sorted(does.items(), key=lambda each: -len(each[1]))
    return tuple((what, tuple(names)) for what, names in alike)
