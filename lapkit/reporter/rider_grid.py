"""Riders × corners: what the event's grids of seams and of exits share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from lapkit.counting import all_of, listed

OF = "\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}"
"""Between two counts, in a grid of a few corners: ``3 of 7``."""

SHORT_OF = "/"
"""The same in a grid of many."""

_ROOMY = 9  # corners; more leave no room for the long form
_MOST_NAMED = 8  # riders; the grid has all


class Cell(NamedTuple):
    """A rider at a corner.

    Attributes:
        text: what the grid shows.
        much: whether it stands out.
        sure: whether anything is known of him there.
    """

    text: str
    much: bool = False
    sure: bool = True


class GridRow(NamedTuple):
    """A rider, the file name of his page or nothing, and his cell at each corner."""

    rider: str
    link: str
    cells: Sequence[Cell]


def of_between(corners: int) -> str:
    """What stands between two counts in a grid with this number of corners."""
    return OF if corners <= _ROOMY else SHORT_OF


def rider_sentences(
    at: Mapping[str, Sequence[str]], *, corners: int, of_one: str, of_several: str
) -> list[str]:
    """At which corners something is so of whom, most corners first; riders of whom it is so at the same ones together.

    Args:
        at: rider → names of corners; riders without one are left out.
        corners: how many the grid below has.
        of_one, of_several: the sentence with ``{who}`` and ``{where}``, of one rider and of more.
    """
    found = sorted(((rider, here) for rider, here in at.items() if here), key=lambda f: -len(f[1]))
    named, left = found[:_MOST_NAMED], found[_MOST_NAMED:]
    alike: dict[tuple[str, ...], list[str]] = {}
    for rider, here in named:
        alike.setdefault(tuple(here), []).append(rider)
    sentences = []
    for here, riders in alike.items():
        where = f"{all_of(corners, 'corner')} below" if len(here) == corners > 1 else listed(here)
        sentence = of_one if len(riders) == 1 else of_several
        sentences.append(sentence.format(who=listed(riders), where=where))
    if left:
        fewer = ", at fewer corners" if len(left[0][1]) < len(named[-1][1]) else ""
        sentences.append(f"The same is so of {len(left)} more{fewer}.")
    return sentences
