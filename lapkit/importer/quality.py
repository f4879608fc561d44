"""What a log is good for: its rate, its resolution, its gaps, and the tightest bend it can show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np

from lapkit.coordinates import METRES_PER_DEGREE, step_deg
from lapkit.errors import LogError
from lapkit.importer import quality_words as words
from lapkit.importer.clean import EQUAL_TIME
from lapkit.importer.gaps import Gaps, gaps_of
from lapkit.importer.log import Log
from lapkit.importer.movement import MOVING_MPS, Movement, movement_of, spread_m
from lapkit.importer.smallest_radius import smallest_radius_m
from lapkit.units import KMH_MPS

Verdict = Literal["good", "fair", "laps only", "standing receiver", "unusable"]

GOOD_RADIUS_M = 10.0
"""A log can be good that shows radii down to this, metres: what 5 Hz show at 54 km/h (derived)."""

FAIR_RADIUS_M = 45.0
"""A log that shows radii down to this, metres, is fair: what 1 Hz shows at 50 km/h (derived). Others give laps only."""

_GOOD_RATE_HZ = 4.5  # a little below 5 Hz, because times are never quite even
_SHORTEST_S = 20.0  # no lap of a course for motorcycles is shorter (common practice, no source)
_SHORTEST_BASE_S = 600.0  # no rider is out and back in less
_SLOWEST_RATE_HZ = 0.1  # at 100 km/h a fix every 280 m
_SPOT_M = 50.0  # no receiver left on its spot strays farther
_FASTEST_MPS = 150.0  # 540 km/h is no motorcycle, but a time in another unit
_GOOD_MISSING = 0.02  # 24 s of 20 minutes (our choice)
_SPEED_OFF = 0.1  # knots and miles an hour, the nearest two units of speed, differ by 0.15
_HEADING_OFF_DEG = 15.0  # several times the error of a receiver on the move (our choice)
_COARSE_M = 0.2  # between the steps of six and of five decimals of a degree, 0.11 and 1.1 m


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


@lru_cache(maxsize=1)  # a run asks, and so does the path that is recovered from it
def assess(log: Log) -> Quality:
    """Judge what a log is good for, from the log alone."""
    if len(log) < 2:
        return _of_a_single_fix(log)
    shown = _Shown.by(log)
    return Quality(
        rate_hz=log.rate_hz,
        has_velocity=log.has_velocity,
        velocity_agrees=not shown.velocity_is_off,
        missing_s=shown.gaps.missing_s,
        step_m=shown.step_m,
        pace_mps=shown.movement.pace_mps,
        radius_m=shown.radius_m,
        tells_radius=shown.tells_radius,
        verdict=shown.verdict,
        fault=shown.fault.sentence if shown.fault else "",
        sentences=tuple(shown.sentences()),
    )


def _of_a_single_fix(log: Log) -> Quality:
    fault = "A single fix tells nothing."
    return Quality(
        rate_hz=log.rate_hz,
        has_velocity=log.has_velocity,
        velocity_agrees=True,
        missing_s=0.0,
        step_m=np.nan,
        pace_mps=np.nan,
        radius_m=np.inf,
        tells_radius=False,
        verdict="unusable",
        fault=fault,
        sentences=(fault, *map(words.sentence, log.notes)),
    )


class _Fault(NamedTuple):
    """Why no lap can be timed from a log, and the verdict that goes with it."""

    sentence: str
    verdict: Verdict = "unusable"


@dataclass(frozen=True, eq=False)
class _Shown:
    """What a log of two fixes or more shows, and what follows from it."""

    log: Log
    movement: Movement
    gaps: Gaps
    step_m: float
    radius_m: float
    fault: _Fault | None

    @classmethod
    def by(cls, log: Log) -> _Shown:
        movement = movement_of(log)
        step_m = step_deg(log.lat_deg, log.lon_deg) * METRES_PER_DEGREE
        return cls(
            log=log,
            movement=movement,
            gaps=gaps_of(log, movement.moving_s, movement.pace_mps),
            step_m=step_m,
            radius_m=smallest_radius_m(log.rate_hz, movement.pace_mps, step_m),
            fault=_fault(log, movement),
        )

    @property
    def speed_is_off(self) -> bool:
        return abs(self.movement.speed_ratio - 1.0) > _SPEED_OFF

    @property
    def velocity_is_off(self) -> bool:
        return self.speed_is_off or self.movement.heading_off_deg > _HEADING_OFF_DEG

    @property
    def fixes_suffice(self) -> bool:
        """Whether fixes come often enough for a radius and were written finely enough, gaps aside."""
        return self.fault is None and self.radius_m <= FAIR_RADIUS_M

    @property
    def tells_radius(self) -> bool:
        return self.fixes_suffice and self.gaps.leave_corners

    @property
    def verdict(self) -> Verdict:
        if self.fault:
            return self.fault.verdict
        if not self.tells_radius:
            return "laps only"
        fine = self.radius_m <= GOOD_RADIUS_M and self.log.rate_hz >= _GOOD_RATE_HZ
        whole = self.gaps.share <= _GOOD_MISSING
        return "good" if fine and whole and not self.velocity_is_off else "fair"

    def sentences(self) -> Iterator[str]:
        """The quality in plain words, ending with the reader's notes."""
        yield words.rate_sentence(self.log)
        if self.fault:
            yield self.fault.sentence
        elif not self.fixes_suffice:
            yield self._no_radius_sentence()
        elif self.gaps.leave_corners:
            yield self._radius_sentence()
        if self.step_m > _COARSE_M:
            yield words.step_sentence(self.step_m)
        yield from self.gaps.sentences(laps=self.fault is None, corners=self.fixes_suffice)
        if _most_fixes_repeat_a_time(self.log):
            yield words.WHOLE_SECONDS
        if self.velocity_is_off and not self.fault:
            if self.speed_is_off:
                yield words.speed_sentence(self.movement.speed_ratio)
            else:
                yield words.heading_sentence(self.movement.heading_off_deg)
        yield from map(words.sentence, self.log.notes)

    def _no_radius_sentence(self) -> str:
        rate_hz, pace_mps = self.log.rate_hz, self.movement.pace_mps
        if smallest_radius_m(rate_hz, pace_mps) <= FAIR_RADIUS_M:
            return words.TOO_COARSE
        return words.no_radius_sentence(rate_hz, pace_mps)

    def _radius_sentence(self) -> str:
        rate_hz = self.log.rate_hz
        faster_m = smallest_radius_m(rate_hz, words.EXAMPLE_PACE_MPS, self.step_m)
        return words.radius_sentence(
            rate_hz,
            self.movement.pace_mps,
            self.radius_m,
            also_faster=faster_m <= FAIR_RADIUS_M,
        )


