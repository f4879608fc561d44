"""Invented courses: straights and bends put together into a closed centre line with its cones.

A layout is a list of straights and corners. The centre's curvature runs straight up over an easing, stays
level and runs straight down again (a clothoid each side of an arc), and two of the straights are given
whatever length closes the loop.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.course.types import MarkerKind, Turn
from lapkit.units import FloatArray, read_only

STEP_M = 1.0
"""Distance between the points of a laid-out centre, metres (about: a lap is a whole number of them)."""


@dataclass(frozen=True)
class Straight:
    """A straight. ``fitted`` ones (exactly two in a layout) are lengthened until the loop closes."""

    length_m: float
    fitted: bool = False


@dataclass(frozen=True)
class Bend:
    """A bend of the centre: tightest radius, angle (left positive) and the length of each easing."""

    radius_m: float
    angle_deg: float
    ease_m: float = 15.0

    @property
    def length_m(self) -> float:
        """Length along the centre: an easing turns half as far as an arc of its length."""
        return abs(np.radians(self.angle_deg)) * self.radius_m + self.ease_m


@dataclass(frozen=True)
class CornerPlan:
    """A corner: its bends (and short straights between them), its cones and what the coach says of it.

    The turn-in cone stands ``turn_in_before_m`` of centre before the first bend, the exit cone
    ``exit_after_m`` after the last; each bend has an apex cone at the share ``apex_share`` of its length.
    """

    name: str
    legs: tuple[Bend | Straight, ...]
    turn_in_before_m: float = 12.0
    exit_after_m: float = 18.0
    apex_share: float = 0.55
    camber_deg: float = 0.0
    apex_camber_deg: float | None = None
    target_lane: int | None = None
    cues: tuple[str, ...] = ()

    @property
    def turn(self) -> Turn:
        """Which way the first bend goes."""
        first = next(leg for leg in self.legs if isinstance(leg, Bend))
        return Turn.LEFT if first.angle_deg > 0 else Turn.RIGHT


@dataclass(frozen=True)
class Cone:
    """A cone of a corner by its station on the centre."""

    corner: str
    name: str
    kind: MarkerKind
    side: Turn
    station_m: float


@dataclass(frozen=True, eq=False)
class Centre:
    """A closed centre line, exact at its points. Arrays have shape ``(n,)``; the last point is the first.

    ``heading_rad`` is counter-clockwise from east, unwrapped; ``curvature_1pm`` left positive.
    """

    station_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray

    @property
    def length_m(self) -> float:
        """Length of a lap, metres."""
        return float(self.station_m[-1])

    def place(self, station_m: FloatArray, offset_m: FloatArray | float) -> tuple[FloatArray, FloatArray]:
        """Metres east and north of points ``offset_m`` to the left of stations, any shape."""
        x = np.interp(station_m, self.station_m, self.x_m, period=None)
        y = np.interp(station_m, self.station_m, self.y_m, period=None)
        heading = np.interp(station_m, self.station_m, self.heading_rad)
        return x - offset_m * np.sin(heading), y + offset_m * np.cos(heading)


def _legs(sections: tuple[Straight | CornerPlan, ...]) -> list[Straight | Bend]:
    flat: list[Straight | Bend] = []
    for section in sections:
        flat += section.legs if isinstance(section, CornerPlan) else [section]
    return flat


def _curvature(legs: list[Straight | Bend]) -> tuple[FloatArray, FloatArray]:
    """Stations and curvatures between which the centre's curvature runs straight."""
    station, curvature = [0.0], [0.0]
    for leg in legs:
        start = station[-1]
        if isinstance(leg, Bend):
            level = np.sign(leg.angle_deg) / leg.radius_m
            station += [start + leg.ease_m, start + leg.length_m - leg.ease_m, start + leg.length_m]
            curvature += [level, level, 0.0]
        else:
            station.append(start + leg.length_m)
            curvature.append(0.0)
    return np.array(station), np.array(curvature)


