"""Telling the problems of a track file on the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from lapkit.course.problem import Problem


def tell(problems: Iterable[Problem]) -> int:
    """Print problems to stderr, a line each; returns how many of them are errors."""
    from lapkit.course.problem import Severity

    errors = 0
    for problem in problems:
        click.echo(f"{problem.severity}: {problem}", err=True)
        errors += problem.severity is Severity.ERROR
    return errors
