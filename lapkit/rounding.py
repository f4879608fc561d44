"""How far a 95 % interval reaches, and numbers rounded to the digits that their intervals leave."""

from __future__ import annotations

import math

REACH = 1.96
"""Standard deviations that a central 95 % interval of a normal deviate reaches to."""

# An interval is rounded up, because it may claim no more than is known. Only a fifth of its last digit is cut
# off: 1.2 is written 1, and 1.3 is written 2.
_SPARED = 0.2
_WIDEST = 25.0  # in its last digit; a wider interval loses a digit more


def to_what_is_known(value: float, half_width: float, finest: int = 0) -> tuple[str, str]:
    """A value and the half-width of its interval as they are written: ``("41", "2")``.

    A value that is surely not zero is written so: to one digit more where ``2 ± 2`` would leave it open.

    Args:
        value: the value, finite, in the unit shown.
        half_width: half its 95 % interval; NaN when it has none, and its text then is empty.
        finest: most decimals shown, apart from that one digit more, which is never a second decimal.
    """
    if not math.isfinite(half_width):
        return _written(value, 10.0**-finest), ""
    step = _last_digit(half_width, finest)
    looks_open = abs(round(value / step)) <= _steps(half_width, step)
    if looks_open and abs(value) > half_width and step >= 1.0:
        step /= 10.0
    return _written(value, step), _written(_steps(half_width, step) * step, step)


def _last_digit(half_width: float, finest: int) -> float:
    """The size of the last digit that an interval leaves: 0.1, 1, 10 and so on."""
    tenths = 10.0**-finest
    # An interval that would be written as 1.0 is written as 1, as one that is a little wider.
    if half_width < 1.0 - (1.0 - _SPARED) * tenths:
        return tenths
    step = 1.0
    while half_width >= _WIDEST * step:
        step *= 10.0
    return step


def _steps(half_width: float, step: float) -> int:
    """How many steps an interval is written as."""
    return max(math.ceil(half_width / step - _SPARED), 1)


def _written(value: float, step: float) -> str:
    """A value rounded to whole steps, with the decimals that a step has."""
    decimals = max(round(-math.log10(step)), 0)
    return f"{round(value / step) * step:.{decimals}f}"
