"""All there is of one rider at one corner, for its section of his page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from lapkit.compare.quality import PassQuality
from lapkit.compare.results import CornerTrace
from lapkit.compare.standard import Standard, standards
from lapkit.counting import corner_name
from lapkit.course.course import Corner, Course
from lapkit.findings import Finding
from lapkit.reporter.figures.style import Spoken
from lapkit.units import Units


@dataclass(frozen=True, eq=False)
class RiderAtCorner:
    """All there is of one rider at one corner.

    Attributes:
        course, corner: where.
        number: of the corner on the course, from 0.
        findings: of this rider at this corner, most urgent first.
        traces: his laps through it.
        tables: his rows of the tables for it, timed laps only.
        units: what he reads.
    """

    course: Course
    corner: Corner
    number: int
    findings: Sequence[Finding]
    traces: Sequence[CornerTrace]
    tables: Mapping[str, pd.DataFrame]
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
        """Laps whose radius and lean here are known; what a coarse log bends in between is invented."""
        known = self.tables["corners"][self.tables["corners"]["quality"] != PassQuality.POOR]
        kept = set(zip(known["session"].astype(str), known["lap"], strict=True))
        return [t for t in self.traces if (t.session, t.lap) in kept]

    @property
    def spoken(self) -> Spoken:
        """The lap to bring forward: that of the most urgent finding."""
        return (self.findings[0].session, self.findings[0].lap) if self.findings else None
