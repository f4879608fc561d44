"""Sentences about what was given to measure, and on whose pages they stand."""

from __future__ import annotations

from typing import NamedTuple


class Remark(NamedTuple):
    """A sentence about logs, the lines of ``riders.csv``, the track file or the cones.

    Attributes:
        text: the sentence.
        riders: whom it is about. It stands on their pages alone, since a page is handed to its rider; None for what
            is about everybody. The coach reads all of them.
    """

    text: str
    riders: tuple[str, ...] | None = None

    def concerns(self, rider: str) -> bool:
        """Whether it stands on a rider's page."""
        return self.riders is None or rider in self.riders
