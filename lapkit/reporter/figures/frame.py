"""What drawings along a corner share: metres from turn-in across the paper, uprights at the cones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.course import Corner
from lapkit.reporter.display import plain
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import Canvas, text_width
from lapkit.reporter.figures.overhead import MARGIN_M, drawn_span_m
from lapkit.units import Units

LEFT, RIGHT, FOOT = 62.0, 10.0, 26.0
"""Room left of, right of and under what is drawn, points."""

LINE_HEIGHT = 19.0
"""From one line of names to the next, points."""

_STEPS = (10, 20, 25, 50, 100, 200, 250, 500, 1000)
_MOST_TICKS = 5  # numbers across the paper
_LONGEST_NAME = 14  # characters of a cone's name
_APART = 4.0  # between one number and the next, points


class ConeName(NamedTuple):
    """The name of a cone: across the paper where the cone is, points, and in which line of names, 0 lowest."""

    x: float
    text: str
    line: int


class Tick(NamedTuple):
    """A tick of a scale: where it lies and where the middle of its number, points, and the number."""

    x: float
    middle: float
    number: str

    @property
    def ends(self) -> tuple[float, float]:
        """Left and right end of the number, points."""
        half = 0.5 * text_width(self.number)
        return self.middle - half, self.middle + half


@dataclass(frozen=True)
class Frame:
    """Stations along a corner to points across the paper."""

    corner: Corner
    units: Units
    width: float = style.WIDTH

    @property
    def span_m(self) -> tuple[float, float]:
        """First and last station drawn."""
        return drawn_span_m(self.corner)

    def x(self, station_m: FloatArray) -> FloatArray:
        """Points across the paper for stations in metres, any shape; clipped to its ends."""
        low, high = self.span_m
        share = (np.clip(station_m, low, high) - low) / (high - low)
        return LEFT + share * (self.width - LEFT - RIGHT)

    def names(self) -> list[ConeName]:
        """The names of the cones, in as few lines as leave room between them."""
        places = [(m.station_m, plain(m.name, _LONGEST_NAME)) for m in self.corner.markers]
        if not places:
            places = [(self.corner.turn_in_m, "in"), (self.corner.exit_m, "out")]
        ends: list[float] = []
        found = []
        for station, name in sorted(places):
            x, half = float(self.x(np.array(station))), 0.5 * text_width(name)
            row = next((i for i, end in enumerate(ends) if x - half > end), len(ends))
            ends[row : row + 1] = [x + half + 4.0]
            found.append(ConeName(x, name, row))
        return found

    def head(self) -> float:
        """Room that the names of the cones need above, points."""
        return LINE_HEIGHT * (1 + max(name.line for name in self.names())) + 6.0

    def draw_names(self, paper: Canvas, top: float) -> None:
        """The names of the cones above what is drawn."""
        for name in self.names():
            half = 0.5 * text_width(name.text)
            inside = float(np.clip(name.x, half, self.width - half))
            paper.text(inside, top + LINE_HEIGHT * (name.line + 0.6), name.text, ha="center")

    def draw_uprights(self, paper: Canvas, low: float, high: float) -> None:
        """A thin line at every cone, through everything that is drawn."""
        lines = [np.array([[name.x, low], [name.x, high]]) for name in self.names()]
        paper.lines(lines, color=style.GREY, width=0.9, dash=(1.0, 3.0), z=1.5)

    def draw_metres(self, paper: Canvas, y: float) -> None:
        """Metres or feet from turn-in, under what is drawn."""
        marks = []
        for tick in self.metres():
            marks.append(np.array([[tick.x, y], [tick.x, y - 5.0]]))
            paper.text(tick.middle, y - 15.0, tick.number, ha="center")
        paper.lines([*marks, np.array([[LEFT, y], [self.width - RIGHT, y]])], width=1.2)

    def metres(self) -> list[Tick]:
        """Metres or feet from turn-in, as fine as leaves room between one number and the next."""
        last = (self.corner.exit_m - self.corner.turn_in_m + MARGIN_M) / self.units.length_m
        for step in _STEPS:
            found = self._ticks(np.arange(0.0, last, step)) if last / step <= _MOST_TICKS else []
            ends = [tick.ends for tick in found]
            if found and all(a[1] + _APART <= b[0] for a, b in pairwise(ends)):
                return found
        return self._ticks(np.zeros(1))

    def _ticks(self, values: FloatArray) -> list[Tick]:
        xs = self.x(self.corner.turn_in_m + values * self.units.length_m).tolist()
        names = [f"{value:.0f}" for value in values]
        names[-1] += f" {self.units.length}"
        most = [self.width - 0.5 * text_width(name) for name in names]
        return [Tick(x, min(x, m), name) for x, m, name in zip(xs, most, names, strict=True)]

    def path(self, station_m: FloatArray, y: FloatArray, *, broken: bool = False) -> FloatArray:
        """Points on paper, those beyond the ends left out, shape ``(n, 2)``.

        Where ``y`` is not known the line is drawn through, or breaks off if ``broken``.
        """
        low, high = self.span_m
        there = (station_m >= low) & (station_m <= high) & (np.isfinite(y) | broken)
        return np.stack([self.x(station_m[there]), y[there]], axis=-1)

    def band(self, station_m: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
        """Outline between two lines, every second point, shape ``(n, 2)``."""
        lower, upper = self.path(station_m[::2], low[::2]), self.path(station_m[::2], high[::2])
        return np.concatenate([lower, upper[::-1]])


def spread(values: Sequence[FloatArray]) -> tuple[float, float]:
    """Smallest and largest finite value of arrays of any shape; 0 and 1 when there is none."""
    finite = [v[np.isfinite(v)] for v in values]
    joined = np.concatenate(finite) if finite else np.zeros(0)
    return (float(joined.min()), float(joined.max())) if len(joined) else (0.0, 1.0)
