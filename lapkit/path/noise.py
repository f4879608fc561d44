"""What blurs a log, found from the log itself by maximum likelihood.

The banded factor gives the exact Gaussian likelihood of positions and velocities together, so white noise,
wander, velocity noise and roughness are whatever makes the log most likely; nothing is tuned to a
receiver. Standing still tells nothing of riding, so only stretches on the move take part.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import minimize

from lapkit.path.banded import Gram
from lapkit.path.model import Noise, Solution, solve
from lapkit.path.priors import PRIOR_ORDER, smooth_band
from lapkit.path.spline import SUPPORT, Knots, penalty_block
from lapkit.units import FloatArray

START = {
    True: Noise(white_m=0.1, wander_m=0.2, wander_s=5.0, velocity_mps=0.1, roughness=10.0),
    False: Noise(white_m=0.1, wander_m=0.2, wander_s=5.0, velocity_mps=1.0, roughness=9.0),
}
"""Where the search starts, by whether velocity is logged; any sensible start ends in the same place."""

# What lasts longer than some seconds is the slow offset's business, and would count twice.
_BOUNDS = {
    "white_m": (0.003, 10.0),
    "wander_m": (0.01, 5.0),
    "wander_s": (1.0, 6.0),
    "velocity_mps": (0.005, 3.0),
    "roughness": (0.0005, 500.0),
}

# A phone or a watch filters its fixes: its error of several seconds comes out as smooth as riding, and
# the likelihood takes it for riding. What is known of such receivers then has to be put in: code-only
# positions wander by a metre within seconds (common practice, no source).
_FILTERED = {**_BOUNDS, "wander_m": (1.0, 5.0), "wander_s": (1.0, 15.0)}

# How often the likelihood may be asked for.
_MOST_LIKELIHOODS = 90


@dataclass(frozen=True, eq=False)
class Stretch:
    """Normal equations of a part of the log on the move."""

    knots: Knots
    position: Gram
    velocity: Gram | None

    @cached_property
    def unit_smooth(self) -> FloatArray:
        """The path's prior precision at a roughness of one."""
        return smooth_band(self.knots, np.ones(self.knots.intervals))


def log_likelihood(stretch: Stretch, noise: Noise) -> float:
    """Log likelihood of a stretch, up to a constant that does not depend on the noise."""
    band = stretch.unit_smooth / noise.roughness**2
    rank = 2.0 * (stretch.knots.coefficients - PRIOR_ORDER)
    solution = solve(stretch.knots, stretch.position, stretch.velocity, noise, band)
    return solution.log_likelihood - rank * float(np.log(noise.roughness))


def find_noise(stretch: Stretch, start: Noise, *, filtered: bool) -> Noise:
    """Noise that makes the stretch most likely (Nelder–Mead on the logarithms).

    Args:
        stretch: the part of the log that is looked at.
        start: where to begin.
        filtered: the fixes come from a receiver that smooths them, so that wander hides in the riding.
    """
    bounds = _FILTERED if filtered else _BOUNDS
    names = ["white_m", "wander_m", "wander_s", "roughness"]
    if stretch.velocity is not None:
        names.insert(3, "velocity_mps")
    fixed = {} if stretch.velocity is not None else {"velocity_mps": start.velocity_mps}
    low, high = np.log([bounds[n] for n in names]).T

    def noise_at(logs: FloatArray) -> Noise:
        values = np.exp(np.clip(logs, low, high))
        return Noise(**dict(zip(names, map(float, values), strict=True)), **fixed)

    def cost(logs: FloatArray) -> float:
        outside = np.sum(np.square(logs - np.clip(logs, low, high)))
        try:
            return 100.0 * outside - log_likelihood(stretch, noise_at(logs))
        except np.linalg.LinAlgError:
            return np.inf

    begin = np.log([getattr(start, n) for n in names])
    simplex = np.vstack([begin, begin + 0.5 * np.eye(len(names))])
    options = {"initial_simplex": simplex, "maxfev": _MOST_LIKELIHOODS, "xatol": 0.03, "fatol": 0.3}
    return noise_at(minimize(cost, begin, method="Nelder-Mead", options=options).x)


def local_roughness(solution: Solution, coefficients: FloatArray, over_s: float) -> FloatArray:
    """Roughness an interval as the draws show it, averaged over a few tenths of a second.

    One step of expectation–maximisation: the expected square of the white derivative in each interval.
    Straights are smooth and roll comes in bursts; one level for both would be too rough for the one and
    too stiff for the other.

    Args:
        solution: the posterior the draws came from.
        coefficients: spline coefficients of the draws, shape ``(coefficients, 2, draws)``.
        over_s: length of the average, seconds (a Gaussian's standard deviation).
    """
    knots = solution.knots
    values, vectors = np.linalg.eigh(penalty_block(PRIOR_ORDER, knots.spacing_s))
    power = np.zeros(knots.intervals)
    windows = np.lib.stride_tricks.sliding_window_view(coefficients, SUPPORT, axis=0)
    for value, vector in zip(values, vectors.T, strict=True):
        if value > values[-1] * 1e-12:
            power += value * np.mean(np.square(windows @ vector), axis=(1, 2))
    power = gaussian_filter1d(power, over_s / knots.spacing_s, mode="nearest")
    return np.sqrt(np.maximum(power, 0.01 * np.median(power)))
