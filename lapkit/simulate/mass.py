"""The mass path above a tyre path, and the unsteadiness of a rider's hands."""

from __future__ import annotations

import numpy as np
from scipy.linalg import solve_banded

from lapkit.arrays import FloatArray
from lapkit.lean import LEAST_LOAD_MPS2
from lapkit.units import GRAVITY_MPS2

_ROUNDS = 4  # of finding lean and path from each other; a fifth moves them by 1 cm
_STANDING_MPS = 0.3  # slower, a path has no direction
_HZ, _HZ_WIDTH = 0.6, 0.15  # about how fast hands correct a line (our choice)


def above_tyres(
    tyres_m: FloatArray,
    facing_rad: FloatArray,
    vertical_curvature_1pm: FloatArray,
    com_height_m: float,
    step_s: float,
) -> FloatArray:
    """The mass path whose tyres run through given points at even times, shape ``(n, 2)``.

    A machine of height h leaning by φ has its mass at M = T + h sin φ · left with sin φ = a /
    √(load² + a²) and a = M″ · left. Moved to one side, M − (h / √(load² + a²)) (M″ · left) left = T
    is linear in M once load, a and left are known roughly, and has one bounded solution, smoother
    than T: it is solved again with what the last solution gives for them.

    Args:
        tyres_m: where the tyres run, metres east and north, shape ``(n, 2)``.
        facing_rad: heading where the machine stands, radians counter-clockwise from east, ``(n,)``.
        vertical_curvature_1pm: of the road, 1/m, positive in a dip, ``(n,)``.
        com_height_m: height of the centre of mass, the machine upright, metres.
        step_s: time from point to point, seconds.

    Returns:
        The mass path, metres east and north, ``(n, 2)``.
    """
    mass = tyres_m
    for _ in range(_ROUNDS):
        velocity = np.gradient(mass, step_s, axis=0)
        accel = np.zeros_like(mass)
        accel[1:-1] = np.diff(mass, 2, axis=0) / step_s**2
        speed = np.hypot(*velocity.T)
        heading = np.where(
            speed > _STANDING_MPS, np.arctan2(velocity[:, 1], velocity[:, 0]), facing_rad
        )
        left = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
        across = np.sum(accel * left, axis=1)
        load = np.maximum(GRAVITY_MPS2 + speed**2 * vertical_curvature_1pm, LEAST_LOAD_MPS2)
        lifted = com_height_m / np.hypot(load, across) / step_s**2
        lifted[[0, -1]] = 0.0
        mass = _solved(tyres_m, lifted, left)
    return mass


def _solved(tyres: FloatArray, lifted: FloatArray, left: FloatArray) -> FloatArray:
    """Solve M − lifted · left leftᵀ · (second difference of M) = T for M, shape ``(n, 2)``."""
    n = len(tyres)
    band = np.zeros((7, 2 * n))
    rows = np.arange(n)
    for i in (0, 1):
        for j in (0, 1):
            pull = lifted * left[:, i] * left[:, j]
            for shift, factor in ((-1, -1.0), (0, 2.0), (1, -1.0)):
                row = rows[max(0, -shift) : n - max(0, shift)]
                column = 2 * (row + shift) + j
                band[3 + 2 * row + i - column, column] += factor * pull[row]
    band[3] += 1.0
    return solve_banded((3, 3), band, tyres.reshape(-1)).reshape(n, 2)


def wobble_m(count: int, step_s: float, lean_deg: float, rng: np.random.Generator) -> FloatArray:
    """Movement of the mass to the side by hands whose lean has the standard deviation ``lean_deg``, metres, ``(count,)``."""
    hz = np.fft.rfftfreq(count, step_s)
    lean = np.fft.rfft(rng.standard_normal(count)) * np.exp(-0.5 * ((hz - _HZ) / _HZ_WIDTH) ** 2)
    spread = np.std(np.fft.irfft(lean, count))
    # A lean of φ is an acceleration of g φ; to integrate twice is to divide by frequency squared.
    moved = np.fft.irfft(lean / np.square(2.0 * np.pi * np.maximum(hz, 0.1)), count)
    return moved * (np.radians(lean_deg) * GRAVITY_MPS2 / spread)
