"""What runs are called: no rider has two runs of one name."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain, count


class RunNames:
    """The names that riders' runs have taken."""

    def __init__(self, taken: Iterable[tuple[str, str]] = ()) -> None:
        """Begin with names that are ``taken``, each a rider and a run of his."""
        self._of_rider: dict[str, set[str]] = {}
        for rider, name in taken:
            self._names_of(rider).add(name)

    def free(self, rider: str, name: str) -> str:
        """A name for a rider's run: this one or, where it is taken, with the lowest number behind it, from 2 on, that is not."""
        numbered = (f"{name} ({number})" for number in count(2))
        return next(one for one in chain([name], numbered) if one not in self._names_of(rider))

    def take(self, rider: str, name: str) -> str:
        """Take the name that :meth:`free` gives a rider's run, and return it."""
        taken = self.free(rider, name)
        self._names_of(rider).add(taken)
        return taken

    def _names_of(self, rider: str) -> set[str]:
        return self._of_rider.setdefault(rider, set())
