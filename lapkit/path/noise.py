"""Noise of a receiver and roughness of its rider, found from the log itself by maximum likelihood.

The banded factor gives the exact Gaussian likelihood of positions and velocities together. White noise, wander, velocity
noise and roughness are those that make the log most likely; nothing is tuned to a receiver. A standstill says nothing
about riding, so only a stretch on the move takes part.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import cached_property

import numpy as np
from scipy.optimize import minimize

from lapkit.arrays import FloatArray
from lapkit.path.banded import Gram
from lapkit.path.model import Noise, NormalEquations, solve
from lapkit.path.priors import both_axes, smooth_band
from lapkit.path.roughness import PRIOR_ORDER
from lapkit.path.spline import Knots
from lapkit.path.stretches import stretches
from lapkit.path.unknowns import Groups, columns

USUAL_NOISE = {
    True: Noise(white_m=0.1, wander_m=0.2, wander_s=5.0, velocity_mps=0.1, roughness=10.0),
    False: Noise(white_m=0.1, wander_m=0.2, wander_s=5.0, velocity_mps=1.0, roughness=9.0),
}
"""The noise assumed before it is found, by whether velocity is logged; where the search for it begins does not matter."""

# The wander's memory is bounded because an error that lasts longer than some seconds belongs to the slow offset, and
# would count twice as wander. Unrest is how fast the wander moves: its size over the root of its memory, m/√s.
_BOUNDS = {
    "white_m": (0.003, 10.0),
    "unrest": (0.01, 2.0),
    "wander_s": (1.0, 6.0),
    "velocity_mps": (0.005, 3.0),
    "roughness": (0.0005, 500.0),
}

# A phone or a watch filters its fixes. Its error of several seconds is then as smooth as riding, and the likelihood takes
# it for riding. So what is known of such receivers is put in: code-only positions wander by a metre within seconds
# (common practice, no source).
_FILTERED = {**_BOUNDS, "wander_s": (1.0, 15.0)}
_FILTERED_WANDER_M = 1.0

# A stretch of a lap or two is enough to find the noise to a twentieth, and the work grows with its length (our choice).
_STRETCH_S, _STRETCH_STEPS = 150.0, 200  # seconds, but at least so many fixes
_FEWEST_IN_STRETCH = 50  # fixes; with fewer the usual noise is assumed
_LONGEST_STEP_S = 2.0  # a longer gap ends a stretch
# The rider is on the move above this share of the speed that he exceeds for a tenth of the time: less is the pit lane.
_MOVING_SHARE, _FAST_QUANTILE = 0.3, 0.9
_WALKED_MPS = 1.0  # less is standing, however slow the rest is

# How often the likelihood may be evaluated. Tolerance of the result and step of the finite differences, both in standard
# deviations of what is searched for.
_MOST_LIKELIHOODS = 150
_NEAR_ENOUGH, _DIFFERENCE = 0.3, 0.05
_IMPOSSIBLE = 1e9  # cost of a noise under which the system has no factor: more than that of any log


@dataclass(frozen=True, eq=False)
class Stretch:
    """Normal equations of a part of the log on the move."""

    knots: Knots
    position: Gram
    velocity: Gram | None

    @cached_property
    def unit_prior(self) -> FloatArray:
        """The path's prior precision at a roughness of one, a band of all unknowns."""
        smooth = smooth_band(self.knots, np.ones(self.knots.intervals))
        return columns(Groups.of(self.knots), both_axes(smooth))


