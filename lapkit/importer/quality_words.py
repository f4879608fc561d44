"""What there is to say of a log's quality, a sentence at a time."""

from __future__ import annotations

import numpy as np

from lapkit.importer.log import Log
from lapkit.importer.smallest_radius import QUARTER_TURN_RAD
from lapkit.units import KMH_MPS

WHOLE_SECONDS = (
    "Most fixes repeat a time, so the times were written in whole seconds; have them exported with "
    "fractions, or take the file from the logger again if a spreadsheet has saved it since."
)
TOO_COARSE = (
    "Its positions are written too coarsely: no radius and no lean from this log, lap times only."
)
STOOD = "It stood still: no laps, but of use as a base log (--base) if it was left on a known spot."

_SELDOM_HZ = 0.5  # below it the rate is given as seconds from fix to fix
_ENOUGH_HZ = 4.5  # a little below what _SET_HIGHER asks for, because times are never quite even
_SET_HIGHER = "Set the receiver to 5 Hz or more."
_EXAMPLE_RADIUS_M = 30.0  # of a tight corner, as an example
EXAMPLE_PACE_MPS = 80 * KMH_MPS
"""A usual pace through a corner, as an example, m/s."""


def sentence(note: str) -> str:
    """A note as a sentence: with a capital at its beginning and one full stop."""
    return f"{note[:1].upper()}{note[1:].rstrip('.')}."


def rate_sentence(log: Log) -> str:
    """How often the receiver wrote, over how long, and whether with a velocity."""
    minutes = (log.time_s[-1] - log.time_s[0]) / 60
    if log.rate_hz < _SELDOM_HZ:
        rate = f"A fix every {1.0 / log.rate_hz:.0f} s"
    else:
        number = f"{log.rate_hz:.3g}"
        rate = f"{number} {'fix' if number == '1' else 'fixes'} a second"
    return f"{rate} over {minutes:.1f} min, {_velocity_words(log)}."


def _velocity_words(log: Log) -> str:
    """Both speed and heading are needed; when only one was logged, it is named."""
    if log.has_velocity:
        return "with speed and heading"
    channels = {"speed": log.speed_mps, "heading": log.heading_deg}
    logged = [n for n, v in channels.items() if v is not None and np.isfinite(v).any()]
    if len(logged) != 1:
        return "without speed and heading"
    (missing,) = channels.keys() - logged
    return f"with {logged[0]} but without {missing}, so by positions alone"


def no_radius_sentence(rate_hz: float, pace_mps: float) -> str:
    """Why a log has too few fixes for any radius at the pace of its slower parts, m/s."""
    return (
        f"{_at_pace(pace_mps)} {_fixes_in_bend(rate_hz, pace_mps)}: no radius and no lean from this log, "
        f"lap times only. {_SET_HIGHER}"
    )


def radius_sentence(rate_hz: float, pace_mps: float, radius_m: float, *, also_faster: bool) -> str:
    """Down to which radius a log shows bends at the pace of its slower parts, m/s.

    Args:
        rate_hz: fixes per second.
        pace_mps: that pace.
        radius_m: the smallest radius it shows at it.
        also_faster: whether it still shows bends at :data:`EXAMPLE_PACE_MPS`.
    """
    text = f"{_at_pace(pace_mps)} it is fine enough for bends down to {radius_m:.0f} m radius."
    if not also_faster:
        text += (
            f" At {EXAMPLE_PACE_MPS / KMH_MPS:.0f} km/h {_fixes_in_bend(rate_hz, EXAMPLE_PACE_MPS)}, "
            "too few for a radius."
        )
        if rate_hz < _ENOUGH_HZ:
            text += f" {_SET_HIGHER}"
    return text


def _at_pace(pace_mps: float) -> str:
    return f"At {pace_mps / KMH_MPS:.0f} km/h, the pace of its slower parts,"


def _fixes_in_bend(rate_hz: float, speed_mps: float) -> str:
    fixes = QUARTER_TURN_RAD * _EXAMPLE_RADIUS_M * rate_hz / speed_mps
    return f"a quarter turn of {_EXAMPLE_RADIUS_M:.0f} m radius has {fixes:.1f} fixes"


def step_sentence(step_m: float) -> str:
    """That positions were written in coarse steps, metres."""
    return (
        f"Positions were written in steps of {step_m:.2g} m; have them exported with seven decimals "
        "of a degree."
    )


def speed_sentence(ratio: float) -> str:
    """A warning that the logged speed is ``ratio`` times the speed between the positions."""
    return f"The logged speed is {ratio:.2f} times what the positions say; its unit may be wrong."


def heading_sentence(off_deg: float) -> str:
    """A warning that the logged heading differs by ``off_deg`` from the direction of the positions, degrees."""
    return f"The logged heading is {off_deg:.0f}° off what the positions say."
