"""Which leg of a line a path is on: the stations of fixes in time order, lap after lap.

Where two legs of the course run side by side, touch or cross, a fix alone cannot tell which of them it is on.
So every few metres of path the nearby legs are candidates. Dynamic programming (Viterbi) finds the chain of
candidates that best fits the distance ridden, the direction of riding and the distance from the line.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.curvature import path_length_m

if TYPE_CHECKING:
    from lapkit.course.stations import StationLine

FURTHER_M = 25.0
"""A leg further away than the nearest one by more than this is no candidate, metres (our choice)."""

ON_COURSE_M = 20.0
"""A rider nearer to the line than this is on the course, metres (our choice)."""

_THIN_M = 10.0  # metres of path from one decision about the leg to the next
_NEIGHBOURS = 12  # points searched for legs, three for each
_LEGS = 4  # candidates at one place, at most
# Being this far off a leg costs one: half a track and a receiver's bias (our choice).
_OFFSET_SCALE_M = 8.0
_FAR_COST = 4.0  # beyond about this cost the rider is off course, and distance matters little more
# Advancing along the leg by this much more or less than was ridden costs one (our choice).
_TRAVEL_SCALE_M = 6.0
_TRAVEL_SHARE = 0.2  # of the metres ridden, added to that scale: insides of bends are shorter
_JUMP_COST = 12.0  # leaving the course and coming back elsewhere is possible, but expensive
_AGAINST_COST = 3.0  # so is riding against the line
_GAP_M = 50.0  # between two places that should be ten metres apart: the log has a gap


class Legs(NamedTuple):
    """The legs near each of m places, those that exist (``valid``) first; arrays ``(m, legs)``."""

    station_m: FloatArray
    distance_m: FloatArray
    valid: np.ndarray


def follow(line: StationLine, x: FloatArray, y: FloatArray) -> FloatArray:
    """Rough unwrapped stations of a path in time order, right to some metres; shape ``(n,)``."""
    if len(x) == 0:
        return np.zeros(0)
    travelled = path_length_m(x, y)
    chosen = _thinned(travelled)
    at = np.stack([x[chosen], y[chosen]], axis=-1)
    legs = legs_near(line, at)
    far = np.square(legs.distance_m / _OFFSET_SCALE_M)
    cost = np.minimum(far, _FAR_COST + np.sqrt(np.sqrt(far))) + _against(line, at, legs.station_m)
    cost[~legs.valid] = np.inf
    picked = _best_chain(cost, legs, np.hypot(*np.diff(at, axis=0).T), line)
    station = np.take_along_axis(legs.station_m, picked[:, None], axis=1)[:, 0]
    distance = np.take_along_axis(legs.distance_m, picked[:, None], axis=1)[:, 0]
    return _filled(travelled, travelled[chosen], _unwrapped(line, at, station, distance))


def _thinned(travelled: FloatArray) -> np.ndarray:
    """Indices of the fixes at which the leg is decided: one every ten metres, and the last."""
    chosen = np.flatnonzero(np.diff(np.floor(travelled / _THIN_M), prepend=-1.0) > 0)
    last = len(travelled) - 1
    return chosen if chosen[-1] == last else np.append(chosen, last)


def legs_near(line: StationLine, at: FloatArray) -> Legs:
    """The nearest point of every leg of a line near places of shape ``(m, 2)``."""
    index, tree = line.coarse
    near, first = tree.query(at)
    which = np.repeat(first[:, None], _LEGS, axis=1)
    valid = np.zeros(which.shape, dtype=bool)
    valid[:, 0] = True
    # Far from every other leg there is nothing to decide, which saves most of the search.
    unsure = np.flatnonzero(~line.lonely[first] | (near > ON_COURSE_M))
    which[unsure], valid[unsure] = _several(line, at[unsure])
    # Mostly no place has as many legs as there is room for.
    most = np.count_nonzero(valid.any(axis=0))
    which, valid = which[:, :most], valid[:, :most]
    vertex = index[which]
    east, north = at[:, :1] - line.x_m[vertex], at[:, 1:] - line.y_m[vertex]
    cos, sin = np.cos(line.heading_rad[vertex]), np.sin(line.heading_rad[vertex])
    along = np.clip(east * cos + north * sin, -line.coarse_step_m, line.coarse_step_m)
    distance = np.hypot(east - along * cos, north - along * sin)
    return Legs(line.station_m[vertex] + along, distance, valid)


def _several(line: StationLine, at: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Coarse points that are the nearest of their leg, and which of the entries are such; ``(m, legs)``."""
    _, tree = line.coarse
    n = tree.n
    near, which = tree.query(at, k=np.arange(1, _NEIGHBOURS + 1))
    lowest = near <= near[:, :1] + FURTHER_M
    which = np.where(lowest, which, 0)  # the tree pads with an index that does not exist
    for step in (-1, 1):
        other = (which + step) % n if line.closed else np.clip(which + step, 0, n - 1)
        beside = tree.data[other] - at[:, None, :]
        lowest &= near <= np.hypot(beside[..., 0], beside[..., 1])
    order = np.argsort(~lowest, axis=1, kind="stable")[:, :_LEGS]
    return np.take_along_axis(which, order, axis=1), np.take_along_axis(lowest, order, axis=1)


