"""Smoothing of evenly spaced values, as strongly as their own noise demands.

The values are modelled as a smooth signal, whose third derivative is white noise, plus white noise. The smoother's
gain at a frequency ω is then 1 / (1 + (λ ω)⁶), and the likelihood of λ is a sum over frequencies (Whittle). So a
line walked with a receiver is smoothed, and one drawn exactly is left alone. The caller only says which
wavelengths are certainly noise and which are certainly signal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lapkit.arrays import FloatArray

_ORDER = 6  # power of the frequency: twice the order of the derivative that is white
_WAVELENGTHS = 60  # tried, each 1 to 4 % longer than the one before


@dataclass(frozen=True, eq=False)
class Smooth:
    """Smoothed values and what was found about them.

    Attributes:
        values: shape ``(n, ...)``.
        first, second: their first and second derivative per metre, of the same shape.
        wavelength_m: at which the gain is one half, metres.
        removed_sd: standard deviation of what smoothing removed, in the unit of the values.
        noise_sd: standard deviation of the noise itself, part of which passes the smoother.
    """

    values: FloatArray
    first: FloatArray
    second: FloatArray
    wavelength_m: float
    removed_sd: float
    noise_sd: float


def smooth_even(
    values: FloatArray, step_m: float, closed: bool, shortest_m: float, longest_m: float
) -> Smooth:
    """Smooth values given at equal steps along a line.

    Args:
        values: shape ``(n,)`` or ``(n, k)``; columns are smoothed alike. A closed line does not repeat its first.
        step_m: metres between them.
        closed: whether the last is followed by the first.
        shortest_m: shortest wavelength of half gain, metres; much shorter waves are always removed.
        longest_m: longest wavelength of half gain, metres; longer waves always keep at least half.
    """
    columns = values.reshape(len(values), -1)
    length = len(columns)
    trend = np.zeros_like(columns)
    slope = np.zeros(columns.shape[1])
    if not closed:
        # Less its trend an open line starts and ends at zero, so that its odd reflection continues it smoothly.
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

    def inverse(coefficients: npt.NDArray[np.complex128]) -> FloatArray:
        return np.fft.irfft(coefficients, len(columns), axis=0)[:length]

    smoothed = inverse(kept)
    return Smooth(
        values=(smoothed + trend).reshape(values.shape),
        first=(inverse(1j * omega * kept) + slope / step_m).reshape(values.shape),
        second=inverse(-(omega**2) * kept).reshape(values.shape),
        wavelength_m=wavelength,
        removed_sd=float(np.std(columns[:length] - smoothed)),
        noise_sd=float(np.sqrt(np.mean(power[1:] * (1.0 - gain[1:])) / len(columns))),
    )


def mean_of_known(rows: FloatArray) -> FloatArray:
    """Mean of ``(k, ...)`` over the first axis, NaNs left out; NaN where all are NaN. Shape ``(...)``."""
    known = np.isfinite(rows)
    number = known.sum(axis=0)
    total = np.where(known, rows, 0.0).sum(axis=0)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan)


def _likeliest(power: FloatArray, omega: FloatArray, shortest_m: float, longest_m: float) -> float:
    """Wavelength at which noise and signal have equal power, metres, by the Whittle likelihood."""
    if longest_m <= shortest_m:
        return shortest_m
    tried = np.geomspace(shortest_m, longest_m, _WAVELENGTHS)
    power, omega = power[1:].mean(axis=1), omega[1:]
    power = np.maximum(power, 1e-18 * power.max(initial=1e-270))
    shape = 1.0 + (omega[None, :] * tried[:, None] / (2.0 * np.pi)) ** -_ORDER
    level = np.mean(power / shape, axis=1)
    deviance = len(omega) * np.log(level) + np.sum(np.log(shape), axis=1)
    return float(tried[np.argmin(deviance)])
