"""A rider's usual lap through a corner: in a sentence on his page, and beside the other riders' on the event's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from lapkit.compare.lap_values import LINE
from lapkit.compare.results import MeasureAt
from lapkit.compare.standard import Standard
from lapkit.compare.usual import BEND, Usual
from lapkit.counting import corner_name
from lapkit.course.course import Corner
from lapkit.findings import RiderReview
from lapkit.findings.sentences import cone_called
from lapkit.reporter import display
from lapkit.reporter.course_words import last_exit_cone
from lapkit.reporter.display import Measured
from lapkit.rounding import REACH
from lapkit.units import Units

_VAGUE_M = 3.0  # metres to either side: an interval that wide does not tell a place across a road
_STRAIGHT_1PM = 1e-4  # a radius of 10 km, which is as good as straight
_UNKNOWN = Usual(0, *[float("nan")] * 3)

UsualLap = Mapping[MeasureAt, Usual]
"""What a rider's usual lap of his latest run was like (:func:`~lapkit.compare.usual.usual_of`)."""

Row = tuple[str, ...]


class _Through(NamedTuple):
    """A usual lap through one corner.

    Attributes:
        bend: curvature of the exit where it is tightest, 1/m.
        lean: largest lean, degrees.
        wide: distance from the marker line at the last exit cone, metres, positive when wide of it.
    """

    bend: Usual
    lean: Usual
    wide: Usual

    @classmethod
    def of(cls, usual: UsualLap, corner: Corner) -> _Through:
        def value(measure: str, marker: str = "") -> Usual:
            return usual.get(MeasureAt(corner.name, marker, measure), _UNKNOWN)

        return cls(value(BEND), value("lean_deg"), value(LINE, last_exit_cone(corner)))

    @property
    def radius_m(self) -> float:
        """Radius of the exit where it is tightest; NaN where the exit is straight."""
        return 1.0 / self.bend.mean if self.bend.mean > _STRAIGHT_1PM else float("nan")


def usual_words(
    usual: UsualLap, corner: Corner, standard: Standard, rider: RiderReview, units: Units
) -> str:
    """The usual lap of the latest run through one corner in a sentence; empty when it is not known."""
    through = _Through.of(usual, corner)
    if not through.bend.laps:
        return ""
    known = [
        _radius_words(through, standard, units),
        _lean_words(through.lean),
        _line_words(through.wide, last_exit_cone(corner), units),
    ]
    told = ", ".join(filter(None, known))
    return f"Your {_which_lap(through.bend.laps, rider)}: {told}." if told else ""


def _half(usual: Usual) -> float:
    """Half the 95 % interval of a usual value, in its own unit."""
    return REACH * usual.sd


def _radius_words(through: _Through, standard: Standard, units: Units) -> str:
    radius_m, bend = through.radius_m, through.bend
    if not display.known(radius_m):
        return ""
    # To first order a radius is known as well as its curvature: Δr = Δκ / κ².
    half_m = _half(bend) / bend.mean**2
    radius = display.rounded(radius_m / units.length_m, half_m / units.length_m, units.length)
    if not display.known(standard.exit_radius_m):
        return f"exit radius {radius}"
    line = display.length_text(standard.exit_radius_m, units)
    return f"exit radius {radius} where the line keeps {line}"


def _lean_words(lean: Usual) -> str:
    if not display.known(lean.mean):
        return ""
    return f"largest lean {display.rounded(lean.mean, _half(lean), '°')}"


def _line_words(wide: Usual, cone: str, units: Units) -> str:
    """How far from the marker line at a cone; on which side only where that is known."""
    half_m, unit = _half(wide), units.length_m
    if not display.known(wide.mean) or half_m > _VAGUE_M:
        return ""
    where = f"the line at the {cone_called(cone)}"
    if abs(wide.mean) <= half_m:
        return f"within {display.length_text(abs(wide.mean) + half_m, units, 1)} of {where}"
    off = display.rounded(abs(wide.mean) / unit, half_m / unit, units.length, 1)
    return f"{off} {'wide of' if wide.mean >= 0 else 'inside'} {where}"


def _which_lap(laps: int, rider: RiderReview) -> str:
    several_runs = len(rider.runs) > 1
    run = f" of run {rider.runs[-1].session}" if several_runs else ""
    if laps == 1:
        return f"only measured lap{run}"
    return f"usual lap{run}, the mean of {'its ' if several_runs else ''}{laps} laps"


class SideBySide(NamedTuple):
    """A corner, and the head and rows of a table with each rider's usual lap through it."""

    corner: str
    head: Row
    rows: list[Row]


def side_by_side(
    riders: Sequence[tuple[RiderReview, UsualLap]], corner: Corner, standard: Standard, units: Units
) -> SideBySide:
    """Each rider's usual lap of his latest run through one corner, in the order given.

    Over the radii stands what the marker line keeps. Nobody is ranked, and there are no times.
    """
    kept = display.radius_text(Measured(standard.exit_radius_m), units, bare=True)
    of_line = "" if kept == display.EMPTY else f" (the line {kept})"
    has_exit_cone = bool(last_exit_cone(corner))
    head = ["Rider", "Group", "Run", "Laps", f"exit radius, {units.length}{of_line}"]
    head.append(f"largest lean, {corner.turn}")
    if has_exit_cone:
        head.append(f"exit: from the line, {units.length}")
    rows = []
    for rider, usual in riders:
        through = _Through.of(usual, corner)
        if not through.bend.laps:
            continue
        cells = [rider.rider, rider.group or display.EMPTY, rider.runs[-1].session]
        cells.append(str(through.bend.laps))
        cells.append(display.radius_text(Measured(through.radius_m), units, bare=True))
        cells.append(display.degrees_text(Measured(through.lean.mean)))
        if has_exit_cone:
            cells.append(display.wide_text(Measured(through.wide.mean), units))
        rows.append(tuple(cells))
    return SideBySide(corner_name(corner.name), tuple(head), rows)
