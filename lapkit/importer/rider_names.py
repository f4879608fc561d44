"""Riders whose names are nearly the same: perhaps one person, written down in two ways."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from difflib import SequenceMatcher
from itertools import combinations

from lapkit.counting import listed

_ALIKE = 0.75
"""Share of letters that two spellings of a name have in common: one letter of four may differ, of three none."""


def look_alike_riders(runs: Mapping[str, Collection[str]]) -> Iterator[str]:
    """Sentences about riders of an event who may be one person.

    Their names differ by capitals or spaces alone; or they are spelt almost alike, and no run has both of them.

    Args:
        runs: rider, as ``riders.csv`` writes him → names of his runs.
    """
    by_letters: dict[str, list[str]] = {}
    for name in runs:
        by_letters.setdefault(_letters(name), []).append(name)
    for same in by_letters.values():
        if len(same) > 1:
            quoted = listed([f"“{name}”" for name in same])
            yield (
                f"{quoted} are kept apart as {len(same)} riders. If they are one, write the name alike "
                "in riders.csv."
            )
    for one, other in never_together(runs):
        yield (
            f"“{one}” and “{other}” are spelt almost alike, and no run has both. If they are one rider, write the name "
            "alike in riders.csv."
        )


def never_together(present: Mapping[str, Collection[str]]) -> Iterator[tuple[str, str]]:
    """Pairs of riders spelt almost alike, though not by the same letters, who were never there together.

    Args:
        present: rider → where he was: names of runs, or of events.
    """
    for (one, there), (other, elsewhere) in combinations(present.items(), 2):
        if set(there).isdisjoint(elsewhere) and _almost_alike(_letters(one), _letters(other)):
            yield one, other


def _letters(name: str) -> str:
    return "".join(name.casefold().split())


def _almost_alike(one: str, other: str) -> bool:
    """Whether two names differ by little, but not in a number: riders may be called by one."""
    numbers = [[letter for letter in name if letter.isdigit()] for name in (one, other)]
    if one == other or numbers[0] != numbers[1]:
        return False
    return SequenceMatcher(None, one, other, autojunk=False).ratio() >= _ALIKE
