"""The usual lap: the loop that paths repeat, and the middle of all the rides round it.

A loop is recognised by repetition: the same place is passed in the same direction one lap length later. Where
nothing repeats the course is open: a single pass, or the middle of several.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.course.rides import STEP_M, Samples, Template
from lapkit.course.smoothing import Smooth, smooth_even
from lapkit.curvature import path_length_m
from lapkit.errors import TrackError

SHORTEST_LOOP_M = 120.0
"""No lap is shorter, metres (our choice)."""

_CELL_M, _SECTORS = 20.0, 8  # cells and directions that count as the same (our choice)
_SAME_LENGTH = 0.04  # share by which laps of one loop differ at most in length (our choice)
_FEWEST_RETURNS = 3  # to the same place: one or two happen by chance
_LEAST_SHARE = 0.25  # of everything ridden, so that two turns of the paddock make no course
_LEAST_ROUNDS = 1.5  # laps ridden: a path that meets itself is no loop unless it is ridden on
_CANDIDATES, _THINNED = 16, 5  # laps tried; each is compared with every fifth sample
_CLOSES_WITHIN = 10  # samples, or 30 m: a lap's end is looked for within this many of a return
_ROUNDS = 3  # each takes the middle of the rides along the line; the third moves it by 2 cm rms
_WAVES_M = (16.0, 24.0, 36.0, 54.0, 80.0, 120.0)  # of smoothing, tried in turn
_ONE_RIDE_WAVE_M = 36.0  # of smoothing a single ride, which has no halves to compare (our choice)
_CLEAR = 0.12  # noise of curvature over the course's own that is small enough (our choice)
# A loop of which this share runs this near to the rest of it, the other way, is one road ridden up and down.
_THERE_AND_BACK, _SAME_ROAD_M = 0.6, 8.0


@dataclass(frozen=True, eq=False)
class UsualLap:
    """The usual lap or pass: smoothed points, metres, ``(m, 2)``, and the usual speed at each, m/s, ``(m,)``."""

    xy_m: FloatArray
    speed_mps: FloatArray
    closed: bool


def usual_lap(samples: Samples) -> UsualLap:
    """The middle of the rides along the loop that samples repeat, or else along the longest ride.

    Raises:
        TrackError: hardly anything was ridden.
    """
    if len(samples) * STEP_M < SHORTEST_LOOP_M:
        raise TrackError(
            "the logs hold no ride long enough to find a course from",
            remedy=f"At least {SHORTEST_LOOP_M:g} m have to be ridden.",
        )
    template = _loop(samples)
    if template is None:
        template = _longest_stretch(samples)
    elif (single := _one_way(samples, template)) is not None:
        template = single
    for _ in range(_ROUNDS):
        lap = _middle(samples, template)
        template = Template(lap.xy_m, lap.closed)
    return lap


def _loop(samples: Samples) -> Template | None:
    """One lap of the loop ridden most, closed; None when nothing is ridden again and again."""
    first, second, lag = _returns(samples)
    if len(lag) == 0:
        return None
    ordered = np.sort(lag)
    longer = np.searchsorted(ordered, ordered * (1.0 + _SAME_LENGTH))
    shorter = np.searchsorted(ordered, ordered * (1.0 - _SAME_LENGTH))
    usual = ordered[np.argmax(longer - shorter)]
    chosen = np.flatnonzero(
        (np.abs(lag - usual) < _SAME_LENGTH * usual)
        & (samples.stretch[first] == samples.stretch[second])
    )
    if len(chosen) < _FEWEST_RETURNS:
        return None
    best, most = None, _LEAST_SHARE * len(samples)
    for pick in chosen[np.linspace(0, len(chosen) - 1, _CANDIDATES).astype(int)]:
        template = _closed(samples, int(first[pick]), int(second[pick]))
        thin = slice(None, None, _THINNED)
        on_line = template.match(samples.xy_m[thin], samples.toward[thin])[0] >= 0
        count = _THINNED * int(np.count_nonzero(on_line))
        if count > max(most, _LEAST_ROUNDS * len(template.xy_m)):
            best, most = template, count
    return best


def _returns(samples: Samples) -> tuple[np.ndarray, np.ndarray, FloatArray]:
    """Returns to a cell in the same direction: indices of both samples, and metres ridden in between."""
    cell = np.floor(samples.xy_m / _CELL_M).astype(int)
    angle = np.arctan2(samples.toward[:, 1], samples.toward[:, 0])
    sector = np.floor((angle / (2.0 * np.pi) + 0.5) * _SECTORS).astype(int) % _SECTORS
    keys = (samples.distance_m, samples.path, sector, cell[:, 1], cell[:, 0])
    order = np.lexsort(keys)
    same = np.ones(len(order) - 1, dtype=bool)
    for key in keys[1:]:
        same &= np.diff(key[order]) == 0
    lag = np.diff(samples.distance_m[order])
    again = np.flatnonzero(same & (lag > SHORTEST_LOOP_M))
    return order[again], order[again + 1], lag[again]


def _closed(samples: Samples, first: int, second: int) -> Template:
    """The lap between two visits to a place, with its ends joined."""
    near = np.arange(max(second - _CLOSES_WITHIN, first + 2), second + _CLOSES_WITHIN + 1)
    near = near[near < len(samples)]
    near = near[samples.stretch[near] == samples.stretch[first]]
    away = samples.xy_m[near] - samples.xy_m[first]
    last = int(near[np.argmin(np.hypot(*away.T))])
    share = np.linspace(0.0, 1.0, last - first, endpoint=False)[:, None]
    xy = samples.xy_m[first:last] + share * (samples.xy_m[first] - samples.xy_m[last])
    return Template(xy, True)


def _one_way(samples: Samples, loop: Template) -> Template | None:
    """The faster direction of a loop that is one road, ridden up and down again; None for any other loop."""
    index, _ = loop.match(loop.xy_m, -loop.toward, _SAME_ROAD_M)
    met = np.flatnonzero(index >= 0)
    count = len(index)
    if len(met) < _THERE_AND_BACK * count:
        return None
    # A point and its counterpart on the way back lie as far before the turn as after it.
    turn = np.angle(np.mean(np.exp(2j * np.pi * (met + index[met]) / count))) / (2 * np.pi) * count
    rolled = np.roll(np.arange(count), -round(0.5 * float(turn)))
    ways = [Template(loop.xy_m[half], False) for half in np.array_split(rolled, 2)]

    def pace(way: Template) -> float:
        on_way = way.match(samples.xy_m, samples.toward)[0] >= 0
        return float(np.median(samples.speed_mps[on_way])) if np.any(on_way) else 0.0

    return max(ways, key=pace)


def _longest_stretch(samples: Samples) -> Template:
    """The longest unbroken ride, as an open course."""
    longest = np.argmax(np.bincount(samples.stretch))
    return Template(samples.xy_m[samples.stretch == longest], False)


def _middle(samples: Samples, template: Template) -> UsualLap:
    """The middle of all rides along a template, smoothed and evenly spaced."""
    index, offset = template.match(samples.xy_m, samples.toward)
    on_line = index >= 0
    ride = _ride_numbers(samples, index, len(template.xy_m))[on_line]
    rides = pd.DataFrame(
        {"at": index[on_line], "offset": offset[on_line], "speed": samples.speed_mps[on_line]}
    )
    middle = _median(rides, template)
    halves = [rides[ride % 2 == parity] for parity in (0, 1)]
    both = all(len(half) > 0.5 * len(template.xy_m) for half in halves)
    offsets = [_median(half, template)["offset"].to_numpy() for half in halves if both]
    smooth = _smooth(template, middle["offset"].to_numpy(), offsets)
    return _even(smooth.values, middle["speed"].to_numpy(), template.closed)


def _ride_numbers(samples: Samples, index: np.ndarray, count: int) -> np.ndarray:
    """Number of the lap or pass that each sample belongs to, ``(n,)``."""
    latest = pd.Series(np.where(index >= 0, index, np.nan)).ffill().bfill().to_numpy()
    anew = (np.diff(latest) < -0.5 * count) | (np.diff(samples.stretch) != 0)
    return np.concatenate([[0], np.cumsum(anew)])


def _median(rides: pd.DataFrame, template: Template) -> pd.DataFrame:
    """Median of the rides at each point of the template, interpolated where none passed."""
    count = len(template.xy_m)
    known = rides.groupby("at").median()
    period = count if template.closed else None
    return pd.DataFrame(
        {
            name: np.interp(np.arange(count), known.index, known[name], period=period)
            for name in known
        }
    )


def _smooth(template: Template, offset: FloatArray, halves: list[FloatArray]) -> Smooth:
    """The middle of the rides, smoothed until two halves of the rides agree on its curvature."""

    def smoothed(to_left: FloatArray, wave_m: float) -> Smooth:
        left = np.stack([-template.toward[:, 1], template.toward[:, 0]], axis=-1)
        points = template.xy_m + to_left[:, None] * left
        return smooth_even(points, STEP_M, template.closed, wave_m, wave_m)

    if not halves:
        return smoothed(offset, _ONE_RIDE_WAVE_M)
    for wave in _WAVES_M:
        smooth = smoothed(offset, wave)
        one, other = (_curvature(smoothed(half, wave)) for half in halves)
        noise = 0.5 * np.sqrt(np.mean(np.square(one - other)))
        if noise < _CLEAR * np.percentile(np.abs(_curvature(smooth)), 95.0):
            break
    return smooth


def _curvature(line: Smooth) -> FloatArray:
    """Curvature of a smoothed line, 1/m, left positive, ``(n,)``."""
    dx, dy = line.first.T
    ddx, ddy = line.second.T
    return (dx * ddy - dy * ddx) / np.maximum(np.hypot(dx, dy), 1e-3) ** 3


def _even(xy_m: FloatArray, speed: FloatArray, closed: bool) -> UsualLap:
    """Points and speeds at even steps of about :data:`STEP_M`."""
    ends = np.concatenate([xy_m, xy_m[:1]]) if closed else xy_m
    pace = np.concatenate([speed, speed[:1]]) if closed else speed
    along = path_length_m(*ends.T)
    steps = max(int(np.round(along[-1] / STEP_M)), 8)
    at = np.linspace(0.0, along[-1], steps + 1)[: steps if closed else None]
    even = np.stack([np.interp(at, along, axis) for axis in ends.T], axis=-1)
    return UsualLap(even, np.interp(at, along, pace), closed)
