"""A ride seen at 100 Hz, and means over 10 m of it: what truth is worked out from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import brentq

from lapkit.curvature import HELD_OVER_M
from lapkit.simulate.motion import Ride
from lapkit.units import FloatArray


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
        """Look at a ride closely."""
        moment = ride.dense
        tyre_x, tyre_y = moment.raised(-ride.style.com_height_m)
        station = ride.station_at(moment.time_s)
        station, offset = ride.course.reference.project_near(tyre_x, tyre_y, station)
        step = np.hypot(np.diff(moment.x_m), np.diff(moment.y_m))
        # A standstill is given a nanometre a step, so that distance can be turned round.
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
    def summed(self) -> dict[str, FloatArray]:
        """Integrals over distance of what is averaged over windows."""
        step = np.diff(self.distance_m)
        return {
            name: np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * step)])
            for name, values in (
                ("speed", self.speed_mps),
                ("lean", self.lean_deg),
                ("offset", self.offset_m),
            )
        }

    def mean(self, name: str, start_m: FloatArray, length_m: float = HELD_OVER_M) -> FloatArray:
        """Mean of speed, lean or offset over the length of path from each start, ``(m,)``."""
        total = self.summed[name]
        ends = np.interp(start_m + length_m, self.distance_m, total)
        return (ends - np.interp(start_m, self.distance_m, total)) / length_m

    def curvature(self, start_m: FloatArray, length_m: float = HELD_OVER_M) -> FloatArray:
        """Heading change over path length from each start ``(m,)``, 1/m, left positive."""
        ends = np.interp(start_m + length_m, self.distance_m, self.heading_rad)
        return (ends - np.interp(start_m, self.distance_m, self.heading_rad)) / length_m

    def reached_s(self, station_m: float) -> float:
        """When the tyres reach an unwrapped station, seconds."""
        first = int(np.argmax(self.station_m >= station_m))
        return float(
            np.interp(
                station_m, self.station_m[first - 1 : first + 1], self.time_s[first - 1 : first + 1]
            )
        )

    def ridden_m(self, time_s: float) -> float:
        """Distance of mass path ridden at a time."""
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