def _fault(log: Log, movement: Movement) -> _Fault | None:
    """Why not even laps can be timed from a log; None when they may."""
    if log.rate_hz < _SLOWEST_RATE_HZ:
        return _Fault(f"A fix every {1.0 / log.rate_hz:.0f} s is too seldom to tell a lap.")
    if not movement.moving_s:
        return _never_rode(log)
    if movement.moving_s < _SHORTEST_S:
        return _Fault(f"It moved for {movement.moving_s:.0f} s only, too short for a lap.")
    if movement.pace_mps > _FASTEST_MPS:
        return _Fault(
            f"Times and positions do not fit: most of it would be ridden above "
            f"{movement.pace_mps / KMH_MPS:.0f} km/h."
        )
    return None


def _never_rode(log: Log) -> _Fault:
    """The fault of a receiver that was left on its spot, or carried about."""
    if spread_m(log) >= _SPOT_M:
        return _Fault(
            f"Nothing in it is faster than {MOVING_MPS / KMH_MPS:.0f} km/h: there is no ride in it."
        )
    stood_s = log.time_s[-1] - log.time_s[0]
    if stood_s < _SHORTEST_BASE_S:
        return _Fault(f"It stood still for {stood_s:.0f} s.")
    if not log.has_clock:
        return _Fault("It stood still, and without dates it is no base log either.")
    return _Fault(words.STOOD, "standing receiver")


def _most_fixes_repeat_a_time(log: Log) -> bool:
    lost = sum(one.count for one in log.dropped if one.reason == EQUAL_TIME)
    return lost > len(log)
