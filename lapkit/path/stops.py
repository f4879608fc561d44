"""Stops at the hold point, whose place is known: what the receiver was off by there is its offset at that time."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.model import Noise
from lapkit.path.offset_knots import STEP_S, OffsetKnots
from lapkit.path.offset_process import PRIOR_SD_M
from lapkit.path.offset_sight import Common, Readings, Sight
from lapkit.path.stretches import stretches

STOP_SD_M = 0.3
"""How near a marked spot the antenna stands: a rider stops with his wheel, his boot or his tank over it, leans on a
foot, and carries the antenna anywhere along two metres of machine (our choice)."""

_STILL_MPS = 0.6  # well below walking pace
_STOP_S = 8.0  # longer than the memory of the receiver's wander (our choice)
_BELIEVABLE_M = 3.0 * PRIOR_SD_M  # no receiver's offset is believed to be larger
_NEAR_M = 25.0  # a stop no further from a hold point was perhaps meant for it (our choice)


@dataclass(frozen=True, eq=False)
class Stop:
    """A standstill.

    Attributes:
        time_s: the middle of its time, seconds.
        lasted_s: how long it lasted, seconds.
        x_m, y_m: the antenna's median place, metres east and north.
        parts: the same for each of its parts of about ten seconds, in time order.
    """

    time_s: float
    lasted_s: float
    x_m: float
    y_m: float
    parts: tuple[Stop, ...] = ()

    @classmethod
    def of(cls, time_s: FloatArray, x: FloatArray, y: FloatArray) -> Stop:
        """A standstill without parts, from times and places ``(n,)``."""
        first, last = float(time_s[0]), float(time_s[-1])
        return cls(0.5 * (first + last), last - first, float(np.median(x)), float(np.median(y)))


def find_stops(time_s: FloatArray, x: FloatArray, y: FloatArray, speed: FloatArray) -> list[Stop]:
    """Standstills of eight seconds or more in a path, given by seconds, metres and m/s, ``(n,)`` each."""
    stops = []
    for part in stretches(speed < _STILL_MPS):
        stood = time_s[part], x[part], y[part]
        whole = Stop.of(*stood)
        if whole.lasted_s >= _STOP_S:
            count = max(round(whole.lasted_s / STEP_S), 1)
            pieces = zip(*(np.array_split(each, count) for each in stood), strict=True)
            stops.append(replace(whole, parts=tuple(Stop.of(*piece) for piece in pieces)))
    return stops


def hold_sights(
    knots: OffsetKnots,
    stops: list[Stop],
    hold_points: FloatArray,
    noise: Noise,
    reach_m: float = 0.0,
) -> tuple[list[Sight], tuple[str, ...]]:
    """Sights from the stops at a hold point, and sentences about stops near one that were not used.

    A stop is evaluated part by part, because the offset moves meanwhile, and where it stood when the rider left says most
    about his laps. A stop further away than a receiver's offset can explain is not used: the rider stood elsewhere, or
    the hold point is marked in the wrong place.

    Args:
        knots: of the offset.
        stops: standstills of the log, in the receiver's frame.
        hold_points: metres east and north, ``(n, 2)``.
        noise: of the receiver, whose wander averages out over a part as far as its memory is shorter.
        reach_m: by how much more than other receivers' the offset may be off from zero, metres.
    """
    sights: list[Sight] = []
    notes: list[str] = []
    for stop in stops:
        away = np.hypot(*(np.array([stop.x_m, stop.y_m]) - hold_points).T)
        distance = float(np.min(away))
        if distance <= _BELIEVABLE_M + reach_m:
            sights.append(_hold_sight(knots, stop, hold_points[np.argmin(away)], noise))
        elif distance <= _NEAR_M:
            notes.append(
                f"a stop of {stop.lasted_s:.0f} s was {distance:.1f} m from the hold point, more than a "
                "receiver's offset explains, and was not used; stand on the mark, and check where it is"
            )
    return sights, tuple(notes)


def _hold_sight(knots: OffsetKnots, stop: Stop, mark: FloatArray, noise: Noise) -> Sight:
    parts = stop.parts or (stop,)
    at = np.array([part.time_s for part in parts])
    away = np.array([[part.x_m, part.y_m] for part in parts]) - mark
    each_s = stop.lasted_s / len(parts)
    # The mean over T of a process of memory τ has 2 τ / T of its variance.
    wander_m = noise.wander_m * np.sqrt(min(2.0 * noise.wander_s / each_s, 1.0))
    readings = Readings(np.repeat(at, 2), np.tile(np.eye(2), (len(parts), 1)), away.ravel())
    # How far beside the mark he stands is the same in every part of a stop.
    beside = Common(STOP_SD_M)
    return Sight.of(knots, readings, float(wander_m), firm=True, common=beside)
