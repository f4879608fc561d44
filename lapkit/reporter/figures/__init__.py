"""Figures as matplotlib ``Figure`` objects, and as SVG for pages."""

from lapkit.reporter.figures.along import along
from lapkit.reporter.figures.course_map import course_map, course_map_svg
from lapkit.reporter.figures.icon import corner_icon
from lapkit.reporter.figures.overhead import overhead
from lapkit.reporter.figures.straightened import straightened
from lapkit.reporter.figures.svg import standalone, svg_of

__all__ = [
    "along",
    "corner_icon",
    "course_map",
    "course_map_svg",
    "overhead",
    "standalone",
    "straightened",
    "svg_of",
]