def moving_part(time_s: FloatArray, speed_mps: FloatArray) -> slice | None:
    """The middle of the longest stretch of fixes on the move without a long gap; None where that is too short.

    ``time_s`` are the fixes' times, increasing, and ``speed_mps`` the speeds there, roughly, ``(n,)`` each.
    """
    fast = float(np.quantile(speed_mps, _FAST_QUANTILE))
    moving = speed_mps > max(_MOVING_SHARE * fast, _WALKED_MPS)
    moving[1:] &= np.diff(time_s) < _LONGEST_STEP_S
    longest = max(stretches(moving), key=lambda part: part.stop - part.start, default=None)
    if longest is None or longest.stop - longest.start < _FEWEST_IN_STRETCH:
        return None
    first_s, last_s = time_s[longest.start], time_s[longest.stop - 1]
    wanted_s = max(_STRETCH_S, _STRETCH_STEPS * np.median(np.diff(time_s)))
    room_s = 0.5 * max(last_s - first_s - wanted_s, 0.0)
    first, last = np.searchsorted(time_s, [first_s + room_s, last_s - room_s])
    return slice(int(first), int(last) + 1)


def log_likelihood(stretch: Stretch, noise: Noise) -> float:
    """Log likelihood of a stretch, up to a constant that does not depend on the noise."""
    prior = stretch.unit_prior / noise.roughness**2
    # Of the prior's precision, both axes: a path whose fourth derivative is zero costs nothing.
    rank = 2.0 * (stretch.knots.coefficients - PRIOR_ORDER)
    equations = NormalEquations.of(stretch.position, stretch.velocity, noise)
    solution = solve(stretch.knots, equations, prior)
    return solution.log_likelihood - rank * float(np.log(noise.roughness))


def find_noise(stretch: Stretch, start: Noise, *, filtered: bool) -> Noise:
    """Noise that makes the stretch most likely (L-BFGS on the logarithms, each scaled by about its own precision).

    Unrest and memory of the wander are searched for instead of size and memory: a stretch shows best how fast the wander
    moves, so that size and memory are strongly correlated, while unrest and memory hardly are.

    Args:
        stretch: the part of the log that is looked at.
        start: where the search begins.
        filtered: whether the receiver smooths its fixes, so that wander hides in the riding.
    """
    bounds, least_m = (_FILTERED, _FILTERED_WANDER_M) if filtered else (_BOUNDS, 0.0)
    begin = {**asdict(start), "unrest": start.wander_m / float(np.sqrt(start.wander_s))}
    sd = _log_sds(stretch)
    scale = np.array(list(sd.values()))

    def noise_at(scaled: FloatArray) -> Noise:
        found = dict(zip(sd, map(float, np.exp(scale * scaled)), strict=True))
        wander_m = found.pop("unrest") * float(np.sqrt(found["wander_s"]))
        return replace(start, wander_m=max(wander_m, least_m), **found)

    def cost(scaled: FloatArray) -> float:
        try:
            return -log_likelihood(stretch, noise_at(scaled))
        except np.linalg.LinAlgError:
            return _IMPOSSIBLE

    low, high = np.log([bounds[name] for name in sd]).T / scale
    first = np.clip(np.log([begin[name] for name in sd]) / scale, low, high)
    options = {
        "eps": _DIFFERENCE,
        "gtol": _NEAR_ENOUGH,
        "ftol": 0.0,
        "maxfun": _MOST_LIKELIHOODS,
    }
    box = list(zip(low, high, strict=True))
    return noise_at(minimize(cost, first, method="L-BFGS-B", bounds=box, options=options).x)


def _log_sds(stretch: Stretch) -> dict[str, float]:
    """About how exactly a stretch shows the logarithms of what is searched for, one standard deviation each.

    That is one over the root of the number of values that show it: a wander of some seconds shows itself a few times a
    second, and so does the roughness of the ride. What no value shows is left out: a stretch may be without velocities.
    """
    knots = stretch.knots
    span_s = knots.stop_s - knots.start_s
    values = {
        "white_m": 1.4 * stretch.position.count,
        "unrest": 3.0 * span_s,
        "wander_s": 0.15 * span_s,
    }
    if stretch.velocity is not None:
        values["velocity_mps"] = 1.4 * stretch.velocity.count
    values["roughness"] = 3.0 * span_s
    return {name: count**-0.5 for name, count in values.items() if count > 0.0}
