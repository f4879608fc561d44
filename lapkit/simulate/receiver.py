"""The log that a receiver makes of a ride, with errors of known size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.plane import Plane
from lapkit.importer.log import Log
from lapkit.simulate.bias import SlowBias, gauss_markov
from lapkit.simulate.motion import Ride

# No fix is nearer to the ends of a ride: its velocity is a difference over both sides.
_EDGE_S = 0.01
_QUIET_ENDS_S = 60.0  # no gap begins or ends while the rider stands at the hold point


@dataclass(frozen=True)
class Receiver:
    """A receiver and its errors; standard deviations are per axis.

    Attributes:
        rate_hz: fixes per second.
        bias_m, bias_s: slow bias, a Gauss–Markov process of that spread and correlation time.
        wander_m, wander_s: the same of a few seconds (signals reflected by what stands around).
        white_m: noise of each fix on its own.
        velocity_mps: noise of each velocity; None when speed and heading are not logged.
        lag_s: how old a logged velocity is.
        freeze_below_mps: speed under which heading stays what it was; 0 for never.
        wild_share, wild_m, wild_run: share of fixes at which wild ones begin, how far off they lie,
            and how many there may be in a row.
        drifts_per_hour, drift_m, drift_s: how often positions slide away to one side and come back (a
            bridge, trees), how far at most, and how long one takes.
        missing_share: share of single fixes left out.
        gaps_per_hour, gap_s: longer silences and their mean length.
        jitter_s: unevenness of the times of fixes, from end to end.
        clock_s: how far its clock is ahead of the true time.
        time_step_s, degree_decimals, speed_step_mps, heading_step_deg: what values are rounded to.
        height_m: noise of each height (its slow bias is twice the horizontal one); None when not
            logged.
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
    wild_run: int = 1
    drifts_per_hour: float = 0.0
    drift_m: float = 6.0
    drift_s: float = 8.0
    missing_share: float = 0.0
    gaps_per_hour: float = 0.0
    gap_s: float = 3.0
    jitter_s: float = 0.0
    clock_s: float = 0.0
    time_step_s: float = 0.001
    degree_decimals: int = 7
    speed_step_mps: float = 0.01
    heading_step_deg: float = 0.01
    height_m: float | None = 0.3


def observe(ride: Ride, receiver: Receiver, seed: int = 0, *, bias: SlowBias | None = None) -> Log:
    """The log that a receiver on this ride would have written; the same seed gives the same log.

    Args:
        ride: where the antenna really was.
        receiver: its errors.
        seed: for every error.
        bias: a slow bias shared with others; drawn from the seed when absent.
    """
    rng = np.random.default_rng([seed, 0])
    time = _times(receiver, ride.end_s, rng)
    if bias is None:
        bias = SlowBias.drawn(receiver.bias_m, receiver.bias_s, ride.epoch_s, ride.end_s, seed)
    place = np.stack([*ride.antenna_xy(time), ride.height_at(time)], axis=1)
    before = np.clip(time - receiver.lag_s, _EDGE_S, None)
    velocity = np.stack(ride.antenna_velocity(before), axis=1)
    antenna = _Antenna(ride.epoch_s, time, place, velocity)
    return _logged(antenna, receiver, ride.course.plane, bias, rng)


def stand(
    plane: Plane,
    at_m: tuple[float, float, float],
    receiver: Receiver,
    bias: SlowBias,
    seed: int = 0,
) -> Log:
    """The log of a receiver left standing: a base log that shares its slow bias with the riders.

    Args:
        plane: the course's plane.
        at_m: where it stands: metres east and north on the plane, and height.
        receiver: its errors.
        bias: the slow bias shared with the riders' receivers; the log covers its times.
        seed: for the errors of its own.
    """
    rng = np.random.default_rng([seed, 2])
    time = _times(receiver, float(bias.time_s[-1] - bias.time_s[0]), rng)
    place = np.broadcast_to(np.array(at_m), (len(time), 3))
    antenna = _Antenna(float(bias.time_s[0]), time, place, np.zeros((len(time), 2)))
    return _logged(antenna, receiver, plane, bias, rng)


def _times(receiver: Receiver, end_s: float, rng: np.random.Generator) -> FloatArray:
    """When fixes are taken, seconds from the start."""
    even = np.arange(int(end_s * receiver.rate_hz)) / receiver.rate_hz
    uneven = even + receiver.jitter_s * rng.uniform(-0.5, 0.5, len(even))
    return np.clip(uneven, _EDGE_S, end_s - _EDGE_S)


class _Antenna(NamedTuple):
    """Where an antenna truly was at times ``(n,)``, seconds since ``epoch_s``.

    ``place_m`` is east, north and height on the plane, ``(n, 3)``; ``velocity_mps`` is east and north, ``(n, 2)``,
    and lags as the receiver's does.
    """

    epoch_s: float
    time_s: FloatArray
    place_m: FloatArray
    velocity_mps: FloatArray


