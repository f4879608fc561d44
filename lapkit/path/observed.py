"""From a log to observations on the plane: positions, velocities, the lag between them, and the knots that cover them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from lapkit.course.plane import Plane
from lapkit.importer.log import Log
from lapkit.path.displacements import Displacements, logged_velocities, usual_step_s
from lapkit.path.model import Observed
from lapkit.path.places import Places
from lapkit.path.spline import Knots
from lapkit.units import FloatArray

SPACING_S = 0.25
"""Knot spacing, seconds; half a fix interval more where fixes come slower than that."""

WANDER_EVERY = {True: 2, False: 1}
"""Knots of the path to one of the wander, by whether most fixes have a velocity.

The wander remembers itself for seconds, so a knot at every second one of the path's is enough and saves a tenth of a
log's time. From positions alone the wander between its knots would be taken for riding, and lean all round the lap
would err by 3 to 5 % more.
"""

_STILL_MPS = 1.0  # below walking pace
# A standing machine's zero is doubted the more the faster it was logged: by the square of its speed in these.
_STILL_SD_MPS = 0.3
# Headings are whole degrees, but for a few that are so by chance or by hand; one that lasts no longer is turned through; and
# about what velocities err by anyhow, beside which rounding counts (our choice).
_WHOLE, _TURNS_S, _BESIDE_MPS = 0.99, 0.6, 0.1
_STEP_S = 0.05
# Lags tried: receivers filter velocities for up to half a second.
_LAGS_S = np.arange(-0.2, 0.65, _STEP_S)
_LEAST_LAG_S = 0.04  # a smaller one is within the error of what is found
_REACH_S = 0.3  # each way of a displacement; fixes further apart show no lag
_FEWEST = 100  # displacements; with fewer a lag is chance
_EVEN = 1.2  # times the usual length of time a displacement may take: else there is a gap in it
_ASIDE = 4  # steps, two thirds of the way from a displacement's middle to its ends


def observe_log(log: Log, plane: Plane) -> Observed:
    """Fixes of a log on the plane, all with weight 1; velocity weight 0 where none is logged.

    Below walking pace many receivers freeze or spin the heading, so there the velocity is taken as zero, known to
    about the logged speed.
    """
    x, y = plane.to_xy(log.lat_deg, log.lon_deg)
    n = len(log)
    vx, vy, weight = np.zeros(n), np.zeros(n), np.zeros(n)
    if log.speed_mps is not None and log.heading_deg is not None:
        # A receiver standing still may leave the heading out; its speed alone says that it stands.
        heading = np.radians(np.where(log.speed_mps < _STILL_MPS, 0.0, log.heading_deg))
        logged = np.isfinite(log.speed_mps) & np.isfinite(heading)
        speed = np.where(logged, log.speed_mps, 0.0)
        still = speed < _STILL_MPS
        vx = np.where(still, 0.0, speed * np.sin(np.where(logged, heading, 0.0)))
        vy = np.where(still, 0.0, speed * np.cos(np.where(logged, heading, 0.0)))
        weight = np.where(
            logged, 1.0 / (1.0 + np.where(still, speed / _STILL_SD_MPS, 0.0) ** 2), 0.0
        )
        weight *= _rounded_weight(
            log.time_s, np.where(still | ~logged, np.nan, log.heading_deg), speed
        )
    return Observed(
        time_s=log.time_s,
        x_m=x,
        y_m=y,
        position_weight=np.ones(n),
        velocity_time_s=log.time_s,
        vx_mps=vx,
        vy_mps=vy,
        velocity_weight=weight,
    )


def _rounded_weight(
    time_s: FloatArray, heading_deg: FloatArray, speed_mps: FloatArray
) -> FloatArray:
    """Weights ``(n,)`` of velocities whose headings were written in whole degrees; 1 where they were not.

    As long as the written heading stays, so does what rounding took off it: on a straight at 50 m/s up to 0.4 m/s aside,
    which no more fixes of the same heading tell better. In a bend he turns through it, and it evens out.

    Args:
        time_s: times of the fixes, seconds, ``(n,)``.
        heading_deg: as logged, NaN where it takes no part, ``(n,)``.
        speed_mps: m/s, ``(n,)``.
    """
    known = heading_deg[np.isfinite(heading_deg)]
    if len(known) == 0 or np.mean(known == np.round(known)) < _WHOLE:
        return np.ones(len(heading_deg))
    starts = np.concatenate([[True], heading_deg[1:] != heading_deg[:-1]])
    run = np.cumsum(starts) - 1
    lasted_s = np.diff(time_s[starts], append=time_s[-1])[run]
    alike = np.where(lasted_s < _TURNS_S, 1, np.bincount(run)[run])
    # Variance of what rounding took off, beside that of one velocity's own noise.
    rounding = np.square(speed_mps * np.radians(1.0) / _BESIDE_MPS) / 12.0
    return (1.0 + rounding) / (1.0 + alike * rounding)


def velocity_lag_s(seen: Observed) -> float:
    """How late the logged velocity is against the positions, seconds; 0 when it cannot be told.

    The displacement over a few fixes is a velocity of the positions' own; the lag is where the logged
    velocity agrees with it best (parabola through the best of a grid). Lags below 40 ms are
    taken as none.
    """
    if np.count_nonzero(seen.velocity_weight > 0) < _FEWEST or usual_step_s(seen) > _REACH_S:
        return 0.0
    moved = Displacements.of(seen, _REACH_S, _EVEN)
    if len(moved.middle_s) < _FEWEST:
        return 0.0
    costs = _disagreements(moved, *logged_velocities(seen))
    best = int(np.argmin(costs))
    if not 0 < best < len(costs) - 1:
        return 0.0
    below, at, above = costs[best - 1 : best + 2]
    bend = below - 2 * at + above
    lag = _LAGS_S[best] + _STEP_S * 0.5 * (below - above) / bend if bend > 0 else 0.0
    return float(lag) if abs(lag) >= _LEAST_LAG_S else 0.0


def _disagreements(
    moved: Displacements, logged_s: FloatArray, logged_mps: np.ndarray
) -> FloatArray:
    """How far displacements a second and velocities logged at times are apart, m²/s², for each lag."""

    @cache
    def logged_at(steps: int) -> np.ndarray:
        return np.interp(moved.middle_s + _STEP_S * steps, logged_s, logged_mps)

    costs = []
    for lag in np.round(_LAGS_S / _STEP_S).astype(int):
        # The displacement averages velocity over its span; a mean of three points does the same.
        before, at, after = (logged_at(lag + aside) for aside in (-_ASIDE, 0, _ASIDE))
        off = 0.25 * before + 0.5 * at + 0.25 * after - moved.mean_mps
        costs.append(np.median(np.square(off.real) + np.square(off.imag)))
    return np.array(costs)


def without_lag(seen: Observed, lag_s: float) -> Observed:
    """The same observations with every velocity dated back by the lag."""
    return replace(seen, velocity_time_s=seen.time_s - lag_s) if lag_s else seen


def knots_for(seen: Observed) -> Knots:
    """Knots that cover the fixes with a little room at both ends."""
    time_s, mostly = seen.time_s, bool(np.median(seen.velocity_weight) > 0.0)
    step = usual_step_s(seen)
    spacing = SPACING_S if step <= 0.3 else 0.5 * step
    start, every = float(time_s[0]) - 0.5 - spacing, WANDER_EVERY[mostly]
    intervals = int(np.ceil((time_s[-1] + 0.5 - start) / spacing))
    short = -Knots(start, spacing, intervals).coefficients % every
    return Knots(start, spacing, intervals + short, every)


def places_for(knots: Knots, seen: Observed) -> tuple[Places, Places]:
    """Where positions lie between the knots, and where velocities do."""
    positions = Places.of(knots, seen.time_s)
    return positions, Places.of(knots, seen.velocity_time_s) if seen.lags else positions
