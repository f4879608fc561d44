"""The lines through a corner: the records that corner sheets show, on the page and on paper.

The table ``line.csv`` has a column for every rung of its two ladders, known by its name. They are read here, once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from lapkit.course.course import Corner
from lapkit.course.line_table import INSIDE, MARKER
from lapkit.reporter import display
from lapkit.reporter.course_words import line_name
from lapkit.reporter.display import Measured
from lapkit.units import KMH_MPS, Units

MOST_LEAN_DEG = 60.0
"""More lean than any machine on a circuit reaches, degrees (common practice)."""

MOST_KMH = 350.0
"""Faster than any machine on a circuit, km/h (common practice)."""


@dataclass(frozen=True)
class LineAtCorner:
    """A line through a corner; NaN what it does not have.

    Attributes:
        name: what it is called on pages.
        radius_min_m: its tightest radius.
        radius_min_at_m: metres of line from turn-in to there.
        exit_radius_min_m: the same of its exit phase.
        length_m: from turn-in to exit.
        lean_deg: lean that it asks for, by steady speed, km/h.
        speed_kmh: steady speed at which it asks for a lean, by lean, degrees.
    """

    name: str
    radius_min_m: float
    radius_min_at_m: float
    exit_radius_min_m: float
    length_m: float
    lean_deg: Mapping[float, float]
    speed_kmh: Mapping[float, float]


def lines_at_corner(table: pd.DataFrame, corner: Corner) -> list[LineAtCorner]:
    """The lines through a corner, from the table ``line.csv``, in its order.

    Where it has no seam there is no line inside one, though the table has its row. A line that was looked for and not found
    is told, with dashes.
    """
    rows = table[table["corner"] == corner.name]
    if not corner.seams:
        rows = rows[rows["line"] != INSIDE]
    return [
        LineAtCorner(
            name=line_name(row["line"]),
            radius_min_m=row["radius_min_m"],
            radius_min_at_m=row["radius_min_at_m"],
            exit_radius_min_m=row["exit_radius_min_m"],
            length_m=row["length_m"],
            lean_deg=_ladder(row, "lean_at_", "_kmh_deg"),
            speed_kmh=_ladder(row, "kmh_at_", "_deg"),
        )
        for row in rows.to_dict("records")
    ]


def _ladder(row: Mapping[Any, Any], begins: str, ends: str) -> dict[float, float]:
    """The cells of a ladder by the number in their columns' names."""
    return {
        float(column.removeprefix(begins).removesuffix(ends)): cell
        for column, cell in row.items()
        if column.startswith(begins)
    }


def exit_radius_of_line_m(table: pd.DataFrame, corner: Corner) -> float:
    """The tightest radius of the marker line's exit, metres; NaN without one."""
    of_line = table[(table["corner"] == corner.name) & (table["line"] == MARKER)]
    return float(of_line["exit_radius_min_m"].iloc[0]) if len(of_line) else float("nan")


def lean_text(lean_deg: float) -> str:
    """A lean that a line asks for; a lean that no machine reaches is not given to the degree."""
    if display.known(lean_deg) and lean_deg > MOST_LEAN_DEG:
        return f"over {MOST_LEAN_DEG:.0f}°"
    return display.degrees_text(Measured(lean_deg))


def speed_text(speed_kmh: float, units: Units) -> str:
    """A speed at which a line asks for a lean; empty above what machines reach, where the line is nearly straight."""
    return display.speed_text(speed_kmh * KMH_MPS if speed_kmh <= MOST_KMH else float("nan"), units)
