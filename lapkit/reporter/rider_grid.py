"""Riders × corners: what the event's grids of seams and of exits share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from lapkit.counting import listed

OF = "\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}"
"""Between two counts, in a grid of a few corners: ``3 of 7``."""

SHORT_OF = "/"
"""The same in a grid of many."""

_ROOMY = 9  # corners; more leave no room for the long form
_MOST_NAMED = 8  # riders with a sentence of their own; the grid has all


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
    at: Mapping[str, Sequence[str]], *, corners: int, every_corner: str, one: str, others: str
) -> list[str]:
    """A sentence for each rider with the corners where something is so of him, most corners first.

    Args:
        at: rider → names of corners; riders without one are left out.
        corners: how many there are.
        every_corner: what all of them are called.
        one: the sentence, with ``{rider}`` and ``{where}``.
        others: the last sentence, with ``{left}``, where there are more riders than are named.
    """
    found = sorted(((rider, here) for rider, here in at.items() if here), key=lambda f: -len(f[1]))
    sentences = []
    for rider, here in found[:_MOST_NAMED]:
        where = every_corner if len(here) == corners > 1 else listed(here)
        sentences.append(one.format(rider=rider, where=where))
    left = len(found) - _MOST_NAMED
    return [*sentences, others.format(left=left)] if left > 0 else sentences
