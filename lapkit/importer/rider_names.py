"""Riders whose names are nearly the same: perhaps one person, written down in two ways.

The search and its sentence serve both the runs of an event and the events of a season.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from difflib import SequenceMatcher
from itertools import combinations

from lapkit.counting import listed
from lapkit.remarks import Remark

_ALIKE = 0.75
"""Share of letters that two spellings of a name have in common: one letter of four may differ, of three none."""


def look_alike_riders(runs: Mapping[str, Collection[str]]) -> Iterator[Remark]:
    """Remarks on riders of an event who may be one person.

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
            text = (
                f"{quoted} are kept apart as {len(same)} riders. If they are one, write the name alike "
                "in riders.csv."
            )
            yield Remark(text, tuple(same))
    for one, other in perhaps_one_rider(combinations(runs, 2), runs):
        if _letters(one) != _letters(other):
            yield Remark(f"{spelt_almost_alike(one, other, 'run')}.", (one, other))


def perhaps_one_rider(
    pairs: Iterable[tuple[str, str]], seen_in: Mapping[str, Collection[str]]
) -> Iterator[tuple[str, str]]:
    """Those pairs of names that are spelt almost alike and were never seen together.

    Args:
        pairs: the names to compare.
        seen_in: name → the runs or events that have it; two who rode together are two.
    """
    for one, other in pairs:
        if set(seen_in[one]).isdisjoint(seen_in[other]) and _almost_alike(one, other):
            yield one, other


def spelt_almost_alike(one: str, other: str, together: str) -> str:
    """A sentence about such a pair, without its full stop; ``together`` is what never has both, a run or an event."""
    return (
        f"“{one}” and “{other}” are spelt almost alike, and no {together} has both. If they are one rider, write the "
        "name alike in riders.csv"
    )


def _almost_alike(one: str, other: str) -> bool:
    """Whether two names differ by little, but not in a number: riders may be called by one."""
    letters = _letters(one), _letters(other)
    numbers = [[letter for letter in name if letter.isdigit()] for name in letters]
    if numbers[0] != numbers[1]:
        return False
    return SequenceMatcher(None, *letters, autojunk=False).ratio() >= _ALIKE


def _letters(name: str) -> str:
    return "".join(name.casefold().split())
