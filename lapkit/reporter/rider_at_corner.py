"""All there is of one rider at one corner, for its section of his page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapkit.compare.quality import PassQuality
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import Standard, standards
from lapkit.counting import corner_name
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding
from lapkit.reporter.figures.style import LapKey
from lapkit.reporter.laps_at_corner import LapAtCorner
from lapkit.units import Units


@dataclass(frozen=True, eq=False)
class RiderAtCorner:
    """All there is of one rider at one corner.

    Attributes:
        course, corner: where.
        number: of the corner on the course, from 0.
        findings: of this rider at this corner, most urgent first.
        traces: the same laps to draw, in the order ridden.
        laps: his timed laps through it.
        units: what he reads.
    """

    course: Course
    corner: Corner
    number: int
    findings: Sequence[Finding]
    traces: Sequence[CornerTrace]
    laps: Sequence[LapAtCorner]
    units: Units

    @property
    def name(self) -> str:
        """What the corner is called."""
        return corner_name(self.corner.name)

    @property
    def standard(self) -> Standard:
        """What the corner asks for."""
        return standards(self.course)[self.corner.name]

    @property
    def measured(self) -> list[CornerTrace]:
        """The laps whose radius and lean are known here: between a coarse log's fixes any bend would be invented."""
        known = {(lap.session, lap.lap) for lap in self.laps if lap.quality != PassQuality.POOR}
        return [t for t in self.traces if (t.session, t.lap) in known]

    @property
    def thick(self) -> LapKey | None:
        """Run and lap to draw thick: those of the most urgent finding; None without one."""
        return (self.findings[0].session, self.findings[0].lap) if self.findings else None
