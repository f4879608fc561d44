"""``lapkit review``: one rider's debrief."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options

if TYPE_CHECKING:
    from lapkit.measuring.inputs import Given
    from lapkit.measuring.options import Options
    from lapkit.reporter.formats import Formats


@click.command("review")
@click.argument("logs", nargs=-1, required=True, type=options.LOG, metavar="LOG...")
@options.course
@options.out
@click.option("--rider", default="", help="The rider's name.")
@click.option(
    "--riders", type=options.FILE, help="A riders.csv to take name, group and heights from."
)
@options.units
@options.reading
@options.trace
@options.formats
def command(
    logs: tuple[Path, ...],
    given: Given,
    out: Path,
    rider: str,
    read: Options,
    formats: Formats,
) -> None:
    """One rider's debrief, as a page to go through with him. Each log is a run."""
    from lapkit.pipeline import review
    from lapkit.reporter import write
    from lapkit.reporter.terminal import done_text

    options.refuse_unwritable(out, [*logs, *given.files], formats)
    result = review(logs, given, rider=rider, options=read, units=formats.units)
    pages = write(result, out, formats)
    click.echo(done_text(result, out, pages, formats.units, printable_sheets=formats.pdf))
