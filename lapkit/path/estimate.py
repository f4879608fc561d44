"""Solve a log: outliers out, noise found, antenna and mass path told apart, roughness by place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np
from scipy.linalg.lapack import dtbtrs

from lapkit.errors import PathError
from lapkit.path.model import (
    STATES,
    Attitude,
    Gram,
    Noise,
    Observed,
    Solution,
    position_gram,
    smooth_band,
    solve,
    velocity_gram,
)
from lapkit.path.noise import START, Stretch, find_noise, local_roughness
from lapkit.path.spline import SUPPORT, Knots
from lapkit.units import FloatArray

SPACING_S = 0.2
"""Knot spacing, seconds; half a fix interval more where fixes come slower than that."""

Load = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]
"""Gravity felt by the wheels, m/s², at times of the path: (x, y, speed) → load."""

T = TypeVar("T", Observed, Attitude)

_OVER_S = {True: 0.5, False: 1.0}
# A rider's spectrum is not exactly that of white snap: how much rougher than the likelihood says the prior
# must be for 95 % intervals to hold, over riders smooth and rough, depends on what the receiver sees.
_ROUGHER = {True: 1.0, False: 1.25}
_ROUNDS = 3
_STRETCH_S = 150.0
_MOVING_MPS = 4.0
_FILTERED_STEP_S = 0.5  # positions alone, this slow or slower, are a phone's or a watch's


@dataclass(frozen=True, eq=False)
class Estimate:
    """The posterior of a log, the noise it was found under, and what was left out as wild."""

    solution: Solution
    noise: Noise
    seen: Observed
    has_velocity: bool
    wild: np.ndarray


def knots_for(time_s: FloatArray) -> Knots:
    """Knots that cover the times with a little room at both ends."""
    step = float(np.median(np.diff(time_s)))
    spacing = SPACING_S if step <= 0.3 else 0.5 * step
    start = float(time_s[0]) - 0.5 - spacing
    return Knots(start, spacing, int(np.ceil((time_s[-1] + 0.5 - start) / spacing)))


def values(knots: Knots, coefficients: FloatArray, time_s: FloatArray, order: int) -> FloatArray:
    """A derivative of the path at times: coefficients ``(k, ...)`` → ``(n, ...)``."""
    index, within = knots.locate(time_s)
    basis = knots.basis(within, order)
    out = np.zeros((len(index), *coefficients.shape[1:]))
    for k in range(SUPPORT):
        weight = basis[:, k].reshape((-1,) + (1,) * (coefficients.ndim - 1))
        out += weight * coefficients[index + k]
    return out


def path_coefficients(unknowns: FloatArray) -> FloatArray:
    """The path's part of the unknowns: ``(4 k, ...)`` → ``(k, 2, ...)``."""
    return unknowns.reshape(-1, STATES, *unknowns.shape[1:])[:, :2]


def draw(solution: Solution, count: int, seed: int) -> FloatArray:
    """Exact draws from the posterior, shape ``(unknowns, count)``: mean + U⁻¹ z."""
    z = np.random.default_rng(seed).standard_normal((len(solution.mean), count))
    noise, info = dtbtrs(solution.factor, z, uplo="U")
    if info:
        raise PathError("the smoothing problem is singular")
    return solution.mean[:, None] + noise


def estimate(seen: Observed, above_m: float, load: Load, seed: int) -> Estimate:
    """Recover the ridden path's posterior from observations.

    Args:
        seen: the fixes.
        above_m: height of the antenna above the centre of mass, metres.
        load: gravity felt by the wheels along the path.
        seed: for the draws that find roughness by place.

    Raises:
        PathError: too few fixes, or none on the move.
    """
    if len(seen.time_s) < 8:
        raise PathError("fewer than eight fixes", remedy="Check that the receiver had a fix.")
    problem = _Problem(seen, above_m, load)
    wild = problem.leave_out_wild()
    noise = problem.find_noise()
    problem.linearise(noise)
    more = problem.misfits(noise)
    if np.any(more & ~wild):
        wild |= more
        problem.leave_out(wild)
    for turn in range(_ROUNDS):
        solution = problem.solve(noise)
        problem.set_attitude(solution)
        if turn + 1 < _ROUNDS:
            coefficients = path_coefficients(draw(solution, 12, seed + turn))
            over = _OVER_S[problem.has_velocity]
            local = local_roughness(solution, coefficients, over)
            problem.roughness = _ROUGHER[problem.has_velocity] * local
    return Estimate(solution, noise, problem.seen, problem.has_velocity, wild)


def _part_of(arrays: T, part: slice) -> T:
    """A dataclass of arrays cut to a part of them."""
    return replace(arrays, **{f.name: getattr(arrays, f.name)[part] for f in fields(arrays)})


