"""The place at a corner that a finding points to: a cone, a seam, or a station where nothing stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.course.course import Corner, CourseMarker, CourseSeam
from lapkit.findings.evidence import Evidence


@dataclass(frozen=True)
class Place:
    """A place to look at.

    Attributes:
        station_m: its station on the course, metres.
        name: name of the cone or seam that the finding is about; empty if it is about neither.
    """

    station_m: float
    name: str = ""

    @classmethod
    def of_cone(cls, marker: CourseMarker) -> Place:
        """Where a cone stands."""
        return cls(marker.station_m, marker.name)

    @classmethod
    def of_seam(cls, seam: CourseSeam, corner: Corner) -> Place:
        """A seam, half way through the exit phase over which laps are called inside or outside it."""
        return cls(0.5 * (corner.last_apex_m + corner.exit_m), seam.name)

    @classmethod
    def of_tightest_exit(cls, evidence: Evidence) -> Place:
        """Where the median lap is tightest in the exit phase."""
        return cls(
            evidence.corner.last_apex_m + float(np.median(evidence.laps.exit_tightest_after_apex_m))
        )

    @classmethod
    def of_largest_lean(cls, evidence: Evidence) -> Place:
        """Where the median lap leans furthest."""
        return cls(evidence.corner.turn_in_m + float(np.median(evidence.laps.lean_max_at_m)))

    def camber_deg(self, corner: Corner) -> float:
        """Camber of the road there, degrees, positive banked to the inside."""
        return float(corner.camber_at(np.array(self.station_m)))
