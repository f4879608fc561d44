"""One look for every figure: black on white, laps grey, one accent, difference by line style as well."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from lapkit.compare.results import CornerTrace

ACCENT = "#8a1c00"
INK = "#111111"
GREY = "#8c8c8c"
PALE = "#e9e7e2"
FONT = 11.0

LINE = {"color": INK, "linewidth": 1.6, "linestyle": (0, (6, 3))}
"""The marker line: black, dashed."""
SEAM = {"color": INK, "linewidth": 0.8, "linestyle": (0, (1, 3))}
"""A seam: thin, dotted."""
EDGE = {"color": INK, "linewidth": 1.4}
"""An edge of the track."""
SHAPES = {"turn_in": ">", "apex": "^", "exit": "s", "sight": "D"}
"""Cones by kind: shape says which, never colour alone."""


def blank(width_in: float, height_in: float) -> tuple[Figure, Axes]:
    """A figure with one pair of axes and nothing on it."""
    figure = Figure(figsize=(width_in, height_in), layout="constrained")
    axes = figure.add_subplot()
    axes.tick_params(labelsize=FONT)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def cone(axes: Axes, x: float, y: float, kind: str) -> None:
    """A cone: white inside, its shape saying which kind it is."""
    axes.plot(
        x,
        y,
        SHAPES[kind],
        markersize=9,
        markerfacecolor="white",
        markeredgecolor=INK,
        markeredgewidth=1.6,
        zorder=5,
    )


def lap_style(trace: CornerTrace, spoken_of: tuple[str, int] | None) -> dict[str, object]:
    """How a lap is drawn: the one spoken of in accent and thick, the others thin and grey."""
    if spoken_of == (trace.session, trace.lap):
        return {"color": ACCENT, "linewidth": 2.4, "zorder": 4}
    return {"color": GREY, "linewidth": 0.8, "zorder": 3}


def spoken_last(
    traces: Sequence[CornerTrace], spoken_of: tuple[str, int] | None
) -> list[CornerTrace]:
    """The traces with the one spoken of on top."""
    return sorted(traces, key=lambda t: (t.session, t.lap) == spoken_of)
