"""Telling the problems of a track file on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from lapkit.course.problem import Problem


def tell(problems: Iterable[Problem], units: str = "metric") -> int:
    """Print problems to stderr, a line each in the reader's units; returns how many of them are errors."""
    from lapkit.course.problem import Severity
    from lapkit.reporter.words import in_units
    from lapkit.units import Units

    shown = Units.named(units)
    errors = 0
    for problem in problems:
        click.echo(f"{problem.severity}: {in_units(str(problem), shown)}", err=True)
        errors += problem.severity is Severity.ERROR
    return errors
