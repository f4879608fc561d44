"""From a log to observations on the plane: positions, velocities and the lag between them, and the knots for them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.plane import Plane
from lapkit.importer.log import Log
from lapkit.path.displacements import Displacements, logged_velocities, usual_step_s
from lapkit.path.model import Observed
from lapkit.path.places import Places
from lapkit.path.spline import Knots

SPACING_S = 0.25
"""Knot spacing, seconds; half the time from fix to fix where fixes come slowly (:func:`knots_for`)."""

WANDER_EVERY = {True: 2, False: 1}
"""How many knots of the path there are to one of the wander, by whether most fixes have a velocity.

The wander's memory is some seconds, so half as many knots as the path's are enough, and save a tenth of a log's time. From
positions alone, the wander between its knots would then be taken for riding, and lean all round the lap would err by 3 to
5 % more.
"""

_STILL_MPS = 1.0  # below walking pace
# Logged speed at which a velocity taken as zero has half its precision (our choice).
_STILL_MISTRUST_MPS = 0.3
# Receivers that freeze the heading when slow do so below three or four (our choice).
_FREEZES_MPS = 5.0
_FROZEN_FIXES = 3  # in a row with the same heading to the last digit
_WHOLE = 0.99  # of headings are whole degrees where they were rounded; a few others may have been mended by hand
_TURNS_S = 0.6  # a written heading that lasts no longer is one of a bend (our choice)
_OTHER_MPS = 0.1  # noise of velocities apart from rounding (our choice)
_STEP_S = 0.05
# Lags that are tried: receivers filter velocities for up to half a second.
_LAGS_S = np.arange(-0.2, 0.65, _STEP_S)
_LEAST_LAG_S = 0.04  # a smaller one is within the error of what is found
_REACH_S = 0.3  # each way of a displacement; fixes further apart show no lag
_FEWEST = 100  # displacements; with fewer a lag is chance
_EVEN = 1.2  # times its usual duration: a longer displacement has a gap in it
_ASIDE = 4  # steps, two thirds of the way from a displacement's middle to its ends


def observe_log(log: Log, plane: Plane) -> Observed:
    """Fixes of a log on the plane: positions with weight 1, velocities with weight 0 where none is logged.

    Below walking pace many receivers freeze or spin the heading. There the velocity is taken to be zero, and to be known
    to about the logged speed. Faster than that a frozen heading is told from a measured one, and its velocity left out.
    """
    x, y = plane.to_xy(log.lat_deg, log.lon_deg)
    n = len(log)
    vx, vy, weight = np.zeros(n), np.zeros(n), np.zeros(n)
    if log.speed_mps is not None and log.heading_deg is not None:
        # A receiver at rest may leave the heading out; its speed alone says that it stands.
        heading = np.radians(np.where(log.speed_mps < _STILL_MPS, 0.0, log.heading_deg))
        logged = np.isfinite(log.speed_mps) & np.isfinite(heading)
        speed = np.where(logged, log.speed_mps, 0.0)
        still = speed < _STILL_MPS
        vx = np.where(still, 0.0, speed * np.sin(np.where(logged, heading, 0.0)))
        vy = np.where(still, 0.0, speed * np.cos(np.where(logged, heading, 0.0)))
        mistrust = np.where(still, speed / _STILL_MISTRUST_MPS, 0.0)
        weight = np.where(logged, 1.0 / (1.0 + mistrust**2), 0.0)
        used_deg = np.where(still | ~logged, np.nan, log.heading_deg)
        weight *= _rounded_weight(log.time_s, used_deg, speed)
        weight[_frozen(used_deg, speed)] = 0.0
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


def _frozen(heading_deg: FloatArray, speed_mps: FloatArray) -> np.ndarray:
    """Which headings a receiver went on writing when it no longer measured any, ``(n,)``.

    At the pace of a pit lane a measured heading is noisy by half a degree and more, so that one written to a tenth or
    finer does not stay the same from fix to fix. Headings in whole degrees do, and are not judged.

    Args:
        heading_deg: as logged; NaN where it is not used, ``(n,)``.
        speed_mps: m/s, ``(n,)``.
    """
    slow = speed_mps < _FREEZES_MPS
    if _in_whole_degrees(heading_deg):
        return np.zeros(len(slow), dtype=bool)
    run = np.cumsum(np.diff(heading_deg, prepend=np.nan) != 0.0)
    return slow & np.isfinite(heading_deg) & (np.bincount(run)[run] >= _FROZEN_FIXES)


def _in_whole_degrees(heading_deg: FloatArray) -> bool:
    """Whether headings, NaN where not used, were written in whole degrees, or there is none."""
    known = heading_deg[np.isfinite(heading_deg)]
    return len(known) == 0 or bool(np.mean(known == np.round(known)) >= _WHOLE)


def _rounded_weight(
    time_s: FloatArray, heading_deg: FloatArray, speed_mps: FloatArray
) -> FloatArray:
    """Weights ``(n,)`` of velocities whose headings were written in whole degrees; 1 where they were not.

    As long as the written heading stays the same, so does its rounding error: on a straight at 50 m/s up to 0.4 m/s to the
    side, which further fixes with the same heading do not reduce. So a run of them has the weight of one, as far as
    rounding is what they err by. In a bend the error changes from fix to fix and averages out.

    Args:
        time_s: times of the fixes, seconds, ``(n,)``.
        heading_deg: as logged; NaN where it is not used, ``(n,)``.
        speed_mps: m/s, ``(n,)``.
    """
    if not np.any(np.isfinite(heading_deg)) or not _in_whole_degrees(heading_deg):
        return np.ones(len(heading_deg))
    starts = np.concatenate([[True], heading_deg[1:] != heading_deg[:-1]])
    run = np.cumsum(starts) - 1
    lasted_s = np.diff(time_s[starts], append=time_s[-1])[run]
    alike = np.where(lasted_s < _TURNS_S, 1, np.bincount(run)[run])
    # Variance of the rounding error, in variances of one velocity's other noise.
    rounding = np.square(speed_mps * np.radians(1.0) / _OTHER_MPS) / 12.0
    return (1.0 + rounding) / (1.0 + alike * rounding)


def velocity_lag_s(seen: Observed) -> float:
    """How late the logged velocity is compared with the positions, seconds; 0 when that cannot be told.

    Displacements over a few fixes are velocities of the positions' own. The lag is that at which the logged velocities
    agree with them best (parabola through the best three of a grid). Lags below 40 ms are taken as none.
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
    """Median squared difference of displacements' velocities and logged ones, m²/s², for each lag of :data:`_LAGS_S`."""

    @cache
    def logged_at(steps: int) -> np.ndarray:
        return np.interp(moved.middle_s + _STEP_S * steps, logged_s, logged_mps)

    costs = []
    for lag in np.round(_LAGS_S / _STEP_S).astype(int):
        # A displacement averages the velocity over its span, and a weighted mean of three points does nearly the same.
        before, at, after = (logged_at(lag + aside) for aside in (-_ASIDE, 0, _ASIDE))
        off = 0.25 * before + 0.5 * at + 0.25 * after - moved.mean_mps
        costs.append(np.median(np.square(off.real) + np.square(off.imag)))
    return np.array(costs)


def without_lag(seen: Observed, lag_s: float) -> Observed:
    """The same observations with every velocity dated back by the lag."""
    return replace(seen, velocity_time_s=seen.time_s - lag_s) if lag_s else seen


def knots_for(seen: Observed) -> Knots:
    """Knots that cover the fixes, with some room at both ends."""
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
