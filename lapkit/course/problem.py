"""A fault of a track file in plain words, and the survey of the course that the checks look at."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from lapkit.arrays import FloatArray
from lapkit.course.corner_place import PlacedCorner
from lapkit.course.edges import Edges
from lapkit.course.plane import Plane
from lapkit.course.reference import reference_roles
from lapkit.course.seams import PlacedSeam
from lapkit.course.stations import StationLine
from lapkit.course.types import Track


class Severity(StrEnum):
    """Whether a problem stops the work (an error) or is only worth a look (a warning)."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True)
class Problem:
    """What is wrong, where, and what to do; ``code`` names the check that found it."""

    severity: Severity
    code: str
    where: str
    what: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}. {self.remedy}"


def error(code: str, where: str, what: str, remedy: str) -> Problem:
    """A problem that stops."""
    return Problem(Severity.ERROR, code, where, what, remedy)


def warning(code: str, where: str, what: str, remedy: str) -> Problem:
    """A problem that is worth a look."""
    return Problem(Severity.WARNING, code, where, what, remedy)


@dataclass(frozen=True, eq=False)
class Survey:
    """A track file placed on its plane for the checks; ``corners`` leaves out those without cones."""

    track: Track
    plane: Plane
    reference: StationLine
    edges: Edges | None
    corners: tuple[PlacedCorner, ...]
    seams: tuple[PlacedSeam, ...]

    @property
    def reference_where(self) -> str:
        """The file, and the line or lines in it that the reference was made of, for messages."""
        return f"{self.track.source}, {' and '.join(reference_roles(self.track))}"

    def edges_at(self, station_m: FloatArray | float) -> tuple[FloatArray, FloatArray] | None:
        """Offsets of the left and right edge at stations of any shape, metres; None without edges."""
        return None if self.edges is None else self.edges.along(self.reference, station_m)
