"""A number with half its interval, both rounded to the digits that the interval leaves."""

from __future__ import annotations

import math


def to_what_is_known(value: float, half: float, finest: int = 0) -> tuple[str, str]:
    """A value and half its interval as they are written: ``("41", "2")``.

    A value that is surely not zero is told so: to one digit more where ``2 ± 2`` would leave it open.

    Args:
        value: the value, finite, in the unit shown.
        half: half its 95 % interval; NaN when it has none, and its text then is empty.
        finest: decimals shown at the most, but for that digit, which is never a second one.
    """
    held = math.isfinite(half)
    # Where the interval would be told as 1.0, it is 1, as where it is a little more.
    decimals = finest if not held or half < 1.0 - 0.8 * 10.0**-finest else 0
    step = 10.0**-decimals
    while held and half >= 25.0 * step:
        step *= 10.0
    surely = held and abs(value) > half
    if surely and step >= 1.0 and abs(round(value / step)) <= _steps(half, step):
        decimals += step == 1.0
        step /= 10.0
    shown = f"{round(value / step) * step:.{decimals}f}"
    return shown, f"{_steps(half, step) * step:.{decimals}f}" if held else ""


def _steps(half: float, step: float) -> int:
    """An interval rounded up, but for a fifth of its last digit: it may claim no more than is known."""
    return max(math.ceil(half / step - 0.2), 1)
