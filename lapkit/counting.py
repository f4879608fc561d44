"""Things counted, listed and named in words: the one place that knows singular from plural."""

from __future__ import annotations

from collections.abc import Sequence


def counted(number: int, one: str, many: str = "") -> str:
    """So many of a thing: ``1 lap``, ``8 laps``, ``no lap``.

    Args:
        number: how many.
        one: what one of them is called.
        many: what several are called; with an s behind when left out.
    """
    if not number:
        return f"no {one}"
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(things: Sequence[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``; nothing of none."""
    return " and ".join(filter(None, (", ".join(things[:-1]), *things[-1:])))


def run_names(sessions: Sequence[str]) -> str:
    """Runs as one says them: ``run 1``, ``runs 1 and 2``."""
    return f"{'run' if len(sessions) == 1 else 'runs'} {listed(sessions)}"


def corner_name(name: str) -> str:
    """A corner's name as one says it; a bare number gets the word in front."""
    return f"Corner {name}" if name.isdigit() else name