def _against(line: StationLine, at: FloatArray, station: FloatArray) -> FloatArray:
    """Cost of riding across or against the line at each candidate; lower where the path is short."""
    chord = _directions(at)
    length = np.hypot(*chord.T)[:, None]
    heading = line.heading_at(station)
    along = chord[:, :1] * np.cos(heading) + chord[:, 1:] * np.sin(heading)
    agrees = along / np.maximum(length, 1.0)
    return _AGAINST_COST * 0.5 * np.minimum(length / _THIN_M, 1.0) * (1.0 - agrees)


def _directions(at: FloatArray) -> FloatArray:
    """Half the vector from the place before to the next one, metres, shape ``(m, 2)``.

    Across a gap in the log it says nothing, so there only the other side of the place is used.
    """
    if len(at) < 2:
        return np.zeros_like(at)
    step = np.diff(at, axis=0)
    gap = np.hypot(step[:, 0], step[:, 1]) > _GAP_M
    before, after = np.vstack([step[:1], step]), np.vstack([step, step[-1:]])
    gap_before, gap_after = np.append(gap[:1], gap)[:, None], np.append(gap, gap[-1:])[:, None]
    chord = np.where(gap_before & ~gap_after, after, 0.5 * (before + after))
    return np.where(gap_after & ~gap_before, before, chord)


def _best_chain(cost: FloatArray, legs: Legs, step_m: FloatArray, line: StationLine) -> np.ndarray:
    """Index of the candidate picked at each place: the chain of least total cost."""
    picked = np.zeros(len(cost), dtype=int)
    unsure = np.flatnonzero(np.count_nonzero(legs.valid, axis=1) > 1)
    if len(unsure) == 0:
        return picked
    # A place with one candidate cuts the chain: what lies before it has no bearing on what comes after.
    for run in np.split(unsure, np.flatnonzero(np.diff(unsure) > 1) + 1):
        first, last = max(run[0] - 1, 0), min(run[-1] + 1, len(cost) - 1)
        part = slice(first, last + 1)
        station = legs.station_m[part]
        ahead = np.abs(line.way(station[1:, None, :] - station[:-1, :, None]))
        step = step_m[first:last, None, None]
        move = np.square((ahead - step) / (_TRAVEL_SCALE_M + _TRAVEL_SHARE * step))
        picked[part], _ = best_path(cost[part], np.minimum(move, _JUMP_COST))
    return picked


def best_path(cost: FloatArray, move: FloatArray) -> tuple[np.ndarray, float]:
    """The chain of candidates of least total cost, ``(m,)``, and that cost (Viterbi's algorithm).

    Args:
        cost: cost of each candidate at each place, ``(m, k)``; infinite where there is none.
        move: cost of going from each candidate of a place to each of the next, ``(m - 1, k, k)``.
    """
    score = cost[0]
    came_from = np.zeros(cost.shape, dtype=int)
    for i, step in enumerate(move, start=1):
        total = score[:, None] + step
        came_from[i] = total.argmin(axis=0)
        score = total.min(axis=0) + cost[i]
    picked = np.empty(len(cost), dtype=int)
    picked[-1] = score.argmin()
    for i in range(len(cost) - 1, 0, -1):
        picked[i - 1] = came_from[i, picked[i]]
    return picked, float(score.min())


def _unwrapped(
    line: StationLine, at: FloatArray, station: FloatArray, distance: FloatArray
) -> FloatArray:
    """Stations that keep growing lap after lap."""
    if not line.closed:
        return station
    step = line.way(np.diff(station))
    length = np.hypot(*np.diff(at, axis=0).T)
    # Across a gap in the log the rider went on and did not turn round. A wild fix also makes a long
    # step, but it lies off course and the step back undoes it.
    on_course = distance < ON_COURSE_M
    gap = (length > _GAP_M) & on_course[1:] & on_course[:-1] & (step < -_GAP_M)
    step = np.where(gap, step + line.length_m, step)
    return np.mod(station[0], line.length_m) + np.concatenate([[0.0], np.cumsum(step)])


def _filled(travelled: FloatArray, at: FloatArray, station: FloatArray) -> FloatArray:
    """Stations of all fixes from those that were decided; a jump to another leg falls halfway between two of them."""
    between = np.interp(travelled, at, station)
    jump = np.abs(np.abs(np.diff(station)) - np.diff(at)) > 3.0 * _THIN_M
    if not np.any(jump):
        return between
    before = np.clip(np.searchsorted(at, travelled, side="right") - 1, 0, len(at) - 2)
    later = travelled - at[before] > 0.5 * (at[before + 1] - at[before])
    return np.where(jump[before], station[before + later], between)
