"""The problems of a track file on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from lapkit.course.problem import Problem
    from lapkit.units import Units


def tell(problems: Iterable[Problem], units: Units | None = None) -> int:
    """Print problems to stderr, a line each, in the reader's units; metric when None.

    Returns:
        How many of them are errors.
    """
    from lapkit.course.problem import Severity
    from lapkit.reporter.display import in_units
    from lapkit.units import Units

    errors = 0
    for problem in problems:
        click.echo(f"{problem.severity}: {in_units(str(problem), units or Units.METRIC)}", err=True)
        errors += problem.severity is Severity.ERROR
    return errors
