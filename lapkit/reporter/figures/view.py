"""From the course's plane to paper: a corner turned so that the rider comes in from below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.course.course import Corner, Course
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import text_width

STEP_M = 2.0
"""Distance between the stations at which edges and lines are drawn, metres."""

LABEL_OFF = 13.0
"""From a cone to its name, points."""

_OVER_OFF = 18.0  # the same above or below it, where the word's height is in the way
_OVER = 0.4  # a side less far to the left or right than this is above or below

_EDGE = 4.0  # points kept free at the edges of the paper


class Box(NamedTuple):
    """A rectangle that something takes up on paper, by its ends, points."""

    left: float
    right: float
    low: float
    high: float

    def lifted(self, by: float) -> Box:
        """The same moved up."""
        return self._replace(low=self.low + by, high=self.high + by)


@dataclass(frozen=True)
class Label:
    """A word beside a place: where it belongs, on which side of it, and how wide it is.

    ``hung`` says by which end it hangs there, ``left``, ``center`` or ``right``; empty where its side says so.
    ``clear`` is how much further off it stands, points, because of what is drawn around its place.
    """

    x_m: float
    y_m: float
    side_x: float
    side_y: float
    text: str
    hung: str = ""
    clear: float = 0.0

    @property
    def off(self) -> float:
        """How far from its place it stands; further above or below, where its height is in the way."""
        return self.clear + (_OVER_OFF if abs(self.side_x) < _OVER else LABEL_OFF)

    def box(self, x: float, y: float) -> Box:
        """What it takes up when its place is at x and y on paper, points."""
        at, width = x + self.off * self.side_x, text_width(self.text)
        left = at - width * {"left": 0.0, "center": 0.5, "right": 1.0}[self.align]
        middle = y + self.off * self.side_y
        return Box(left, left + width, middle - 0.6 * style.FONT, middle + 0.6 * style.FONT)

    @property
    def align(self) -> str:
        """How the word hangs on its place."""
        if self.hung:
            return self.hung
        if abs(self.side_x) < _OVER:
            return "center"
        return "left" if self.side_x > 0 else "right"


@dataclass(frozen=True)
class View:
    """Turn and scale from metres on the plane to points on paper.

    Args:
        cos, sin: of the turn that brings the way in to the top of the paper.
        scale: points a metre.
        shift_x, shift_y: points added.
    """

    cos: float
    sin: float
    scale: float = 1.0
    shift_x: float = 0.0
    shift_y: float = 0.0

    def paper(self, x_m: ArrayLike, y_m: ArrayLike) -> FloatArray:
        """Points on paper, shape ``(..., 2)``; from arrays of one shape ``(...)``."""
        x, y = np.asarray(x_m, dtype=np.float64), np.asarray(y_m, dtype=np.float64)
        along = np.stack([self.cos * x - self.sin * y, self.sin * x + self.cos * y], axis=-1)
        return along * self.scale + np.array([self.shift_x, self.shift_y])

    def turned(self, x: float, y: float) -> tuple[float, float]:
        """A direction on the plane as a direction on paper."""
        return self.cos * x - self.sin * y, self.sin * x + self.cos * y


def upright(course: Course, corner: Corner, from_m: float = -np.inf) -> View:
    """The view in which the rider goes straight up at turn-in, or where the drawing begins if later.

    Args:
        course, corner: where.
        from_m: station at which the drawing begins, metres.
    """
    heading = float(course.reference.heading_at(max(corner.turn_in_m, from_m)))
    turn = 0.5 * np.pi - heading
    return View(float(np.cos(turn)), float(np.sin(turn)))


def fitted(
    view: View,
    points_m: Sequence[tuple[ArrayLike, ArrayLike]],
    labels: Sequence[Label],
    width: float,
    tallest: float,
    below: float,
) -> tuple[View, float]:
    """The view scaled so that all points and labels lie on paper, and the height they take.

    Args:
        view: a view whose turn is kept.
        points_m: x and y of everything to be seen, metres.
        labels: words to leave room for.
        width: of the paper, points.
        tallest: how high the drawing may become, points, without what is ``below``.
        below: room to leave at the bottom, points.
    """
    flat = np.concatenate([view.paper(x, y).reshape(-1, 2) for x, y in points_m])
    places = [(label, view.paper(label.x_m, label.y_m)) for label in labels]
    low, high = flat.min(axis=0), flat.max(axis=0)
    size = np.maximum(high - low, 1.0)
    scale = float(min(width / size[0], tallest / size[1]))
    for _ in range(12):
        boxes = [label.box(*(scale * at)) for label, at in places]
        left = min([scale * low[0], *(box.left for box in boxes)]) - _EDGE
        right = max([scale * high[0], *(box.right for box in boxes)]) + _EDGE
        floor = min([scale * low[1], *(box.low for box in boxes)]) - _EDGE
        roof = max([scale * high[1], *(box.high for box in boxes)]) + _EDGE
        over = max((right - left) / width, (roof - floor) / tallest)
        if over <= 1.0:
            break
        scale *= max(0.99 / over, 0.7)
    shift_x = 0.5 * (width - left - right)
    return replace(view, scale=scale, shift_x=shift_x, shift_y=below - floor), roof - floor + below


def apart(boxes: Sequence[Box], floors: Sequence[float] = ()) -> list[float]:
    """How far to move each box up so that none lies on an earlier one, points; negative for one that is moved down.

    Args:
        boxes: what is on paper, the first in its place.
        floors: for each box how low it may be moved down, points; without them none is moved down.
    """
    moved: list[Box] = []
    shifts = []
    for box, floor in zip(boxes, floors or [np.inf] * len(boxes), strict=True):
        met = [(b.low, b.high) for b in moved if box.left < b.right and b.left < box.right]
        # Upside down, to move down is to move up.
        down = -_up(-box.high, -box.low, [(-high, -low) for low, high in met])
        shift = down if box.low + down >= floor else _up(box.low, box.high, met)
        moved.append(box.lifted(shift))
        shifts.append(shift)
    return shifts


def _up(low: float, high: float, met: Sequence[tuple[float, float]]) -> float:
    """How far to move a span up so that it meets none of others, all by their low and high ends, points."""
    shift = 0.0
    for other_low, other_high in sorted(met):
        if low + shift < other_high and other_low < high + shift:
            shift = other_high - low
    return shift


def room_above(
    labels: Sequence[Label],
    view: View,
    height: float,
    taken: Sequence[Box] = (),
    floor: float = np.inf,
) -> tuple[list[float], float]:
    """How far to move each label up off the others and off what is taken, and the paper's height then.

    A label that belongs below its place is moved down instead, as far as to the ``floor``, points: moved up it would
    come to stand beside another cone, across the road.
    """
    boxes = [label.box(*view.paper(label.x_m, label.y_m)) for label in labels]
    floors = [floor if label.side_y < 0.0 else np.inf for label in labels]
    lifts = apart([*taken, *boxes], [*[np.inf] * len(taken), *floors])[len(taken) :]
    tops = [box.high + lift + _EDGE for box, lift in zip(boxes, lifts, strict=True)]
    return lifts, max([height, *tops])
