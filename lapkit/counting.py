"""Things counted, listed and named in words; the one place that knows singular from plural."""

from __future__ import annotations

from collections.abc import Sequence


def counted(number: int, one: str, many: str = "") -> str:
    """A number of things: ``1 lap``, ``8 laps``, ``no lap``.

    Args:
        number: how many.
        one: the singular.
        many: the plural; the singular with an s when left out.
    """
    if not number:
        return f"no {one}"
    return f"{number} {one if number == 1 else many or one + 's'}"


def all_of(number: int, one: str) -> str:
    """All of some things: ``the one lap``, ``both laps``, ``all 8 laps``."""
    return {1: f"the one {one}", 2: f"both {one}s"}.get(number, f"all {number} {one}s")


def listed(things: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``; "" for nothing."""
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} and {things[-1]}"


def first_of(things: Sequence[str], most: int = 3) -> str:
    """As :func:`listed`, but a long list is cut after its first items, with a count of the rest: ``a, b, c and 2 more``.

    One more than ``most`` is named instead of counted.
    """
    more = len(things) - most
    return listed([*things[:most], f"{more} more"] if more > 1 else things)


def run_names(sessions: Sequence[str]) -> str:
    """Runs by name: ``run 1``, ``runs 1 and 2``."""
    return f"{'run' if len(sessions) == 1 else 'runs'} {listed(sessions)}"


def corner_name(name: str) -> str:
    """A corner's name as it is said: ``Hairpin``, and ``Corner 3`` for one that is a number."""
    return f"Corner {name}" if name.isdigit() else name