def _trace(legs: list[Straight | Bend], step_m: float) -> Centre:
    """Integrate the curvature from the origin, heading east."""
    at, level = _curvature(legs)
    count = max(int(round(at[-1] / step_m)), 8)
    # Heading is integrated exactly (curvature is piecewise linear); position by Simpson's rule over
    # half steps, whose error at one metre is far below a millimetre a lap.
    fine = np.linspace(0.0, at[-1], 2 * count + 1)
    turned = np.concatenate([[0.0], np.cumsum(np.diff(at) * 0.5 * (level[1:] + level[:-1]))])
    leg = np.clip(np.searchsorted(at, fine, side="right") - 1, 0, len(at) - 2)
    within = fine - at[leg]
    slope = np.diff(level)[leg] / np.maximum(np.diff(at)[leg], 1e-9)
    heading = turned[leg] + level[leg] * within + 0.5 * slope * within**2
    ends = []
    for part in (np.cos(heading), np.sin(heading)):
        step = (part[:-2:2] + 4.0 * part[1::2] + part[2::2]) * (fine[1] - fine[0]) / 3.0
        ends.append(np.concatenate([[0.0], np.cumsum(step)]))
    return Centre(
        station_m=read_only(fine[::2]),
        x_m=read_only(ends[0]),
        y_m=read_only(ends[1]),
        heading_rad=read_only(heading[::2]),
        curvature_1pm=read_only(np.interp(fine[::2], at, level)),
    )


def fit_straights(sections: tuple[Straight | CornerPlan, ...]) -> tuple[Straight | CornerPlan, ...]:
    """The sections with their two fitted straights as long as closing the loop needs.

    Raises:
        ValueError: when the layout does not turn once round, or a straight would have no length.
    """
    legs = _legs(sections)
    turned = sum(leg.angle_deg for leg in legs if isinstance(leg, Bend))
    fitted = [i for i, s in enumerate(sections) if isinstance(s, Straight) and s.fitted]
    if abs(abs(turned) - 360.0) > 1e-9 or len(fitted) != 2:
        raise ValueError(f"a layout turns once round and has two fitted straights, not {turned}")
    line = _trace(legs, STEP_M)
    starts = np.cumsum([0.0] + [_length(s) for s in sections])
    heading = np.interp(starts[fitted], line.station_m, line.heading_rad)
    miss = np.array([line.x_m[-1], line.y_m[-1]])
    extra = np.linalg.solve(np.stack([np.cos(heading), np.sin(heading)]), -miss)
    result = list(sections)
    for index, more in zip(fitted, extra, strict=True):
        length = sections[index].length_m + float(more)
        if length <= 0:
            raise ValueError(f"closing the loop would need a straight of {length:.0f} m")
        result[index] = Straight(length)
    return tuple(result)


def _length(section: Straight | CornerPlan) -> float:
    if isinstance(section, CornerPlan):
        return sum(leg.length_m for leg in section.legs)
    return section.length_m


def trace_centre(sections: tuple[Straight | CornerPlan, ...]) -> Centre:
    """The centre of fitted sections, starting east from the origin; the last point is the first."""
    centre = _trace(_legs(sections), STEP_M)
    x, y = centre.x_m.copy(), centre.y_m.copy()
    # What Simpson's rule leaves open (micrometres) is spread over the lap.
    share = centre.station_m / centre.length_m
    return Centre(
        centre.station_m,
        read_only(x - share * x[-1]),
        read_only(y - share * y[-1]),
        centre.heading_rad,
        centre.curvature_1pm,
    )


def cones(sections: tuple[Straight | CornerPlan, ...]) -> tuple[Cone, ...]:
    """The cones of fitted sections: turn-in and exit outside, apexes inside."""
    found: list[Cone] = []
    start = 0.0
    for section in sections:
        if isinstance(section, CornerPlan):
            found += _corner_cones(section, start)
        start += _length(section)
    return tuple(found)


def _corner_cones(plan: CornerPlan, start: float) -> list[Cone]:
    inside = plan.turn
    outside = Turn.RIGHT if inside is Turn.LEFT else Turn.LEFT
    bends, at = [], start
    for leg in plan.legs:
        if isinstance(leg, Bend):
            bends.append(at + plan.apex_share * leg.length_m)
        at += leg.length_m
    apexes = ["apex"] if len(bends) == 1 else [f"apex {i + 1}" for i in range(len(bends))]
    return [
        Cone(plan.name, "turn-in", MarkerKind.TURN_IN, outside, start - plan.turn_in_before_m),
        *(
            Cone(plan.name, name, MarkerKind.APEX, inside, station)
            for name, station in zip(apexes, bends, strict=True)
        ),
        Cone(plan.name, "exit", MarkerKind.EXIT, outside, at + plan.exit_after_m),
    ]
