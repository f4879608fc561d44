"""Invented courses: straights and bends put together into a closed centre line.

A layout is a list of straights and corners. The centre's curvature runs straight up over an easing,
stays level and runs straight down again (a clothoid each side of an arc), and two of the straights
are given whatever length closes the loop.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray, read_only
from lapkit.course.types import Turn
from lapkit.errors import TrackError

STEP_M = 1.0
"""Distance between the points of a laid-out centre, metres, or nearly: they divide the lap."""

_LEAST_ANGLE = 0.02  # sine of the angle between the fitted straights


@dataclass(frozen=True)
class Straight:
    """A straight; two in a layout are ``fitted``: lengthened until the loop closes."""

    length_m: float
    fitted: bool = False


@dataclass(frozen=True)
class Bend:
    """A bend of the centre: tightest radius, angle (left positive), length of each easing."""

    radius_m: float
    angle_deg: float
    ease_m: float = 15.0

    @property
    def length_m(self) -> float:
        """Length along the centre: an easing turns half as far as an arc of its length."""
        return abs(np.radians(self.angle_deg)) * self.radius_m + self.ease_m


@dataclass(frozen=True)
class CornerPlan:
    """A corner: its bends, straights between them, its cones and what the coach says of it.

    The turn-in cone stands ``turn_in_before_m`` of centre before the first bend, the exit cone
    ``exit_after_m`` after the last, both on the outer side of the rider: at the outer edge, or
    ``turn_in_out_m`` and ``exit_out_m`` outward of the centre where linked corners leave the line
    no room to come out to the edge. Each bend has an apex cone on the inner edge at ``apex_share``
    of its length.
    """

    name: str
    legs: tuple[Bend | Straight, ...]
    turn_in_before_m: float = 12.0
    exit_after_m: float = 18.0
    turn_in_out_m: float | None = None
    exit_out_m: float | None = None
    apex_share: float = 0.55
    camber_deg: float = 1.0
    apex_camber_deg: float | None = None
    cues: tuple[str, ...] = ()
    hazard: str = ""

    @property
    def turn(self) -> Turn:
        """Which way the first bend goes."""
        first = next(leg for leg in self.legs if isinstance(leg, Bend))
        return Turn.LEFT if first.angle_deg > 0 else Turn.RIGHT

    @property
    def length_m(self) -> float:
        """Length of centre from the first bend to the end of the last."""
        return sum(leg.length_m for leg in self.legs)


Section = Straight | CornerPlan


@dataclass(frozen=True)
class Layout:
    """An invented course.

    Stations count from the start line, which lies where the first section starts.

    Attributes:
        name: the course's invented name.
        sections: straights and corners in riding order.
        heights: (share of the lap, metres), through which the road's height runs smoothly.
        half_width_m: half the width of the track.
        lat_deg, lon_deg: where the start line lies; ``heading_deg`` the direction ridden there,
            from north.
        pit_out_m: how far left of the centre the pit lane runs; ``pit_reach_m`` how far before and
            after the start line it leaves and joins the track; ``hold_at_m`` station of the hold
            point in it.
    """

    name: str
    sections: tuple[Section, ...]
    heights: tuple[tuple[float, float], ...]
    half_width_m: float = 6.0
    lat_deg: float = 41.0
    lon_deg: float = -33.0
    heading_deg: float = 70.0
    pit_out_m: float = -20.0
    pit_reach_m: float = 170.0
    hold_at_m: float = -30.0


@dataclass(frozen=True, eq=False)
class Centre:
    """A closed centre line, exact at its points.

    Arrays have shape ``(n,)``; the last point is the first. ``heading_rad`` is counter-clockwise
    from east, unwrapped.
    """

    station_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    heading_rad: FloatArray

    @property
    def length_m(self) -> float:
        """Length of a lap, metres."""
        return float(self.station_m[-1])

    def beside(self, station_m: ArrayLike, left_m: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Metres east and north of points to the left of stations; shapes broadcast."""
        at = np.mod(station_m, self.length_m)
        heading = np.interp(at, self.station_m, self.heading_rad)
        x = np.interp(at, self.station_m, self.x_m) - left_m * np.sin(heading)
        return x, np.interp(at, self.station_m, self.y_m) + left_m * np.cos(heading)


