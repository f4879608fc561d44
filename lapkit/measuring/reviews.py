"""The result of an event or a review: its riders, all tables, and their provenance."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from lapkit.compare.results import Unusable
from lapkit.course.course import Course
from lapkit.days import local_day
from lapkit.errors import named, printable
from lapkit.findings import EventFinding, RiderReview

TABLES = ("laps", "corners", "markers", "seams", "findings", "logs")
"""The published tables, in the order in which they are written."""


@dataclass(frozen=True, eq=False)
class EventReview:
    """All riders of an event, or the one of a review.

    Attributes:
        course: the course they rode.
        riders: in the order of riders.csv.
        unusable: logs that could not be used, with reasons.
        tables: name → frame over all riders; those of :data:`TABLES`, and ``trace`` when asked for.
        provenance: program version, options, SHA-256 of every input, schema version.
        notes: sentences about the whole: what was guessed, what was left out.
        title: the heading of the pages.
        findings: what there is to say about the event as a whole, most urgent first.
        began: when its first run began, logs of another day left out, ISO 8601; "" where no log has a date.
        files: what it was measured from, which its results may not replace.
    """

    course: Course
    riders: tuple[RiderReview, ...]
    unusable: tuple[Unusable, ...]
    tables: dict[str, pd.DataFrame]
    provenance: dict[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    title: str = ""
    findings: tuple[EventFinding, ...] = ()
    began: str = ""
    files: tuple[Path, ...] = ()

    def __repr__(self) -> str:
        """Short, since a notebook shows it unasked."""
        riders = ", ".join(rider.rider for rider in self.riders)
        return f"<EventReview of {printable(self.title)}: {printable(riders)}>"

    @property
    def day(self) -> date | None:
        """The day on which it began, where it was ridden; None where no log has a date."""
        return local_day(self.began, self.course.plane.lon_deg) if self.began else None

    def rider(self, name: str) -> RiderReview:
        """One rider by name.

        Raises:
            OptionError: there is none; the message has the nearest name.
        """
        return named("rider", name, {one.rider: one for one in self.riders})
