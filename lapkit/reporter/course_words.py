"""What pages say about the course itself: its corners, its lines, and where the marker line came from."""

from __future__ import annotations

import numpy as np

from lapkit.compare.standard import standards
from lapkit.counting import corner_name
from lapkit.course.corridor import DEFAULT_HALF_WIDTH_M
from lapkit.course.course import Corner, Course
from lapkit.course.types import MarkerKind
from lapkit.findings.numbers import between_degrees
from lapkit.findings.sentences import ORDINALS, seam_called
from lapkit.reporter import display
from lapkit.rounding import REACH
from lapkit.units import Units

_LINES = {
    "marker": "marker line",
    "one lane in": "one lane further in",
    "inside": "inside the first seam",
}
"""What the lines of ``line.csv`` are called on pages."""

_TILTED_DEG = 0.5  # less camber is called level


def line_name(line: object) -> str:
    """What a line is called, from the column ``line`` of ``line.csv``."""
    return _LINES.get(str(line), str(line))


def seams_count_from_inside(course: Course) -> bool:
    """Whether names count seams from the inside at every corner: the first is the innermost, the second the next."""
    called = [seam_called(seam.name) for corner in course.corners for seam in corner.seams]
    counted = [
        f"{ORDINALS.get(str(place), '')} seam"
        for corner in course.corners
        for place in range(1, len(corner.seams) + 1)
    ]
    return bool(called) and called == counted


def is_tilted(camber_deg: float) -> bool:
    """Whether a camber is large enough to be mentioned; less is called level."""
    return abs(camber_deg) >= _TILTED_DEG


def camber_size_deg(camber_deg: float) -> float:
    """How large a camber is, in whole degrees; half a degree is one, since it is called no level road."""
    return float(np.floor(abs(camber_deg) + 0.5))


def _camber(corner: Corner) -> str:
    """How much the road leans the corner's own way, from the least of its cones to the most: ``2 to 3°``."""
    same_way = [m.camber_deg for m in corner.markers if m.camber_deg * corner.camber_deg > 0.0]
    sizes = [camber_size_deg(one) for one in same_way or [corner.camber_deg]]
    return between_degrees(min(sizes), max(sizes))


def corner_facts(corner: Corner, line_exit_m: float, units: Units) -> list[str]:
    """What the course itself has to say about a corner."""
    facts = []
    if len(corner.apexes_m) > 1 and corner.markers:
        facts.append(f"{len(corner.apexes_m)} apexes, ridden as one corner")
    if is_tilted(corner.camber_deg):
        way = "banked" if corner.camber_deg > 0.0 else "off camber, the road falls away"
        facts.append(f"{way} by {_camber(corner)}")
    if corner.target_lane is not None:
        facts.append(f"lane {corner.target_lane} is the one to be in")
    if display.known(line_exit_m):
        radius = display.length_text(line_exit_m, units)
        facts.append(f"the marker line’s exit keeps {radius} radius")
    return facts


def course_rows(course: Course, units: Units) -> list[tuple[str, str, str]]:
    """What the course itself has to say, corner by corner: name, turn, and what it is."""
    found = standards(course)
    return [
        (
            corner_name(c.name),
            str(c.turn),
            "; ".join(corner_facts(c, found[c.name].exit_radius_m, units)) or display.EMPTY,
        )
        for c in course.corners
    ]


def last_exit_cone(corner: Corner) -> str:
    """Name of the corner's last exit cone; empty without one."""
    exits = [marker.name for marker in corner.markers if marker.kind is MarkerKind.EXIT]
    return exits[-1] if exits else ""


def road_of_line(course: Course, units: Units) -> str:
    """Within what a line was solved: the edges, or a road that was taken to be so wide."""
    if course.edges is not None:
        return "within the edges"
    width = display.length_text(2.0 * DEFAULT_HALF_WIDTH_M, units)
    return f"within a road taken to be {width} wide (the track file has no edges)"


def line_note(course: Course, units: Units) -> str:
    """Where the marker line came from, when that is worth saying, and how well it is known."""
    off = display.length_text(REACH * course.marker_line_sd_m, units, 1)
    return {
        "solved": f"The marker line was solved from the cones: {road_of_line(course, units)}, past every cone, as open "
        "as can be.",
        "ridden": "The marker line is the mean of the coach’s own laps. His receiver too was somewhat off: where "
        f"the line lies is known to within about {off}, its radius far better.",
        "given": "The marker line is the one drawn in the track file.",
    }.get(course.marker_line_from if course.marker_line is not None else "", "")
