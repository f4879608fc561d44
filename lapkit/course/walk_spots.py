"""Places of a walk: several visits to the same cone become one place with a spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.plane import Plane
from lapkit.course.walk_file import Recorded, Waypoint

STOOD_S = 8.0
"""Fixes so long before and after a waypoint belong to it when the walker stood still, seconds."""

STOOD_M = 3.0
"""The walker stood still when the first third and the last third of those fixes lie no further apart, metres."""

STRAY_M = 8.0
"""A visit further than this from the median of three or more visits is left out, metres (our choice)."""

_FEWEST_FIXES = 6  # that show whether he stood still


@dataclass(frozen=True)
class Spot:
    """One place on the plane, metres: the mean of ``visits`` visits.

    ``spread_m`` is the rms distance of the visits from their mean, None for a single one;
    ``strays`` counts the visits left out because they lay far from the others.
    """

    x_m: float
    y_m: float
    visits: int
    spread_m: float | None
    strays: int


def gather(visits: FloatArray) -> Spot:
    """The place that visits ``(n, 2)``, metres, were made to."""
    kept = visits
    if len(visits) >= 3:
        away = np.hypot(*(visits - np.median(visits, axis=0)).T)
        kept = visits[away <= STRAY_M]
        if len(kept) < 2:
            kept = visits
    middle = kept.mean(axis=0)
    spread = None
    if len(kept) > 1:
        # Divided by n − 1, because the mean was taken from the same visits.
        spread = float(np.sqrt(np.sum((kept - middle) ** 2) / (len(kept) - 1)))
    return Spot(float(middle[0]), float(middle[1]), len(kept), spread, len(visits) - len(kept))


def standing(plane: Plane, waypoint: Waypoint, tracks: Sequence[Recorded]) -> tuple[float, float]:
    """Where a waypoint is, metres: the mean of the fixes recorded while the walker stood there.

    Without a time, a recording or a stop it is the waypoint's own position.
    """
    for track in tracks:
        near = np.flatnonzero(np.abs(track.time_s - waypoint.time_s) <= STOOD_S)
        if len(near) < _FEWEST_FIXES:
            continue
        x, y = plane.to_xy(track.lat_deg[near], track.lon_deg[near])
        third = len(near) // 3
        moved = np.hypot(x[-third:].mean() - x[:third].mean(), y[-third:].mean() - y[:third].mean())
        if moved <= STOOD_M:
            return float(x.mean()), float(y.mean())
    x, y = plane.to_xy(waypoint.lat_deg, waypoint.lon_deg)
    return float(x), float(y)
