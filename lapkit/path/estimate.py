"""Solve a log for its ridden path: wild fixes left out, noise found, antenna and mass path kept apart, roughness by place."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np

from lapkit.course.stations import StationLine
from lapkit.errors import PathError
from lapkit.path.banded import Gram
from lapkit.path.blur import share_left, sharpened
from lapkit.path.displacements import usual_step_s
from lapkit.path.draws import SLOWEST_MPS
from lapkit.path.first_path import first_path
from lapkit.path.flattening import flattened
from lapkit.path.load import LoadUnder, PathPoints
from lapkit.path.model import (
    LOOK_AT_IT,
    UNDETERMINED,
    Attitude,
    Noise,
    NormalEquations,
    Observed,
    Solution,
    deviations,
    position_gram,
    solve,
    velocity_gram,
)
from lapkit.path.noise import START, Stretch, find_noise, moving_part
from lapkit.path.observed import knots_for
from lapkit.path.places import Places
from lapkit.path.pooling import over_laps, over_time
from lapkit.path.priors import chord_band, rough_band
from lapkit.path.roughness import Roughness
from lapkit.path.spline import Knots, values
from lapkit.path.summary import MEDIAN_LENGTH
from lapkit.path.unknowns import Groups, columns, path_coefficients, wander_at
from lapkit.units import FloatArray

T = TypeVar("T", Observed, Attitude)

_FEWEST_FIXES = 8  # fewer leave nothing to smooth
_OVER_S = {
    True: 0.4,
    False: 0.7,
}  # over which roughness is averaged: with velocity shorter bursts show
# Rounds in which roughness is learnt, and deviations in each: twelve rounds find the same.
_ROUNDS, _DEVIATIONS = 3, 8
# Two deviations, at the middle of every fourth interval, tell what averaging leaves of the doubt to a twentieth.
_FEW_DEVIATIONS, _EVERY = 2, 4
_MOVING_MPS = 5.0  # slower, what is in doubt of a path is no riding
_MOMENT_S = 0.02  # each way, over which the antenna's own velocity is taken
# Farther from the path than so many standard deviations a fix is wild; none is believed to be more exact than 2 cm.
_WILD, _MOST_EXACT_M = 6.0, 0.02
# A rider's spectrum is not exactly that of white snap, and the levels found lack what the log does not show of it.
# How much rougher draws have to be for 95 % intervals to hold was measured over riders smooth and rough; it is one
# number for every receiver.
_ROUGHER_DRAWS = 1.1
_FILTERED_STEP_S = 0.5  # positions alone that come no faster are a phone's or a watch's


@dataclass(frozen=True, eq=False)
class Estimate:
    """The posterior of a log, the noise it was found under, and what was left out as wild.

    Attributes:
        solution: the posterior; its spread is that under a rougher prior than its mean's (:data:`_ROUGHER_DRAWS`).
        flattened: what smoothing it once more would take off its mean, spline coefficients ``(coefficients, 2)``.
        noise: of receiver and rider; of velocities, as they were logged.
        seen: the observations as they took part.
        has_velocity: whether any velocity took part.
        wild: whether each fix was left out, ``(n,)``.
        blur_s: over how long the receiver had averaged its velocities, seconds.
    """

    solution: Solution
    flattened: FloatArray
    noise: Noise
    seen: Observed
    has_velocity: bool
    wild: np.ndarray
    blur_s: float = 0.0


def estimate(
    seen: Observed,
    above_m: float,
    load_under: LoadUnder,
    line: StationLine | None,
    seed: int,
    blur_s: float = 0.0,
) -> Estimate:
    """Recover the ridden path's posterior from observations.

    Args:
        seen: the fixes.
        above_m: height of the antenna above the centre of mass, metres.
        load_under: how gravity felt by the wheels along the path is found.
        line: of the course, along which laps are compared; None where there is none.
        seed: for what finds roughness by place.
        blur_s: over how long the receiver averaged its velocities, seconds.

    Raises:
        PathError: too few fixes, or none on the move.
    """
    if len(seen.time_s) < _FEWEST_FIXES:
        raise PathError("fewer than eight fixes", remedy="Check that the receiver had a fix.")
    problem = _Problem(seen, above_m, load_under, blur_s)
    noise, knots = problem.find_noise(), problem.knots
    rough = Roughness.even(knots, problem.first, noise.roughness)
    solution = problem.solve(noise, rough)
    # Linearised again once only: what roughness moves the path by hardly changes its heading and lean.
    problem.set_attitude(solution.path)
    told = spread = noise
    if blur_s:
        told, spread = problem.noise_of_sharpened(solution, noise, seed)
        # Velocities are sharpened by a path that their blur had smoothed; a second time leaves a tenth of the error.
        problem.set_attitude(problem.solve(told, rough).path)
    problem.leave_out(problem.wild | problem.misfits(solution, noise))
    pooling = over_time(knots, _OVER_S[problem.has_velocity])
    if line is not None:
        pooling = over_laps(knots, solution.path, line, pooling)
    for turn in range(_ROUNDS):
        if turn:
            solution = problem.solve(told, rough)
        away = path_coefficients(knots, deviations(solution, _DEVIATIONS, seed + turn))
        rough = rough.learned(knots, solution.path, away, pooling)
    smooth = problem.prior(rough.middle())
    likeliest = problem.solve_under(told, smooth)
    wider = problem.solve(spread, rough.mean().times(_ROUGHER_DRAWS))
    return Estimate(
        solution=replace(wider, mean=likeliest.mean),
        flattened=flattened(likeliest, smooth),
        noise=noise,
        seen=problem.seen,
        has_velocity=problem.has_velocity,
        wild=problem.wild,
        blur_s=blur_s,
    )


def _part_of(arrays: T, part: slice) -> T:
    """A dataclass of arrays cut to a part of them."""
    return replace(arrays, **{f.name: getattr(arrays, f.name)[..., part] for f in fields(arrays)})


def _places(knots: Knots, seen: Observed) -> tuple[Places, Places]:
    """Where positions lie between the knots, and where velocities do."""
    position = Places.of(knots, seen.time_s)
    lags = seen.velocity_time_s is not seen.time_s
    return position, Places.of(knots, seen.velocity_time_s) if lags else position


class _Problem:
    """The log being solved: observations, and what they were linearised about."""

    def __init__(
        self, seen: Observed, above_m: float, load_under: LoadUnder, blur_s: float
    ) -> None:
        self.seen = self._logged = seen
        self._blur_s = blur_s
        self.above_m = above_m
        self.has_velocity = seen.has_velocity
        self.knots = knots_for(seen)
        self._believed = seen.position_weight
        self.wild = np.zeros(len(seen.time_s), dtype=bool)
        self._places = _places(self.knots, seen)
        self._chord = chord_band(self.knots, seen.time_s)
        self._equations: NormalEquations | None = None
        self.first, wild = first_path(self.knots, seen, START[self.has_velocity], self._places)
        self.leave_out(wild)
        # The road's profile is smooth over the metre or so by which the path will still move, and over
        # the metres from knot to knot.
        (x, y), (vx, vy), (ax, ay) = (
            part.T for part in values(self.knots, self.first, self.knots.middle_s, 0, 1, 2)
        )
        bend = (vx * ay - vy * ax) / np.maximum(np.hypot(vx, vy), SLOWEST_MPS) ** 3
        self._load = load_under(PathPoints(x, y, np.arctan2(vy, vx), bend))
        self.set_attitude(self.first)

    def set_attitude(self, path: FloatArray) -> None:
        """Linearise about a path, spline coefficients ``(coefficients, 2)``."""
        middle_s = self.knots.middle_s
        (v,) = values(self.knots, path, middle_s, 1)
        load = self._load(np.hypot(*v.T))

        def at(time_s: FloatArray) -> Attitude:
            v, a = values(self.knots, path, time_s, 1, 2)
            (vx, vy), (ax, ay) = v.T, a.T
            return Attitude.of(vx, vy, ax, ay, np.interp(time_s, middle_s, load))

        position = at(self.seen.time_s)
        lags = self.seen.velocity_time_s is not self.seen.time_s
        self._attitude = position, at(self.seen.velocity_time_s) if lags else position
        self._equations = None
        if self._blur_s:

            def antenna_moves(time_s: FloatArray) -> FloatArray:
                (v,) = values(self.knots, path, time_s, 1)
                out = [at(time_s + shift) for shift in (-_MOMENT_S, _MOMENT_S)]
                before, after = (self.above_m * each.sin_lean * each.left for each in out)
                return v.T + (after - before) / (2.0 * _MOMENT_S)

            self.seen = sharpened(self.seen, self._logged, antenna_moves, self._blur_s)

    def noise_of_sharpened(
        self, solution: Solution, noise: Noise, seed: int
    ) -> tuple[Noise, Noise]:
        """Noise to find the path under, and its spread, where velocities were averaged and sharpened.

        A filter that leaves a share F of a wave leaves F² of what its noise σ lets see of it: the spread is that of
        velocities with a noise of σ/F. Sharpened by the path, which is held back by its prior, they settle where the
        likeliest path is at a noise of σ/√F (derived). F is that of what is in doubt: of the accelerations between
        solution and deviations from it.
        """
        knots = self.knots
        away = path_coefficients(knots, deviations(solution, _FEW_DEVIATIONS, seed))
        some_s = knots.middle_s[::_EVERY]
        (v,) = values(knots, solution.path, some_s, 1)
        moving = some_s[np.hypot(*v.T) > _MOVING_MPS]
        left = share_left(lambda t: values(knots, away, t, 2)[0], moving, self._blur_s)
        path, spread = (noise.velocity_mps * left**-power for power in (0.25, 0.5))
        return replace(noise, velocity_mps=path), replace(noise, velocity_mps=spread)

    def leave_out(self, wild: np.ndarray) -> None:
        """Leave out wild fixes, ``(n,)``, with their velocities.

        A position that is left out already, adrift, is not called wild, and its velocity keeps its weight.
        """
        self.wild = wild & (self._believed > 0.0)
        weight = np.where(self.wild, 0.0, 1.0)
        self._equations = None
        self.seen = replace(
            self.seen,
            position_weight=self._believed * weight,
            velocity_weight=self.seen.velocity_weight * weight,
        )

    def solve(self, noise: Noise, rough: Roughness) -> Solution:
        """Posterior at the present attitude."""
        return self.solve_under(noise, self.prior(rough))

    def solve_under(self, noise: Noise, smooth: FloatArray) -> Solution:
        """The same under a prior that is written out already (:meth:`prior`)."""
        if self._equations is None or self._equations.noise != noise:
            grams = self._grams(self.knots, self.seen, self._attitude, self._places)
            self._equations = NormalEquations.of(*grams, noise)
        try:
            return solve(self.knots, self._equations, smooth)
        except np.linalg.LinAlgError:
            raise PathError(UNDETERMINED, remedy=LOOK_AT_IT) from None

    def prior(self, rough: Roughness) -> FloatArray:
        """The path's prior precision as a band (:func:`~lapkit.path.unknowns.columns`)."""
        smooth = rough_band(self.knots, rough)
        smooth[::2] += self._chord
        return columns(Groups.of(self.knots), smooth)

    def _grams(
        self,
        knots: Knots,
        seen: Observed,
        attitude: tuple[Attitude, Attitude],
        places: tuple[Places, Places],
    ) -> tuple[Gram, Gram | None]:
        position = position_gram(knots, seen, self.above_m, attitude[0], places[0])
        if not self.has_velocity:
            return position, None
        return position, velocity_gram(knots, seen, self.above_m, attitude[1], places[1])

    def misfits(self, solution: Solution, noise: Noise) -> np.ndarray:
        """Which fixes lie further from the path than noise explains, ``(n,)``."""
        (at,) = values(self.knots, solution.path, self.seen.time_s, 0)
        at += wander_at(self.knots, solution.mean, self.seen.time_s)
        at += (self.above_m * self._attitude[0].sin_lean * self._attitude[0].left).T
        away = np.hypot(self.seen.x_m - at[:, 0], self.seen.y_m - at[:, 1])
        scale = np.median(away[self.seen.position_weight > 0]) / MEDIAN_LENGTH
        return away > _WILD * max(scale, noise.white_m, _MOST_EXACT_M)

    def find_noise(self) -> Noise:
        """Maximum likelihood over a stretch on the move, linearised about the first path."""
        start = START[self.has_velocity]
        (v,) = values(self.knots, self.first, self.seen.time_s, 1)
        part = moving_part(self.seen.time_s, np.hypot(*v.T))
        if part is None:
            return start
        cut = _part_of(self.seen, part)
        knots = knots_for(cut)
        at_position, at_velocity = self._attitude
        attitude = _part_of(at_position, part), _part_of(at_velocity, part)
        stretch = Stretch(knots, *self._grams(knots, cut, attitude, _places(knots, cut)))
        filtered = not self.has_velocity and usual_step_s(cut) > _FILTERED_STEP_S
        return find_noise(stretch, start, filtered=filtered)
