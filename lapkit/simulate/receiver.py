"""What a receiver makes of a ride: a :class:`~lapkit.importer.log.Log` with errors of known size."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import lfilter

from lapkit.importer.log import Log
from lapkit.simulate.ride import Ride
from lapkit.units import FloatArray, read_only

_METRES_PER_DEGREE = 111_320.0


@dataclass(frozen=True)
class Receiver:
    """A receiver and its errors; standard deviations are per axis, times in seconds.

    Attributes:
        rate_hz: fixes per second.
        bias_m, bias_s: slow bias, a Gauss–Markov process of that spread and correlation time.
        wander_m, wander_s: the same of a few seconds (signals reflected by what stands around).
        white_m: noise of each fix on its own.
        velocity_mps: noise of each velocity; None when speed and heading are not logged.
        lag_s: how old a logged velocity is.
        freeze_below_mps: speed under which heading stays what it was (0: never).
        wild_share, wild_m: share of fixes that are wild, and how far they lie off.
        missing_share: share of single fixes left out.
        gaps_per_hour, gap_s: longer silences and their mean length.
        jitter_s: unevenness of the times of fixes.
        time_step_s, degree_decimals, speed_step_mps, heading_step_deg: what values are rounded to.
        height_m: noise of heights (their slow bias is twice the horizontal); None when not logged.
    """

    rate_hz: float = 10.0
    bias_m: float = 1.2
    bias_s: float = 600.0
    wander_m: float = 0.15
    wander_s: float = 4.0
    white_m: float = 0.06
    velocity_mps: float | None = 0.07
    lag_s: float = 0.0
    freeze_below_mps: float = 0.0
    wild_share: float = 0.0
    wild_m: float = 15.0
    missing_share: float = 0.0
    gaps_per_hour: float = 0.0
    gap_s: float = 3.0
    jitter_s: float = 0.0
    time_step_s: float = 0.001
    degree_decimals: int = 7
    speed_step_mps: float = 0.01
    heading_step_deg: float = 0.01
    height_m: float | None = 0.3


@dataclass(frozen=True, eq=False)
class SlowBias:
    """A slow bias as it ran: metres east, north and up, shape ``(n, 3)``, at absolute times ``(n,)``."""

    time_s: FloatArray
    offset_m: FloatArray

    @classmethod
    def drawn(cls, receiver: Receiver, start_s: float, end_s: float, seed: int) -> SlowBias:
        """From start to end, for every receiver that shares it (seconds since 1970)."""
        rng = np.random.default_rng([seed, 1])
        time = np.arange(np.floor(start_s), end_s + 2.0)
        path = gauss_markov(len(time), 1.0, receiver.bias_s, rng, 3) * receiver.bias_m
        path[:, 2] *= 2.0
        return cls(read_only(time), read_only(path))

    def at(self, time_s: FloatArray) -> FloatArray:
        """The bias at absolute times, shape ``(n, 3)``, metres."""
        return np.stack([np.interp(time_s, self.time_s, part) for part in self.offset_m.T], axis=1)


def gauss_markov(
    count: int, step_s: float, over_s: float, rng: np.random.Generator, axes: int = 2
) -> FloatArray:
    """A Gauss–Markov process of spread one at even steps, stationary from the start; ``(count, axes)``."""
    keep = np.exp(-step_s / over_s)
    drive = rng.standard_normal((count, axes)) * np.sqrt(1.0 - keep**2)
    drive[0] /= np.sqrt(1.0 - keep**2)
    return lfilter([1.0], [1.0, -keep], drive, axis=0)


def observe(
    ride: Ride, receiver: Receiver, seed: int = 0, *, bias: SlowBias | None = None
) -> Log:
    """The log that a receiver on this ride would have written.

    Args:
        ride: where the antenna really was.
        receiver: its errors.
        seed: the same seed gives the same log.
        bias: a slow bias shared with others; drawn from the seed when absent.
    """
    rng = np.random.default_rng([seed, 0])
    count = int(ride.end_s * receiver.rate_hz)
    even = np.arange(count) / receiver.rate_hz
    time = np.clip(even + receiver.jitter_s * rng.uniform(-0.5, 0.5, count), 0.01, ride.end_s - 0.01)
    if bias is None:
        bias = SlowBias.drawn(receiver, ride.epoch_s, ride.epoch_s + ride.end_s, seed)
    x, y = ride.antenna_xy(time)
    error = _position_error(receiver, ride.epoch_s + time, bias, rng)
    speed, heading = _velocity(ride, receiver, time, rng)
    height = None
    if receiver.height_m is not None:
        height = np.round(ride.height_at(time) + error[:, 2], 2)
    lat, lon = ride.course.plane.to_lat_lon(x + error[:, 0], y + error[:, 1])
    log = Log(
        source="simulated",
        sha256="",
        time_s=_rounded(ride.epoch_s + time, receiver.time_step_s),
        lat_deg=np.round(lat, receiver.degree_decimals),
        lon_deg=np.round(lon, receiver.degree_decimals),
        speed_mps=speed,
        heading_deg=heading,
        height_m=height,
    )
    return log.part(_kept(receiver, time, rng))


def _position_error(
    receiver: Receiver, absolute_s: FloatArray, bias: SlowBias, rng: np.random.Generator
) -> FloatArray:
    """Error of each fix east, north and up, metres, shape ``(n, 3)``."""
    n = len(absolute_s)
    error = bias.at(absolute_s)
    error += receiver.wander_m * gauss_markov(n, 1.0 / receiver.rate_hz, receiver.wander_s, rng, 3)
    white = rng.standard_normal((n, 3))
    error[:, :2] += receiver.white_m * white[:, :2]
    error[:, 2] += (receiver.height_m or 0.0) * white[:, 2]
    wild = rng.random(n) < receiver.wild_share
    error[wild] += receiver.wild_m * rng.standard_normal((int(wild.sum()), 3))
    return error


def _velocity(
    ride: Ride, receiver: Receiver, time: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray | None, FloatArray | None]:
    """Speed and heading as logged, or None and None."""
    if receiver.velocity_mps is None:
        return None, None
    vx, vy = ride.antenna_velocity(np.clip(time - receiver.lag_s, 0.01, None))
    vx = vx + receiver.velocity_mps * rng.standard_normal(len(time))
    vy = vy + receiver.velocity_mps * rng.standard_normal(len(time))
    speed = np.hypot(vx, vy)
    heading = np.degrees(np.arctan2(vx, vy))
    if receiver.freeze_below_mps > 0:
        last = np.maximum.accumulate(np.where(speed >= receiver.freeze_below_mps, np.arange(len(time)), 0))
        heading = heading[last]
    heading = np.mod(_rounded(heading, receiver.heading_step_deg), 360.0)
    return _rounded(speed, receiver.speed_step_mps), heading


def _kept(receiver: Receiver, time: FloatArray, rng: np.random.Generator) -> np.ndarray:
    """Which fixes reach the log."""
    kept = rng.random(len(time)) >= receiver.missing_share
    gaps = rng.poisson(receiver.gaps_per_hour * time[-1] / 3600.0)
    for start, length in zip(
        rng.uniform(60.0, max(time[-1] - 60.0, 61.0), gaps), rng.exponential(receiver.gap_s, gaps), strict=True
    ):
        kept &= (time < start) | (time > start + length)
    return kept


def _rounded(values: FloatArray, step: float) -> FloatArray:
    return np.round(values / step) * step if step > 0 else values
