"""Velocities that a receiver averaged over time: over how long, and what the averaging took off them.

A receiver filters its velocity, which makes it late and smooth. The lag is taken out by dating the velocity back
(:func:`~lapkit.path.velocity_lag.velocity_lag_s`). What is left is a mean over the time around each moment, which rounds off
every turn-in. It shows in comparison with the positions, which are not averaged.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.path.displacements import Displacements, logged_velocities, usual_step_s
from lapkit.path.model import Observed
from lapkit.path.summary import SD_PER_MEDIAN

_REACH_S = 0.5  # each way of a displacement: long enough for its own error in m/s to be small
_ASIDE_S = 0.3  # from a velocity to its neighbours that show how it bends
_EVEN = 1.1  # times its usual duration: a longer displacement has a gap in it
_SLOWEST_STEP_S = 0.25  # fixes further apart do not show how a velocity bends
_MOVING_MPS = 5.0  # slower, many receivers log no course that is its own
_FEWEST = 500  # displacements; with fewer a blur is chance
# Rounds of leaving out what is off by more than _USUAL standard deviations.
_ROUNDS, _USUAL = 4, 2.5
_LEAST_BLUR_S = 0.12  # less is within the error of what is found
_MOST_BLUR_S = 0.4  # more is not a filter but a fault


def velocity_blur_s(seen: Observed) -> float:
    """Over how long the receiver averaged its velocity: the standard deviation of its filter, seconds.

    0 when that cannot be told. A lag must have been dated back before.

    A displacement over a time D is the true velocity averaged by a filter of variance D²/12. Adding c times the second
    difference over a time a to the logged velocity averages it by a further variance of 2 c a². c is found by least
    squares so that the two agree; the receiver's own filter then has the variance D²/12 − 2 c a². Fourth differences
    are fitted together with the second ones and take up the next order of the filters (variances of convolved filters
    add; derived).
    """
    step = usual_step_s(seen)
    if step > _SLOWEST_STEP_S or np.count_nonzero(seen.velocity_weight > 0) < _FEWEST:
        return 0.0
    middle, lasted, moved = Displacements.of(seen, _REACH_S, _EVEN)
    logged_s, logged = logged_velocities(seen)
    aside = step * max(1, round(_ASIDE_S / step))
    before2, before, at, after, after2 = (
        np.interp(middle + k * aside, logged_s, logged) for k in (-2, -1, 0, 1, 2)
    )
    second = before - 2.0 * at + after
    fourth = before2 - 4.0 * (before + after) + 6.0 * at + after2
    going = np.abs(at) > _MOVING_MPS
    if np.count_nonzero(going) < _FEWEST:
        return 0.0
    differences = np.stack([_parts(second[going]), _parts(fourth[going])])
    off = _parts((moved - at)[going])
    span, between = float(np.median(lasted)), _between(middle, logged_s)
    # Interpolating between two logged velocities averages them once more.
    variance = span**2 / 12.0 - 2.0 * _first_share(differences, off) * aside**2 - between
    blur = float(np.sqrt(max(variance, 0.0)))
    return blur if _LEAST_BLUR_S <= blur <= _MOST_BLUR_S else 0.0


def _parts(velocity: np.ndarray) -> FloatArray:
    """All components of complex velocities, east and then north, ``(n,)`` → ``(2 n,)``."""
    return np.concatenate([velocity.real, velocity.imag])


def _first_share(rows: FloatArray, off: FloatArray) -> float:
    """The first coefficient of ``off`` ``(n,)`` regressed on the rows ``(2, n)``, wild fixes left out."""
    share: FloatArray = np.zeros(len(rows))
    kept = np.ones(len(off), dtype=bool)
    for _ in range(_ROUNDS):
        found = np.linalg.lstsq(rows[:, kept].T, off[kept], rcond=None)[0]
        share = np.asarray(found, dtype=np.float64)
        left = np.abs(off - share @ rows)
        kept = left <= _USUAL * SD_PER_MEDIAN * np.median(left)
    return float(share[0])


def _between(at_s: FloatArray, time_s: FloatArray) -> float:
    """By what variance in time interpolating between the times ``time_s`` averages, s²; the median over ``at_s``."""
    after = np.clip(np.searchsorted(time_s, at_s), 1, len(time_s) - 1)
    return float(np.median((at_s - time_s[after - 1]) * (time_s[after] - at_s)))


def sharpened(
    seen: Observed, logged: Observed, velocity_at: Callable[[FloatArray], FloatArray], blur_s: float
) -> Observed:
    """Observations with what averaging took off their velocities put back, according to a roughly known path.

    The mean over a Gaussian filter is taken at three moments (Gauss–Hermite quadrature, exact to the fifth order).

    Args:
        seen: the observations.
        logged: the same, with the velocities as they were logged.
        velocity_at: the path's velocity of the antenna, m/s: times ``(n,)`` → ``(2, n)``.
        blur_s: standard deviation of the filter, seconds.
    """
    at, mean = _averaged(velocity_at, seen.velocity_time_s, blur_s)
    lost = at - mean
    return replace(seen, vx_mps=logged.vx_mps + lost[0], vy_mps=logged.vy_mps + lost[1])


def _averaged(
    moves_at: Callable[[FloatArray], FloatArray], time_s: FloatArray, blur_s: float
) -> tuple[FloatArray, FloatArray]:
    """A motion at times, and its mean over the filter around them."""
    aside = np.sqrt(3.0) * blur_s
    before, at, after = (moves_at(time_s + shift) for shift in (-aside, 0.0, aside))
    return at, (before + 4.0 * at + after) / 6.0


def share_left(
    moves_at: Callable[[FloatArray], FloatArray], time_s: FloatArray, blur_s: float
) -> float:
    """What share of the square of a motion averaging leaves: about exp(−(ω blur_s)²) at the angular frequency ω.

    Squares are medians over the times, so that a gap in the log, where nothing is known, does not count.

    Args:
        moves_at: the motion: times ``(n,)`` → ``(n, ...)``.
        time_s: times that count, ``(n,)``.
        blur_s: standard deviation of the filter, seconds.
    """

    def usual_square(moves: FloatArray) -> float:
        return float(np.median(np.mean(np.square(moves).reshape(len(time_s), -1), axis=1)))

    whole, left = (usual_square(each) for each in _averaged(moves_at, time_s, blur_s))
    return left / whole