class _Problem:
    """The log being solved: observations, what they were linearised about, and the roughness."""

    def __init__(self, seen: Observed, above_m: float, load: Load) -> None:
        self.seen = seen
        self.above_m = above_m
        self.load = load
        self.has_velocity = seen.has_velocity
        self.knots = knots_for(seen.time_s)
        self.roughness: FloatArray | None = None
        self._attitude: tuple[Attitude, Attitude] | None = None
        self._velocity: Gram | None = None

    def grams(self) -> tuple[Gram, Gram | None]:
        """Normal equations; those of the velocities are kept until something about them changes."""
        at_position, at_velocity = self._attitude or (None, None)
        position = position_gram(self.knots, self.seen, self.above_m, at_position)
        if self.has_velocity and self._velocity is None:
            self._velocity = velocity_gram(self.knots, self.seen, self.above_m, at_velocity)
        return position, self._velocity

    def solve(self, noise: Noise) -> Solution:
        level = self.roughness
        if level is None:
            level = np.full(self.knots.intervals, noise.roughness)
        band = smooth_band(self.knots, level)
        position, velocity = self.grams()
        try:
            return solve(self.knots, position, velocity, noise, band)
        except np.linalg.LinAlgError:
            raise PathError("the fixes do not determine a path") from None

    def set_attitude(self, solution: Solution) -> None:
        mean = path_coefficients(solution.mean)

        def at(time_s: FloatArray) -> Attitude:
            x, v, a = (values(self.knots, mean, time_s, order) for order in (0, 1, 2))
            load = self.load(x[:, 0], x[:, 1], np.hypot(v[:, 0], v[:, 1]))
            return Attitude.of(v[:, 0], v[:, 1], a[:, 0], a[:, 1], load)

        self._attitude = at(self.seen.time_s), at(self.seen.velocity_time_s)
        self._velocity = None

    def linearise(self, noise: Noise) -> None:
        for _ in range(2):
            self.set_attitude(self.solve(noise))

    def leave_out(self, wild: np.ndarray) -> None:
        weight = np.where(wild, 0.0, 1.0)
        still_moving = self.seen.velocity_weight * weight
        self.seen = replace(self.seen, position_weight=weight, velocity_weight=still_moving)
        self._velocity = None

    def misfits(self, noise: Noise) -> np.ndarray:
        """Fixes further from the path than noise explains (six standard deviations)."""
        away = self._residual(self.solve(noise), with_wander=True)
        scale = np.median(away[self.seen.position_weight > 0]) / 1.1774
        return away > 6.0 * max(scale, noise.white_m, 0.02)

    def _residual(self, solution: Solution, with_wander: bool) -> FloatArray:
        index, within = self.knots.locate(self.seen.time_s)
        mean = solution.mean.reshape(-1, STATES)
        at = values(self.knots, mean[:, :2], self.seen.time_s, 0)
        if with_wander:
            at += (1 - within)[:, None] * mean[index + 2, 2:] + within[:, None] * mean[
                index + 3, 2:
            ]
        return np.hypot(self.seen.x_m - at[:, 0], self.seen.y_m - at[:, 1])

    def leave_out_wild(self) -> np.ndarray:
        """Robust start: reweight by a Cauchy loss until what is wild stands out, then leave it out."""
        rough = replace(START[self.has_velocity], white_m=0.5)
        whole = self.seen
        for _ in range(4):
            away = self._residual(self.solve(rough), with_wander=False)
            scale = max(1.5 * float(np.median(away)), 0.3)
            weight = 1.0 / (1.0 + np.square(away / (2.0 * scale)))
            self.seen = replace(whole, position_weight=weight)
        self.seen = whole
        wild = away > max(8.0 * float(np.median(away)), 1.0)
        self.leave_out(wild)
        return wild

    def find_noise(self) -> Noise:
        """Maximum likelihood over a stretch on the move, linearised about a first solution."""
        start = START[self.has_velocity]
        self.linearise(start)
        part = self._moving_part()
        if part is None:
            return start
        cut = _part_of(self.seen, part)
        at_position, at_velocity = (_part_of(a, part) for a in self._attitude or ())
        knots = knots_for(cut.time_s)
        position = position_gram(knots, cut, self.above_m, at_position)
        velocity = None
        if self.has_velocity:
            velocity = velocity_gram(knots, cut, self.above_m, at_velocity)
        step_s = float(np.median(np.diff(cut.time_s)))
        filtered = not self.has_velocity and step_s > _FILTERED_STEP_S
        return find_noise(Stretch(knots, position, velocity), start, filtered=filtered)

    def _moving_part(self) -> slice | None:
        """The longest stretch on the move without a long gap, cut to its middle."""
        t = self.seen.time_s
        mean = path_coefficients(self.solve(START[self.has_velocity]).mean)
        v = values(self.knots, mean, t, 1)
        speed = np.hypot(v[:, 0], v[:, 1])
        fast = speed > max(0.3 * float(np.quantile(speed, 0.9)), min(_MOVING_MPS, 1.0))
        fast[1:] &= np.diff(t) < 2.0
        edges = np.flatnonzero(np.diff(np.concatenate([[0], fast.astype(np.int8), [0]])))
        if not len(edges):
            return None
        first, last = max(zip(edges[::2], edges[1::2], strict=True), key=lambda e: e[1] - e[0])
        if last - first < 50:
            return None
        room = 0.5 * max(t[last - 1] - t[first] - max(_STRETCH_S, 200 * np.median(np.diff(t))), 0.0)
        first = int(np.searchsorted(t, t[first] + room))
        return slice(first, int(np.searchsorted(t, t[last - 1] - room)) + 1)