def centre_of(sections: tuple[Section, ...], heading_rad: float = 0.0) -> Centre:
    """The centre of a closed layout, from the origin; its last point is its first."""
    legs = _legs(sections)
    at, level = _curvature(legs)
    count = max(round(at[-1] / STEP_M), 8)
    # Heading is integrated exactly, for curvature is piecewise linear; position by Simpson's rule,
    # whose error is micrometres a lap. That much is then spread over the lap to close it.
    fine = np.linspace(0.0, at[-1], 2 * count + 1)
    heading = heading_rad + _turned(fine, at, level)
    share = fine[::2] / at[-1]
    x, y = (_simpson(part, fine[1]) for part in (np.cos(heading), np.sin(heading)))
    if np.hypot(x[-1], y[-1]) < 0.01:
        x, y = x - share * x[-1], y - share * y[-1]
    return Centre(read_only(fine[::2]), read_only(x), read_only(y), read_only(heading[::2]))


def closed_loop(sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """The sections with their two fitted straights as long as closing the loop needs.

    Raises:
        TrackError: the layout does not turn once round, its fitted straights are not two or are parallel, or a
            straight would have no length.
    """
    turned = sum(leg.angle_deg for leg in _legs(sections) if isinstance(leg, Bend))
    fitted = [i for i, s in enumerate(sections) if isinstance(s, Straight) and s.fitted]
    if abs(abs(turned) - 360.0) > 1e-9 or len(fitted) != 2:
        raise TrackError(
            f"a layout turns 360° and has 2 fitted straights, not {turned}°, {len(fitted)}",
            remedy="Correct the angles of its bends, and let two straights be fitted.",
        )
    line = centre_of(sections)
    starts = np.array(section_starts(sections))[fitted]
    heading = np.interp(starts, line.station_m, line.heading_rad)
    ahead = np.stack([np.cos(heading), np.sin(heading)])
    if abs(np.linalg.det(ahead)) < _LEAST_ANGLE:
        raise TrackError(
            "the two fitted straights of a layout are parallel: their lengths cannot close the loop",
            remedy="Let two straights be fitted that run in different directions.",
        )
    extra = np.linalg.solve(ahead, [-line.x_m[-1], -line.y_m[-1]])
    result = list(sections)
    for index, more in zip(fitted, extra.tolist(), strict=True):
        length = sections[index].length_m + more
        if length <= 0:
            raise TrackError(
                f"closing the loop would need a straight of {length:.0f} m",
                remedy="Let two other straights be fitted, or lengthen this one.",
            )
        result[index] = Straight(length)
    return tuple(result)


def section_starts(sections: tuple[Section, ...]) -> list[float]:
    """The station at which each section starts, metres."""
    lengths = [section.length_m for section in sections]
    return [sum(lengths[:i]) for i in range(len(lengths))]


def _legs(sections: tuple[Section, ...]) -> list[Straight | Bend]:
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
            level = float(np.sign(leg.angle_deg)) / leg.radius_m
            station += [start + leg.ease_m, start + leg.length_m - leg.ease_m]
            curvature += [level, level]
        station.append(start + leg.length_m)
        curvature.append(0.0)
    return np.array(station), np.array(curvature)


def _turned(fine: FloatArray, at: FloatArray, level: FloatArray) -> FloatArray:
    """Integral of the piecewise linear curvature, radians."""
    whole = np.concatenate([[0.0], np.cumsum(np.diff(at) * 0.5 * (level[1:] + level[:-1]))])
    leg = np.clip(np.searchsorted(at, fine, side="right") - 1, 0, len(at) - 2)
    within = fine - at[leg]
    slope = np.diff(level)[leg] / np.diff(at)[leg]
    return whole[leg] + level[leg] * within + 0.5 * slope * within**2


def _simpson(values: FloatArray, half_step: float) -> FloatArray:
    """Integral from the first to every other value."""
    step = (values[:-2:2] + 4.0 * values[1::2] + values[2::2]) * half_step / 3.0
    return np.concatenate([[0.0], np.cumsum(step)])
