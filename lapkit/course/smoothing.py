"""Smoothing of evenly spaced values, as strongly as their own noise asks for.

The values are a smooth course (its third derivative white) plus white noise; over frequency the
smoother is 1 / (1 + (λ ω)⁶) and the likelihood of λ a sum over frequencies (Whittle). A line walked
with a receiver is smoothed, one drawn exactly is left alone; its caller only says which waves are
noise, and which the course, for sure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lapkit.units import FloatArray

_ORDER = 6  # power of the frequency: twice the derivative that is taken to be white
_TRIED = 60  # wavelengths, each 1 to 4 % longer than the one before


@dataclass(frozen=True, eq=False)
class Smooth:
    """Smoothed values and their first and second derivative per metre, shape ``(n, ...)``.

    ``wavelength_m`` is where half of a wave is kept, ``noise`` the standard deviation of what was
    taken away, ``level`` that of the noise itself, of which some was kept.
    """

    values: FloatArray
    first: FloatArray
    second: FloatArray
    wavelength_m: float
    noise: float
    level: float


def smooth_even(
    values: FloatArray, step_m: float, closed: bool, shortest_m: float, longest_m: float
) -> Smooth:
    """Smooth values given at equal steps along a line.

    Args:
        values: shape ``(n,)`` or ``(n, k)``; smoothed alike. A closed line's first is not repeated.
        step_m: metres between them.
        closed: whether the last is followed by the first.
        shortest_m: much shorter waves are taken away whatever the likelihood says, metres.
        longest_m: waves longer than this are kept at least by half, metres.
    """
    columns = values.reshape(len(values), -1)
    length = len(columns)
    trend = np.zeros_like(columns)
    slope = np.zeros(columns.shape[1])
    if not closed:
        # Without its trend an open line starts and ends at zero; its odd image goes on smoothly.
        slope = (columns[-1] - columns[0]) / (length - 1)
        trend = columns[0] + np.arange(length)[:, None] * slope
        flat = columns - trend
        columns = np.concatenate([flat, -flat[-2:0:-1]])
    waves = np.fft.rfft(columns, axis=0)
    cycles_1pm = np.asarray(np.fft.rfftfreq(len(columns), step_m), dtype=np.float64)
    omega = 2.0 * np.pi * cycles_1pm[:, None]
    power = np.square(np.abs(waves))
    wavelength = _likeliest(power, omega[:, 0], shortest_m, longest_m)
    gain = 1.0 / (1.0 + (omega * wavelength / (2.0 * np.pi)) ** _ORDER)
    kept = waves * gain

    def back(coefficients: npt.NDArray[np.complex128]) -> FloatArray:
        return np.fft.irfft(coefficients, len(columns), axis=0)[:length]

    smoothed = back(kept)
    return Smooth(
        values=(smoothed + trend).reshape(values.shape),
        first=(back(1j * omega * kept) + slope / step_m).reshape(values.shape),
        second=back(-(omega**2) * kept).reshape(values.shape),
        wavelength_m=wavelength,
        noise=float(np.std(columns[:length] - smoothed)),
        level=float(np.sqrt(np.mean(power[1:] * (1.0 - gain[1:])) / len(columns))),
    )


def mean_of_known(rows: FloatArray) -> FloatArray:
    """Mean over the first axis of what is known, NaN where nothing is; of ``(k, ...)``, shape ``(...)``."""
    known = np.isfinite(rows)
    number = known.sum(axis=0)
    total = np.where(known, rows, 0.0).sum(axis=0)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan)


def _likeliest(power: FloatArray, omega: FloatArray, shortest_m: float, longest_m: float) -> float:
    """Wavelength at which noise and course have equal power, metres, by the Whittle likelihood."""
    if longest_m <= shortest_m:
        return shortest_m
    tried = np.geomspace(shortest_m, longest_m, _TRIED)
    power, omega = power[1:].mean(axis=1), omega[1:]
    power = np.maximum(power, 1e-18 * power.max(initial=1e-270))
    shape = 1.0 + (omega[None, :] * tried[:, None] / (2.0 * np.pi)) ** -_ORDER
    level = np.mean(power / shape, axis=1)
    deviance = len(omega) * np.log(level) + np.sum(np.log(shape), axis=1)
    return float(tried[np.argmin(deviance)])