def _logged(
    antenna: _Antenna, receiver: Receiver, plane: Plane, bias: SlowBias, rng: np.random.Generator
) -> Log:
    """The log of an antenna with all errors."""
    absolute_s = antenna.epoch_s + antenna.time_s
    place = antenna.place_m + _position_error(receiver, absolute_s, bias, rng)
    speed, heading = _velocity(receiver, antenna.velocity_mps, rng)
    lat, lon = plane.to_lat_lon(place[:, 0], place[:, 1])
    stamp = _stepped(antenna.epoch_s + receiver.clock_s + antenna.time_s, receiver.time_step_s)
    later = np.concatenate([[True], np.diff(np.maximum.accumulate(stamp)) > 0])
    log = Log(
        source="simulated",
        sha256="",
        time_s=np.where(later, stamp, stamp + 0.5 * receiver.time_step_s),
        lat_deg=np.round(lat, receiver.degree_decimals),
        lon_deg=np.round(lon, receiver.degree_decimals),
        speed_mps=speed,
        heading_deg=heading,
        height_m=None if receiver.height_m is None else np.round(place[:, 2], 2),
    )
    return log.part(later & _kept(receiver, antenna.time_s, rng))


def _position_error(
    receiver: Receiver, absolute_s: FloatArray, bias: SlowBias, rng: np.random.Generator
) -> FloatArray:
    """Error of each fix east, north and up, metres, shape ``(n, 3)``."""
    n = len(absolute_s)
    wander = gauss_markov(n, 1.0 / receiver.rate_hz, receiver.wander_s, 3, rng)
    spread = np.array([receiver.white_m, receiver.white_m, receiver.height_m or 0.0])
    error = bias.at(absolute_s) + receiver.wander_m * wander + spread * rng.standard_normal((n, 3))
    for first in np.flatnonzero(rng.random(n) < receiver.wild_share):
        run = slice(first, first + int(rng.integers(1, receiver.wild_run + 1)))
        error[run] += receiver.wild_m * rng.standard_normal(3)
    if receiver.drifts_per_hour:
        error[:, :2] += _drifts(receiver, absolute_s, rng)
    return error


def _drifts(receiver: Receiver, time: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Positions that slide away and come back, metres east and north, shape ``(n, 2)``."""
    count = rng.poisson(receiver.drifts_per_hour * (time[-1] - time[0]) / 3600.0)
    begin = rng.uniform(time[0] + _QUIET_ENDS_S, time[-1] - _QUIET_ENDS_S, count)
    way = rng.uniform(0.0, 2.0 * np.pi, count)
    part = np.clip((time[:, None] - begin) / receiver.drift_s, 0.0, 1.0)
    away = receiver.drift_m * np.square(np.sin(np.pi * part))
    return away @ np.stack([np.cos(way), np.sin(way)], axis=1)


def _velocity(
    receiver: Receiver, velocity: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray | None, FloatArray | None]:
    """Speed and heading as logged, or None and None."""
    if receiver.velocity_mps is None:
        return None, None
    noisy = velocity + receiver.velocity_mps * rng.standard_normal(velocity.shape)
    speed = np.hypot(noisy[:, 0], noisy[:, 1])
    heading = np.degrees(np.arctan2(noisy[:, 0], noisy[:, 1]))
    moving = speed >= receiver.freeze_below_mps
    last = np.maximum.accumulate(np.where(moving, np.arange(len(speed)), 0))
    heading = np.mod(_stepped(heading[last], receiver.heading_step_deg), 360.0)
    return _stepped(speed, receiver.speed_step_mps), heading


def _kept(receiver: Receiver, time: FloatArray, rng: np.random.Generator) -> np.ndarray:
    """Which fixes reach the log."""
    kept = rng.random(len(time)) >= receiver.missing_share
    last = max(float(time[-1]) - _QUIET_ENDS_S, _QUIET_ENDS_S)
    count = rng.poisson(receiver.gaps_per_hour * time[-1] / 3600.0)
    starts, lengths = (
        rng.uniform(_QUIET_ENDS_S, last, count),
        rng.exponential(receiver.gap_s, count),
    )
    for start, length in zip(starts, lengths, strict=True):
        kept &= (time < start) | (time > start + length)
    return kept


def _stepped(values: FloatArray, step: float) -> FloatArray:
    """Values rounded to whole steps, where one over the step is a whole number exactly so."""
    per_unit = round(1.0 / step)
    if abs(per_unit * step - 1.0) < 1e-9:
        return np.round(values * per_unit) / per_unit
    return np.round(values / step) * step
