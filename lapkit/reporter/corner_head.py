"""What stands over a corner, on a rider's page and on the course's sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from lapkit.counting import corner_name
from lapkit.course.course import Corner, Course
from lapkit.reporter.course_words import corner_facts
from lapkit.reporter.figures import corner_icon
from lapkit.units import Units


@dataclass(frozen=True)
class CornerHead:
    """What stands over a corner.

    Attributes:
        id: by which it is linked.
        name, turn, icon: of the corner.
        facts, cues, hazards: what the track file says of it.
    """

    id: str
    name: str
    turn: str
    icon: Markup
    facts: Sequence[str]
    cues: Sequence[str]
    hazards: Sequence[str]

    @classmethod
    def of(
        cls, course: Course, corner: Corner, number: int, exit_radius_m: float, units: Units
    ) -> CornerHead:
        """Of a corner by its number on the course, from 0, with the radius that the marker line's exit keeps."""
        return cls(
            id=f"corner-{number + 1}",
            name=corner_name(corner.name),
            turn=str(corner.turn),
            icon=corner_icon(course, corner),
            facts=corner_facts(corner, exit_radius_m, units),
            cues=corner.cues,
            hazards=corner.hazards,
        )
