"""A ride sampled at 100 Hz, and means over 10 m of it: the truth is worked out from these."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import brentq

from lapkit.arrays import FloatArray
from lapkit.curvature import HELD_OVER_M
from lapkit.simulate.motion import Ride


@dataclass(frozen=True, eq=False)
class AlongPath:
    """A quantity along the mass path, ready to be averaged over stretches of it.

    ``integral`` is the quantity's integral over ``distance_m`` (metres, increasing), both ``(n,)``.
    """

    distance_m: FloatArray
    integral: FloatArray

    @classmethod
    def of(cls, distance_m: FloatArray, values: FloatArray) -> AlongPath:
        """From values at distances, ``(n,)`` each."""
        pieces = 0.5 * (values[1:] + values[:-1]) * np.diff(distance_m)
        return cls(distance_m, np.concatenate([[0.0], np.cumsum(pieces)]))

    def mean(self, start_m: FloatArray, length_m: float = HELD_OVER_M) -> FloatArray:
        """Mean over the length of path from each start, ``(m,)``."""
        ends = np.interp(start_m + length_m, self.distance_m, self.integral)
        return (ends - np.interp(start_m, self.distance_m, self.integral)) / length_m


@dataclass(frozen=True, eq=False)
class Dense:
    """A ride at 100 Hz; arrays of shape ``(n,)``.

    ``station_m`` (unwrapped) and ``offset_m`` (left positive) belong to the tyre path;
    ``distance_m``, ``heading_rad``, ``speed_mps`` and ``lean_deg`` (left positive) to the mass
    path.
    """

    ride: Ride
    time_s: FloatArray
    tyre_x_m: FloatArray
    tyre_y_m: FloatArray
    station_m: FloatArray
    offset_m: FloatArray
    distance_m: FloatArray
    heading_rad: FloatArray
    speed_mps: FloatArray
    lean_deg: FloatArray

    @classmethod
    def of(cls, ride: Ride) -> Dense:
        """A ride at 100 Hz from start to end."""
        moment = ride.dense
        tyre_x, tyre_y = moment.raised(-ride.style.com_height_m)
        station = ride.station_at(moment.time_s)
        station, offset = ride.course.reference.project_near(tyre_x, tyre_y, station)
        step = np.hypot(np.diff(moment.x_m), np.diff(moment.y_m))
        # A standstill counts as a nanometre a step, so that distance always grows and can be inverted.
        distance = np.concatenate([[0.0], np.cumsum(np.maximum(step, 1e-9))])
        return cls(
            ride,
            moment.time_s,
            tyre_x,
            tyre_y,
            station,
            offset,
            distance,
            moment.heading_rad,
            moment.speed_mps,
            moment.lean_deg,
        )

    @cached_property
    def speed_along(self) -> AlongPath:
        """Speed along the mass path, m/s."""
        return AlongPath.of(self.distance_m, self.speed_mps)

    @cached_property
    def lean_along(self) -> AlongPath:
        """Balance lean along the mass path, degrees, left positive."""
        return AlongPath.of(self.distance_m, self.lean_deg)

    @cached_property
    def offset_along(self) -> AlongPath:
        """Offset of the tyres from the reference along the mass path, metres, left positive."""
        return AlongPath.of(self.distance_m, self.offset_m)

    def curvature(self, start_m: FloatArray, length_m: float = HELD_OVER_M) -> FloatArray:
        """Heading change over path length from each start ``(m,)``, 1/m, left positive."""
        ends = np.interp(start_m + length_m, self.distance_m, self.heading_rad)
        return (ends - np.interp(start_m, self.distance_m, self.heading_rad)) / length_m

    def reached_s(self, station_m: float) -> float:
        """When the tyres reach an unwrapped station, seconds."""
        first = int(np.argmax(self.station_m >= station_m))
        about = slice(first - 1, first + 1)
        return float(np.interp(station_m, self.station_m[about], self.time_s[about]))

    def ridden_m(self, time_s: float) -> float:
        """Distance ridden at a time, along the mass path, metres."""
        return float(np.interp(time_s, self.time_s, self.distance_m))


def crossings_s(ride: Ride) -> list[float]:
    """When the mass path crosses the start line in the direction of riding, to a microsecond."""
    left, right = ride.course.start_line
    across = left - right
    ahead = np.array([across[1], -across[0]])
    moment = ride.dense
    x, y = moment.x_m - right[0], moment.y_m - right[1]
    beyond = x * ahead[0] + y * ahead[1]
    share = (x * across[0] + y * across[1]) / (across @ across)
    passes = (beyond[:-1] < 0) & (beyond[1:] >= 0) & (share[:-1] > 0) & (share[:-1] < 1)

    def signed(time: float) -> float:
        here = ride.mass(time)
        return float((here - right) @ ahead)

    times = moment.time_s
    return [brentq(signed, times[i], times[i + 1], xtol=1e-7) for i in np.flatnonzero(passes)]
