"""What a log is good for, in words: its rate, its resolution, its gaps, and the tightest bend it can show."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from lapkit.coordinates import METRES_PER_DEGREE, one_turn_deg, step_deg
from lapkit.errors import LogError
from lapkit.importer.clean import EQUAL_TIME
from lapkit.importer.gaps import GAP_STEPS, gaps_of
from lapkit.importer.log import Log
from lapkit.importer.repeats import offsets_m
from lapkit.importer.smallest_radius import QUARTER_TURN_RAD, smallest_radius_m
from lapkit.units import KMH_MPS, FloatArray

Verdict = Literal["good", "fair", "laps only", "standing receiver", "unusable"]

GOOD_RADIUS_M = 10.0
"""A log may be good that shows radii down to this, metres: what 5 Hz show at 54 km/h (derived)."""

FAIR_RADIUS_M = 45.0
"""A log is fair that shows radii down to this, metres, and else gives laps only: what 1 Hz shows at 50 km/h (derived)."""

_GOOD_RATE_HZ = 4.5  # a little below 5 Hz, because times are never quite even
_MOVING_MPS = 2.0  # faster than a walk, and than the noise of a receiver that stands
_SHORTEST_S = 20.0  # no lap of a course for motorcycles is shorter (common practice, no source)
_SHORTEST_BASE_S = 600.0  # no rider is out and back in less
_SELDOM_HZ = 0.5  # below it the rate is given as seconds from fix to fix
_SLOWEST_RATE_HZ = 0.1  # at 100 km/h a fix every 280 m
_SPOT_M = 50.0  # farther than any receiver strays that is left on its spot
_FASTEST_MPS = 150.0  # 540 km/h is no motorcycle, but a time in another unit
_GOOD_MISSING = 0.02  # 24 s of 20 minutes (our choice)
_SPEED_OFF = 0.1  # knots and miles an hour, the nearest two units of speed, differ by 0.15
_HEADING_OFF_DEG = 15.0  # several times the error of a receiver on the move (our choice)
_COARSE_M = 0.2  # between the steps of six and of five decimals of a degree, 0.11 and 1.1 m
_WHOLE_SECONDS = (
    "Most fixes repeat a time, so the times were written in whole seconds; have them exported with "
    "fractions."
)
_STOOD = (
    "It stood still: no laps, but of use as a base log (--base) if it was left on a known spot."
)


@dataclass(frozen=True)
class Quality:
    """What a log is good for.

    Attributes:
        rate_hz: fixes per second while logging, NaN for fewer than two fixes.
        has_velocity: whether speed and heading were logged.
        velocity_agrees: whether they agree with the positions; true when there are none.
        missing_s: seconds lost in gaps over which the rider moved.
        step_m: step in which positions were written, metres of latitude; NaN when too fine to see.
        pace_mps: speed below which a quarter of the moving time lies, as in bends; NaN for none.
        radius_m: smallest radius that it shows at that pace, metres; infinite when it shows none.
        tells_radius: whether bends of its slower parts have enough fixes for a radius, and so for a lean. If so,
            corners are measured one by one, and those with a gap in them are left empty.
        verdict: ``good``, ``fair``, ``laps only``, ``standing receiver`` (a base log) or ``unusable``.
        fault: why no lap can be timed from it, a sentence; empty when one may.
        sentences: the same and more in plain words.
    """

    rate_hz: float
    has_velocity: bool
    velocity_agrees: bool
    missing_s: float
    step_m: float
    pace_mps: float
    radius_m: float
    tells_radius: bool
    verdict: Verdict
    fault: str
    sentences: tuple[str, ...]

    def require_usable(self, source: str) -> None:
        """Refuse a log that is of no use at all, in the words of its verdict.

        Raises:
            LogError: no lap can be timed from it, and it is no base log either.
        """
        if self.verdict == "unusable":
            raise LogError(
                self.fault[:1].lower() + self.fault[1:].rstrip("."),
                where=source,
                remedy="Give another log; `lapkit check` says more of this one.",
            )


@dataclass(frozen=True)
class _Movement:
    """How the positions moved, each compared with the one about a second later."""

    moving_s: float
    pace_mps: float
    speed_ratio: float
    heading_off_deg: float


@lru_cache(maxsize=1)
def assess(log: Log) -> Quality:
    """Judge what a log is good for, from the log alone."""
    if len(log) < 2:
        fault = "A single fix tells nothing."
        return Quality(
            log.rate_hz, log.has_velocity, True, 0.0, np.nan, np.nan, np.inf, False, "unusable", fault,
            (fault, *map(sentence, log.notes)),
        )  # fmt: skip
    movement = _movement(log)
    step_m = step_deg(log.lat_deg, log.lon_deg) * METRES_PER_DEGREE
    gaps = gaps_of(log, movement.moving_s, movement.pace_mps)
    radius_m = smallest_radius_m(log.rate_hz, movement.pace_mps, step_m)
    speed_off, heading_off_deg = abs(movement.speed_ratio - 1.0), movement.heading_off_deg
    agrees = not (speed_off > _SPEED_OFF or heading_off_deg > _HEADING_OFF_DEG)
    fault = _fault(log, movement)
    often_enough = not fault and radius_m <= FAIR_RADIUS_M
    tells_radius = often_enough and gaps.leave_corners
    fine = radius_m <= GOOD_RADIUS_M and log.rate_hz >= _GOOD_RATE_HZ
    fine = fine and gaps.share <= _GOOD_MISSING and agrees
    sentences = [_rate_sentence(log)]
    if not often_enough or gaps.leave_corners:
        sentences += [fault or _radius_sentence(log, movement, radius_m, step_m)]
    sentences += [_step_sentence(step_m)] if step_m > _COARSE_M else []
    sentences += gaps.sentences(laps=not fault, corners=often_enough)
    sentences += [_WHOLE_SECONDS] if _lost_to_equal_times(log) else []
    sentences += [] if agrees or fault else [_velocity_sentence(movement)]
    return Quality(
        rate_hz=log.rate_hz,
        has_velocity=log.has_velocity,
        velocity_agrees=agrees,
        missing_s=gaps.missing_s,
        step_m=step_m,
        pace_mps=movement.pace_mps,
        radius_m=radius_m,
        tells_radius=tells_radius,
        verdict=_verdict(fault, tells_radius=tells_radius, fine=fine),
        fault=fault,
        sentences=(*sentences, *map(sentence, log.notes)),
    )


def _verdict(fault: str, *, tells_radius: bool, fine: bool) -> Verdict:
    if fault:
        return "standing receiver" if fault == _STOOD else "unusable"
    if not tells_radius:
        return "laps only"
    return "good" if fine else "fair"


def _movement(log: Log) -> _Movement:
    step = np.diff(log.time_s)
    stride = int(np.clip(np.round(1.0 / np.median(step)), 1, len(log) - 1))
    east, north = offsets_m(log.lat_deg, log.lon_deg, stride)
    taken = log.time_s[stride:] - log.time_s[:-stride]
    # Never quite zero, as it is divided by below; only the moving steps count there.
    speed = np.maximum(np.hypot(east, north) / taken, 1e-9)
    # A gap is no movement that was seen.
    seen = taken < GAP_STEPS * np.median(taken)
    moving = seen & (speed > _MOVING_MPS)
    pace = float(np.percentile(speed[moving], 25)) if moving.any() else float("nan")
    ratio, off = float("nan"), float("nan")
    if log.has_velocity and log.speed_mps is not None and log.heading_deg is not None:
        # Both ends of the step together stand for its middle, in a bend too.
        ratio = _median(((log.speed_mps[stride:] + log.speed_mps[:-stride]) / 2 / speed)[moving])
        course = np.exp(1j * np.radians(log.heading_deg))
        turned = (course[stride:] + course[:-stride]) * (north - 1j * east)
        off = _median(np.abs(np.degrees(np.angle(turned)))[moving])
    moving_s = float(np.count_nonzero(moving) * np.median(step))
    return _Movement(moving_s, pace, ratio, off)


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def _fault(log: Log, movement: _Movement) -> str:
    """Why not even laps can be timed from a log; empty when they may."""
    if log.rate_hz < _SLOWEST_RATE_HZ:
        return f"A fix every {1.0 / log.rate_hz:.0f} s is too seldom to tell a lap."
    if not movement.moving_s:
        return _never_rode(log)
    if movement.moving_s < _SHORTEST_S:
        return f"It moved for {movement.moving_s:.0f} s only, too short for a lap."
    if movement.pace_mps > _FASTEST_MPS:
        return (
            f"Times and positions do not fit: most of it would be ridden above "
            f"{movement.pace_mps / KMH_MPS:.0f} km/h."
        )
    return ""


def _from_middle_m(log: Log) -> tuple[FloatArray, FloatArray]:
    """Metres east and north of each fix from the middle of all."""
    north = (log.lat_deg - np.median(log.lat_deg)) * METRES_PER_DEGREE
    # Longitudes are taken from the first, so that they may lie across the antimeridian.
    east = one_turn_deg(log.lon_deg - log.lon_deg[0])
    east = (east - np.median(east)) * METRES_PER_DEGREE * np.cos(np.radians(log.lat_deg))
    return east, north


def _never_rode(log: Log) -> str:
    """A receiver left on its spot, or one that was carried about."""
    away = np.hypot(*_from_middle_m(log))
    if np.percentile(away, 95.0) < _SPOT_M:
        stood_s = log.time_s[-1] - log.time_s[0]
        return _STOOD if stood_s >= _SHORTEST_BASE_S else f"It stood still for {stood_s:.0f} s."
    return f"Nothing in it is faster than {_MOVING_MPS / KMH_MPS:.0f} km/h: there is no ride in it."


def _rate_sentence(log: Log) -> str:
    minutes = (log.time_s[-1] - log.time_s[0]) / 60
    rate = f"{log.rate_hz:.3g} {'fix' if f'{log.rate_hz:.3g}' == '1' else 'fixes'} a second"
    if log.rate_hz < _SELDOM_HZ:
        rate = f"A fix every {1.0 / log.rate_hz:.0f} s"
    return f"{rate} over {minutes:.1f} min, {_velocity_words(log)}."


def _velocity_words(log: Log) -> str:
    """Both speed and heading are needed; one of them alone is named, as its column was found."""
    if log.has_velocity:
        return "with speed and heading"
    channels = {"speed": log.speed_mps, "heading": log.heading_deg}
    alone = [n for n, v in channels.items() if v is not None and np.isfinite(v).any()]
    if len(alone) != 1:
        return "without speed and heading"
    (other,) = channels.keys() - alone
    return f"with {alone[0]} but without {other}, so by positions alone"


def _radius_sentence(log: Log, movement: _Movement, radius_m: float, step_m: float) -> str:
    pace = f"At {movement.pace_mps / KMH_MPS:.0f} km/h, the pace of its slower parts,"
    if radius_m > FAIR_RADIUS_M:
        return (
            f"{pace} {_fixes(log, movement.pace_mps)}: no radius and no lean from this log, "
            "lap times only. Set the receiver to 5 Hz or more."
        )
    told = f"{pace} it is fine enough for bends down to {radius_m:.0f} m radius."
    if smallest_radius_m(log.rate_hz, 80 * KMH_MPS, step_m) > FAIR_RADIUS_M:
        told += f" At 80 km/h {_fixes(log, 80 * KMH_MPS)}, too few for a radius."
    return told


def _fixes(log: Log, speed_mps: float) -> str:
    fixes = QUARTER_TURN_RAD * 30.0 * log.rate_hz / speed_mps
    return f"a quarter turn of 30 m radius has {fixes:.1f} fixes"


def _step_sentence(step_m: float) -> str:
    written = f"Positions were written in steps of {step_m:.2g} m"
    return f"{written}; have them exported with seven decimals of a degree."


def _lost_to_equal_times(log: Log) -> bool:
    lost = sum(d.count for d in log.dropped if d.reason == EQUAL_TIME)
    return lost > len(log)


def _velocity_sentence(movement: _Movement) -> str:
    if abs(movement.speed_ratio - 1.0) > _SPEED_OFF:
        return (
            f"The logged speed is {movement.speed_ratio:.2f} times what the positions say; "
            "its unit may be wrong."
        )
    return f"The logged heading is {movement.heading_off_deg:.0f}° off what the positions say."


def sentence(note: str) -> str:
    """A note as a sentence."""
    return f"{note[:1].upper()}{note[1:].rstrip('.')}."
