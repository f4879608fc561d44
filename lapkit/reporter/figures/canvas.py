"""A figure with one coordinate system: points on paper, from the lower left corner.

Every drawing works out where its metres go on the paper and draws lines, areas, cones and words there.
Without axes and ticks a figure is drawn in a tenth of the time.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from lapkit.arrays import FloatArray
from lapkit.course.types import MarkerKind
from lapkit.reporter.display import plain
from lapkit.reporter.figures import style

POINTS_PER_INCH = 72.0
LETTER_EM = 0.62
"""Width of a letter in ems, on the safe side."""

LINE_EM = 1.35
"""From one line of running text to the next, in ems."""

MOST_LINES = 9
"""Of a paragraph, unless it is told otherwise."""

_RUNNING_EM = 0.54
_NOTEBOOK_DPI = 100  # as notebooks show other figures
_LONGEST = 600  # characters of such a paragraph
_CIRCLE = np.linspace(0.0, 2.0 * np.pi, 19)[:-1]
_SHAPES = {
    MarkerKind.TURN_IN: np.array([[-0.9, -0.75], [0.9, -0.75], [0.0, 1.0]]),
    MarkerKind.APEX: np.stack([np.cos(_CIRCLE), np.sin(_CIRCLE)], axis=-1) * 0.85,
    MarkerKind.EXIT: np.array([[-0.8, -0.8], [0.8, -0.8], [0.8, 0.8], [-0.8, 0.8]]),
    MarkerKind.SIGHT: np.array([[0.0, -1.1], [0.8, 0.0], [0.0, 1.1], [-0.8, 0.0]]),
}


def text_width(text: str) -> float:
    """About how wide a text of the usual size becomes, points."""
    return len(text) * LETTER_EM * style.FONT


def wrapped(
    text: str, width: float, *, size: float, bold: bool = False, most_lines: int = MOST_LINES
) -> list[str]:
    """Running text broken into lines of about a width, points; what is longer than ``most_lines`` ends in dots."""
    letters = max(int(width / (_RUNNING_EM * size * (1.2 if bold else 1.0))), 8)
    longest = most_lines * _LONGEST // MOST_LINES
    return textwrap.wrap(plain(text, longest), letters, max_lines=most_lines, placeholder=" …")


class Drawing(Figure):
    """A figure that a notebook shows by itself, without pyplot."""

    def _repr_png_(self) -> bytes:
        out = io.BytesIO()
        self.savefig(out, format="png", dpi=_NOTEBOOK_DPI)
        return out.getvalue()


_shared: ContextVar[Drawing | None] = ContextVar("_shared", default=None)


@contextmanager
def one_figure() -> Iterator[None]:
    """Within the block every drawing is made on one figure, which the next one clears.

    For code that writes each picture out before the next is drawn, as a page does: a new figure takes a fiftieth of the time of a
    picture.
    """
    token = _shared.set(Drawing())
    try:
        yield
    finally:
        _shared.reset(token)


def _blank(width: float, height: float) -> Figure:
    """A figure of a size in points with nothing on it."""
    size = width / POINTS_PER_INCH, height / POINTS_PER_INCH
    shared = _shared.get()
    if shared is None:
        return Drawing(figsize=size)
    shared.clear()
    shared.set_size_inches(size)
    return shared


class Canvas:
    """Paper to draw on, or a part of it.

    Args:
        width, height: size, points.
        figure: the figure that this is a part of; its own when None, or that of :func:`one_figure`.
        x, y: where the lower left corner of the part lies on the paper, points.
        scale: how much larger than told everything is drawn on the part.
    """

    def __init__(
        self,
        width: float,
        height: float,
        figure: Figure | None = None,
        x: float = 0.0,
        y: float = 0.0,
        scale: float = 1.0,
    ) -> None:
        self.width, self.height = width, round(height, 1)
        self.figure = figure or _blank(width, self.height)
        self._shift, self._scale = np.array([x, y]), scale
        self._points = Affine2D().scale(1.0 / POINTS_PER_INCH) + self.figure.dpi_scale_trans

    def part(self, x: float, y: float, width: float, height: float, scale: float = 1.0) -> Canvas:
        """A part of the whole paper with its lower left corner at x and y."""
        return Canvas(width, height, self.figure, x, y, scale)

    def _at(self, points: FloatArray) -> FloatArray:
        # To a tenth of a point, finer than a screen or a printer shows: the file is written shorter and sooner.
        return np.round(np.asarray(points) * self._scale + self._shift, 1)

    def lines(
        self,
        paths: Iterable[FloatArray],
        *,
        color: str = style.INK,
        width: float = 1.0,
        dash: tuple[float, ...] | None = None,
        name: str | None = None,
        z: float = 2.0,
    ) -> None:
        """Lines, each of shape ``(n, 2)``; those with a name can be found in the SVG by it."""
        paths = [self._at(path) for path in paths]
        if not paths:
            return
        styles = [(0.0, [d / width for d in dash])] if dash else "solid"
        drawn = LineCollection(
            paths, colors=color, linewidths=width * self._scale, linestyles=styles, capstyle="round",
            joinstyle="round", zorder=z, gid=name, transform=self._points,
        )  # fmt: skip
        self.figure.add_artist(drawn)

    def areas(
        self,
        outlines: Iterable[FloatArray],
        *,
        color: str,
        alpha: float = 1.0,
        edge: str = "none",
        width: float = 0.0,
        name: str | None = None,
        z: float = 1.0,
    ) -> None:
        """Filled outlines, each of shape ``(n, 2)``."""
        for outline in outlines:
            drawn = Polygon(
                self._at(outline), facecolor=color, edgecolor=edge, linewidth=width * self._scale, alpha=alpha,
                zorder=z, gid=name, transform=self._points, joinstyle="round",
            )  # fmt: skip
            self.figure.add_artist(drawn)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = style.FONT,
        ha: str = "left",
        bold: bool = False,
        italic: bool = False,
    ) -> None:
        """Words; whatever they are, they are shown as they stand."""
        at_x, at_y = self._at(np.array([x, y]))
        words = Text(
            at_x, at_y, plain(text), fontsize=size * self._scale, ha=ha, va="center",
            color=style.INK, zorder=8, fontweight="bold" if bold else "normal",
            fontstyle="italic" if italic else "normal", parse_math=False, transform=self._points,
        )  # fmt: skip
        self.figure.add_artist(words)

    def cone(self, x: float, y: float, kind: MarkerKind, size: float = 7.0) -> None:
        """A cone; its shape says what it marks: triangle turn-in, disc apex, square exit, diamond sight."""
        filled = style.INK if kind is MarkerKind.APEX else "#ffffff"
        outline = np.array([x, y]) + size * _SHAPES[kind]
        self.areas([outline], color=filled, edge=style.INK, width=1.8, z=6)

    def arrow(self, tail: FloatArray, tip: FloatArray, *, width: float = 1.6) -> None:
        """A line from tail to tip with a filled head, each of shape ``(2,)``."""
        along = (tip - tail) / max(float(np.hypot(*(tip - tail))), 1e-9)
        across = np.array([-along[1], along[0]])
        size = 3.0 + 2.5 * width
        back = tip - size * along
        self.lines([np.stack([tail, back])], width=width, z=6)
        head = np.stack([tip, back + 0.5 * size * across, back - 0.5 * size * across])
        self.areas([head], color=style.INK, z=6)

    def paragraph(
        self,
        x: float,
        top: float,
        text: str,
        width: float,
        *,
        size: float,
        bold: bool = False,
        italic: bool = False,
        most_lines: int = MOST_LINES,
    ) -> float:
        """Running text from ``top`` downward, broken into lines as by :func:`wrapped`; where the next would begin."""
        for line in wrapped(text, width, size=size, bold=bold, most_lines=most_lines):
            self.text(x, top - 0.5 * LINE_EM * size, line, size=size, bold=bold, italic=italic)
            top -= LINE_EM * size
        return top
