"""How the positions of a log moved: how long, how fast, and whether the logged velocity agrees with them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, offsets_m, one_turn_deg
from lapkit.importer.gaps import GAP_STEPS
from lapkit.importer.log import Log

MOVING_MPS = 2.0
"""Above this speed a rider is on the move, m/s: no walk is so fast, and no receiver that stands seems to be."""


@dataclass(frozen=True)
class Movement:
    """How a log moved, each position compared with the one about a second later.

    Attributes:
        moving_s: seconds on the move.
        pace_mps: speed below which a quarter of that time lies, as in bends; NaN for none.
        speed_ratio: logged speed over that of the positions, median on the move; NaN without a logged velocity.
        heading_off_deg: how far the logged heading is off the way the positions went, either side, median on
            the move; NaN without a logged velocity.
    """

    moving_s: float
    pace_mps: float
    speed_ratio: float
    heading_off_deg: float


def movement_of(log: Log) -> Movement:
    """The movement of a log of two fixes or more."""
    step = np.diff(log.time_s)
    stride = int(np.clip(np.round(1.0 / np.median(step)), 1, len(log) - 1))
    east, north = offsets_m(log.lat_deg, log.lon_deg, stride)
    taken = log.time_s[stride:] - log.time_s[:-stride]
    # Never quite zero, because it is divided by below; only the moving steps count there.
    speed = np.maximum(np.hypot(east, north) / taken, 1e-9)
    # Nobody saw how the rider moved across a gap.
    seen = taken < GAP_STEPS * np.median(taken)
    moving = seen & (speed > MOVING_MPS)
    pace_mps = float(np.percentile(speed[moving], 25)) if moving.any() else float("nan")
    speed_ratio = heading_off_deg = float("nan")
    if log.has_velocity and log.speed_mps is not None and log.heading_deg is not None:
        # The mean of both ends stands for the middle of the step, in a bend too.
        logged = (log.speed_mps[stride:] + log.speed_mps[:-stride]) / 2
        speed_ratio = _median((logged / speed)[moving])
        course = np.exp(1j * np.radians(log.heading_deg))
        turned = (course[stride:] + course[:-stride]) * (north - 1j * east)
        heading_off_deg = _median(np.abs(np.degrees(np.angle(turned)))[moving])
    moving_s = float(np.count_nonzero(moving) * np.median(step))
    return Movement(moving_s, pace_mps, speed_ratio, heading_off_deg)


def spread_m(log: Log) -> float:
    """Distance from the median position within which 95 % of the fixes lie, metres."""
    north = (log.lat_deg - np.median(log.lat_deg)) * METRES_PER_DEGREE
    # Longitudes are taken from the first, because they may lie across the antimeridian.
    east = one_turn_deg(log.lon_deg - log.lon_deg[0])
    east = (east - np.median(east)) * METRES_PER_DEGREE * np.cos(np.radians(log.lat_deg))
    return float(np.percentile(np.hypot(east, north), 95.0))


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")
