"""Riders' paths sampled by distance and matched with a line: the basis on which a course is found.

Samples lie every few metres of path, so that a slow stretch counts no more than a fast one and a stop counts
nothing. Places are compared together with directions, which puts the other leg of a hairpin far away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from lapkit.arrays import FloatArray
from lapkit.curvature import path_length_m

STEP_M = 3.0
"""Distance between samples along a path, metres."""

NEAR_M = 20.0
"""A rider who is this close to a line and heads its way is riding it, metres (our choice)."""

TURNED_M = 30.0
"""Metres that a radian of heading counts for where places are compared together with directions."""

_STANDING_MPS = 0.8  # slower than a walk: the machine stands, whatever the receiver's noise
_STANDING_SHARE = 0.15  # of the usual speed: pushing and turning round are not riding (our choice)
_GAP_S, _GAP_M = 5.0, 60.0  # missing at once: the path in between is unknown (our choice)
_CHORD = 2  # samples each way: over 12 m the noise of places turns a direction by a few degrees
# Under a bridge and on a hairpin’s other leg he heads another way (our choice).
_SAME_WAY = np.cos(np.radians(45.0))


class Ride(NamedTuple):
    """The smoothed path of one log in time order; arrays ``(n,)``.

    ``time_s`` is on the log's clock, ``x_m`` and ``y_m`` are metres east and north, ``speed_mps`` is in m/s.
    """

    time_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    speed_mps: FloatArray


@dataclass(frozen=True, eq=False)
class Samples:
    """Evenly spaced points of all paths, in the order in which they were ridden; arrays over ``n`` points.

    Attributes:
        xy_m: metres east and north, ``(n, 2)``.
        toward: unit vectors in the direction of riding, ``(n, 2)``.
        speed_mps: speed, m/s.
        distance_m: metres ridden on the path before.
        path: number of the path.
        stretch: number of the unbroken stretch.
    """

    xy_m: FloatArray
    toward: FloatArray
    speed_mps: FloatArray
    distance_m: FloatArray
    path: np.ndarray
    stretch: np.ndarray

    def __len__(self) -> int:
        return len(self.path)


def sample(paths: Sequence[Ride]) -> Samples:
    """Sample paths every :data:`STEP_M` of distance, without stops and not across gaps in a log."""
    pieces = []
    stretch = 0
    for number, path in enumerate(paths):
        ridden = 0.0
        for part in _stretches(path):
            along = path_length_m(part.x_m, part.y_m)
            at = np.arange(0.0, along[-1], STEP_M)
            if len(at) <= 2 * _CHORD:
                continue
            xy = np.stack([np.interp(at, along, axis) for axis in (part.x_m, part.y_m)], axis=-1)
            ones = np.ones(len(at), dtype=int)
            pace = np.interp(at, along, part.speed_mps)
            pieces.append((xy, _toward(xy), pace, ridden + at, number * ones, stretch * ones))
            ridden += along[-1] + 1.0
            stretch += 1
    if not pieces:
        empty = np.empty(0)
        return Samples(np.empty((0, 2)), np.empty((0, 2)), empty, empty, empty, empty)
    return Samples(*(np.concatenate(columns) for columns in zip(*pieces, strict=True)))


def _stretches(path: Ride) -> list[Ride]:
    """The moving fixes of a path, divided at gaps in the log."""
    speed = path.speed_mps
    moving = speed > _STANDING_MPS
    if np.any(moving):
        moving = speed > max(_STANDING_MPS, _STANDING_SHARE * float(np.median(speed[moving])))
    moved = np.hypot(np.diff(path.x_m), np.diff(path.y_m))
    gap = (np.diff(path.time_s) > _GAP_S) & (moved > _GAP_M)
    number = np.concatenate([[0], np.cumsum(gap)])
    stretches = []
    for piece in range(number[-1] + 1):
        chosen = moving & (number == piece)
        if np.count_nonzero(chosen) > 1:
            stretches.append(Ride(*(channel[chosen] for channel in path)))
    return stretches


@dataclass(frozen=True, eq=False)
class Template:
    """A line to compare rides with: points ``(m, 2)`` about :data:`STEP_M` apart, closed or open."""

    xy_m: FloatArray
    closed: bool

    @cached_property
    def toward(self) -> FloatArray:
        """Unit vectors along it, shape ``(m, 2)``."""
        xy = self.xy_m
        if not self.closed:
            return _toward(xy)
        around = np.concatenate([xy[-_CHORD:], xy, xy[:_CHORD]])
        return _toward(around)[_CHORD:-_CHORD]

    @cached_property
    def _tree(self) -> cKDTree:
        return cKDTree(np.concatenate([self.xy_m, TURNED_M * self.toward], axis=1))

    def match(
        self, xy_m: FloatArray, toward: FloatArray, near_m: float = NEAR_M
    ) -> tuple[np.ndarray, FloatArray]:
        """The template's point beside each of ``n`` places ``(n, 2)`` that were ridden in a direction ``(n, 2)``.

        Returns:
            Its index, −1 where the template is not ridden there, and the offset to its left, metres; ``(n,)`` each.
        """
        index = self._tree.query(np.concatenate([xy_m, TURNED_M * toward], axis=1))[1]
        away, ahead = xy_m - self.xy_m[index], self.toward[index]
        offset = ahead[:, 0] * away[:, 1] - ahead[:, 1] * away[:, 0]
        same_way = np.sum(ahead * toward, axis=1) > _SAME_WAY
        on_line = same_way & (np.hypot(*away.T) < near_m)
        return np.where(on_line, index, -1), offset


def _toward(xy_m: FloatArray) -> FloatArray:
    """Unit vectors along points in order, each over a chord about its point, ``(n, 2)``."""
    ends = np.clip(np.arange(len(xy_m))[:, None] + [-_CHORD, _CHORD], 0, len(xy_m) - 1)
    chord = xy_m[ends[:, 1]] - xy_m[ends[:, 0]]
    return chord / np.maximum(np.hypot(*chord.T), 1e-9)[:, None]
