"""From a log to observations on the plane: its positions, and what of its velocities can be believed."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.plane import Plane
from lapkit.importer.log import Log
from lapkit.path.model import Observed

_STILL_MPS = 1.0  # below walking pace
# Logged speed at which a velocity taken as zero has half its precision (our choice).
_STILL_MISTRUST_MPS = 0.3
# Receivers that freeze the heading when slow do so below three or four (our choice).
_FREEZES_MPS = 5.0
_FROZEN_FIXES = 3  # in a row with the same heading to the last digit
_WHOLE = 0.99  # of headings are whole degrees where they were rounded; a few others may have been mended by hand
_TURNS_S = 0.6  # a written heading that lasts no longer is one of a bend (our choice)
_OTHER_MPS = 0.1  # noise of velocities apart from rounding (our choice)


def observe_log(log: Log, plane: Plane) -> Observed:
    """Fixes of a log on the plane: positions with weight 1, velocities with weight 0 where none is logged.

    Below walking pace many receivers freeze or spin the heading. There the velocity is taken to be zero, and to be known
    to about the logged speed. Faster than that a frozen heading is told from a measured one, and its velocity left out.
    """
    x, y = plane.to_xy(log.lat_deg, log.lon_deg)
    vx, vy, weight = _velocities(log)
    return Observed(
        time_s=log.time_s,
        x_m=x,
        y_m=y,
        position_weight=np.ones(len(log)),
        velocity_time_s=log.time_s,
        vx_mps=vx,
        vy_mps=vy,
        velocity_weight=weight,
    )


def _velocities(log: Log) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Velocities east and north, m/s, and their weights, as in :func:`observe_log`, ``(n,)`` each."""
    if log.speed_mps is None or log.heading_deg is None:
        vx, vy, weight = np.zeros((3, len(log)))
        return vx, vy, weight
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
    return vx, vy, weight


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
    """Whether headings, NaN where not used, were written in whole degrees; true also without any heading."""
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
