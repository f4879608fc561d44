"""What ``lapkit track`` says on the terminal of the marker line and its neighbours."""

from __future__ import annotations

import pandas as pd

from lapkit.compare.standard import standards
from lapkit.counting import corner_name, first_of, listed
from lapkit.course.course import Course
from lapkit.course.line_table import INSIDE
from lapkit.curvature import HELD_OVER_M
from lapkit.reporter.columns import aligned
from lapkit.reporter.course_words import line_name
from lapkit.reporter.display import length_text
from lapkit.units import Units


def line_text(table: pd.DataFrame, origin: str, units: Units) -> str:
    """Radii of the marker line and its neighbours at every corner; of the line inside a seam where there is one.

    Args:
        table: of :func:`~lapkit.course.line_table.line_table`.
        origin: where the marker line came from: ``given``, ``ridden`` or ``solved``.
        units: what the reader reads.
    """
    columns = ("radius_min_m", "exit_radius_min_m", "length_m")
    digits = 1 if units is Units.METRIC else 0  # nobody walks to a tenth of a foot
    missing = (table["line"] == INSIDE) & table["length_m"].isna()
    rows = [
        [
            str(row["corner"]),
            line_name(row["line"]),
            *(length_text(row[c], units, digits) for c in columns),
        ]
        for row in table[~missing].to_dict("records")
    ]
    head = ("corner", "line", "tightest radius", "at the exit", "length")
    title = f"Marker line {origin}; radii held over {length_text(HELD_OVER_M, units)}."
    return "\n".join([title, *aligned(head, rows)])


def without_cue_text(course: Course) -> str:
    """Corners for which the coach left no cue, as pages tell riders in his words alone what to do; empty without any."""
    silent = [corner_name(corner.name) for corner in course.corners if not corner.cues]
    if not silent:
        return ""
    return (
        f"You left no cue for {first_of(silent)}: there riders read what they rode, but no word of yours on what to do "
        "instead."
    )


def uncounted_text(course: Course) -> str:
    """Corners at which seams or exits will not be counted, for the coach to know before the event; empty without any."""
    held = standards(course)
    inside = [corner_name(c.name) for c in course.corners if held[c.name].line_inside]
    short = [corner_name(c.name) for c in course.corners if held[c.name].exit_too_short]
    lines = []
    if inside:
        lines.append(
            f"At {listed(inside)} the marker line itself runs inside the seams over most of the exit: nobody will be "
            "counted as inside them there."
        )
    if short:
        lines.append(
            f"At {listed(short)} the way from apex to exit is too short for exits to be judged."
        )
    return "\n".join(lines)
