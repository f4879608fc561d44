"""Rows that repeat an old position: of loggers faster than their receiver, or whose receiver gives nothing new."""

from __future__ import annotations

import numpy as np

from lapkit.arrays import BoolArray, FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, offsets_m, step_deg
from lapkit.importer.unmeasured import FEWEST_FIXES, only_ridden

# Positions are written in steps. Where the next one is more steps away than this, the rider was moving.
_STEPS_MOVED = 5.0
_MOVING_MPS = 1.5  # faster than a walk, and than a receiver that stands seems to move
# Fewer runs of equal rows than these are chance.
_FEWEST_RUNS = 20
_LEAST_SHARE_OF_RUNS = 0.1  # of those in which he moves
_STALE_M = 2.0  # a row that lies no farther behind is within the noise of positions
_NO_GAP_STEPS = 2.5  # of the usual length: nobody saw how he rode across a longer one


def fresh_rows(time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray) -> BoolArray:
    """Which rows hold a position of their own, and not the one before written once more; ``(n,)``.

    While the rider moves, only the first row of each run of equal positions is fresh, provided that
    there are many such runs. When those runs have a common length (1 Hz fixes written at 10 Hz), the runs
    in which he stands are thinned too, so that the rate stays even.

    Args:
        time_s, lat_deg, lon_deg: shape ``(n,)``; times increase.
    """
    count = len(time_s)
    changes = (lat_deg[1:] != lat_deg[:-1]) | (lon_deg[1:] != lon_deg[:-1])
    if changes.all():
        return np.ones(count, dtype=bool)
    starts = np.concatenate([[0], np.flatnonzero(changes) + 1])
    lengths = np.diff(np.append(starts, count))
    moving = _moves_on(time_s[starts], lat_deg[starts], lon_deg[starts], step_deg(lat_deg, lon_deg))
    # A rider who starts off leaves a run behind too; only what happens time and again is the logger's doing.
    repeated = np.count_nonzero(lengths[moving] > 1)
    if repeated < max(_FEWEST_RUNS, _LEAST_SHARE_OF_RUNS * np.count_nonzero(moving)):
        return np.ones(count, dtype=bool)
    # How many rows are written for each fix of the receiver, and the place of each row in its run.
    rhythm = int(np.median(lengths[moving]))
    in_run = np.arange(count) - np.repeat(starts, lengths)
    left_in_run = np.repeat(lengths, lengths) - in_run
    # Of a standing run the last few rows would come too soon before the next fresh row.
    in_rhythm = (in_run % rhythm == 0) & (2 * left_in_run >= rhythm)
    standing = ~np.repeat(moving, lengths)
    return (in_run == 0) | (standing & in_rhythm)


def stalled_rows(
    time_s: FloatArray,
    lat_deg: FloatArray,
    lon_deg: FloatArray,
    speed_mps: FloatArray,
    heading_deg: FloatArray,
) -> BoolArray:
    """Which rows were written on while the receiver gave nothing new and the rider rode on; ``(n,)``.

    They repeat the row before in all that is given here, and the next new row lies as far off as only riding brings
    it. One such run is enough to be told by.

    Args:
        time_s, lat_deg, lon_deg: shape ``(n,)``; times increase.
        speed_mps, heading_deg: as logged, NaN where there is none, ``(n,)`` each.
    """
    count = len(time_s)
    again = np.ones(max(count - 1, 0), dtype=bool)
    for values in (lat_deg, lon_deg, speed_mps, heading_deg):
        again &= (values[1:] == values[:-1]) | (np.isnan(values[1:]) & np.isnan(values[:-1]))
    if count < FEWEST_FIXES or not again.any():
        return np.zeros(count, dtype=bool)
    starts = np.concatenate([[0], np.flatnonzero(~again) + 1])
    lengths = np.diff(np.append(starts, count))
    step_s = np.diff(time_s)
    # Behind the last row of each run; behind the last run comes nothing.
    to_next_s = np.append(step_s, np.inf)[starts + lengths - 1]
    away_m = np.append(np.hypot(*offsets_m(lat_deg[starts], lon_deg[starts])), 0.0)
    lasted_s = np.append(np.diff(time_s[starts]), np.inf)
    ridden = only_ridden(away_m, lasted_s) & (away_m * (1.0 - 1.0 / lengths) > _STALE_M)
    ridden &= to_next_s < _NO_GAP_STEPS * np.median(step_s)
    return np.repeat(ridden, lengths) & np.concatenate([[False], again])


def _moves_on(
    time_s: FloatArray, lat_deg: FloatArray, lon_deg: FloatArray, written_in_deg: float
) -> BoolArray:
    """In which runs of equal positions the rider was moving, by how far off the next run is; ``(runs,)``.

    Of the last run nobody knows; it counts as standing.

    Args:
        time_s, lat_deg, lon_deg: of the first row of each run, ``(runs,)``.
        written_in_deg: step in which positions were written, degrees; NaN when too fine to see.
    """
    away_m = np.hypot(*offsets_m(lat_deg, lon_deg))
    by_steps_m = 0.0
    if not np.isnan(written_in_deg):
        by_steps_m = _STEPS_MOVED * written_in_deg * METRES_PER_DEGREE
    moving = np.zeros(len(time_s), dtype=bool)
    moving[:-1] = away_m > np.maximum(by_steps_m, _MOVING_MPS * np.diff(time_s))
    return moving
