"""Figures as matplotlib ``Figure`` objects, and as SVG for pages."""

from lapkit.reporter.figures.along import along
from lapkit.reporter.figures.overhead import overhead
from lapkit.reporter.figures.straightened import straightened
from lapkit.reporter.figures.svg import svg_of

__all__ = ["along", "overhead", "straightened", "svg_of"]
