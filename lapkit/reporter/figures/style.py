"""One look for every figure: black on white, laps grey, one accent, difference by line style as well."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol, TypeVar

ACCENT = "#932700"
"""The thick lap; 8.1 to 1 against white, dark and thick in black-and-white print."""
INK = "#000000"
GREY = "#767676"
ROAD = "#efefec"

WIDTH = 336.0
"""Width of a figure, points: the width of a phone's page, so that text there is of its true size."""
FONT = 16.0
"""Size of text in a figure, points."""

EDGE_WIDTH, SEAM_WIDTH, LINE_WIDTH, LAP_WIDTH, THICK_WIDTH = 1.6, 1.1, 2.0, 1.0, 2.8
SEAM_DASH = (1.5, 3.5)
LINE_DASH = (7.0, 4.0)
RUN_DASHES: tuple[tuple[float, ...] | None, ...] = (
    None,
    (5.0, 2.0),
    (2.0, 2.0),
    (8.0, 2.0, 2.0, 2.0),
)
"""Laps of the latest run are drawn solid, those of the runs before it dashed."""

LapKey = tuple[str, int]
"""Session and number of a lap, which tell a rider's laps apart."""


class OfLap(Protocol):
    """What is drawn of one lap."""

    @property
    def session(self) -> str:
        """The run that the lap belongs to."""

    @property
    def lap(self) -> int:
        """The lap's number."""


L = TypeVar("L", bound=OfLap)


def is_thick(of_lap: OfLap, thick: LapKey | None) -> bool:
    """Whether it is the lap that is drawn thick, in front of all others."""
    return (of_lap.session, of_lap.lap) == thick


def by_run(laps: Sequence[L]) -> list[tuple[tuple[float, ...] | None, list[L]]]:
    """The laps of each run with the dash to draw them in, the latest run last."""
    runs: dict[str, list[L]] = {}
    for of_lap in laps:
        runs.setdefault(of_lap.session, []).append(of_lap)
    oldest = len(RUN_DASHES) - 1
    runs_back = range(len(runs) - 1, -1, -1)
    return [
        (RUN_DASHES[min(back, oldest)], of_run)
        for back, of_run in zip(runs_back, runs.values(), strict=True)
    ]
