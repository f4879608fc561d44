"""``lapkit review``: one rider's debrief."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options

if TYPE_CHECKING:
    from lapkit.measuring.inputs import Given
    from lapkit.measuring.options import Options
    from lapkit.units import Units


@click.command("review")
@click.argument("logs", nargs=-1, required=True, type=options.LOG, metavar="LOG...")
@options.course
@click.option("--out", required=True, type=options.FILE, help="Folder for page and tables.")
@click.option("--rider", default="", help="The rider's name.")
@click.option(
    "--riders", type=options.FILE, help="A riders.csv to take name, group and heights from."
)
@options.units
@options.reading
@options.tables
@click.option("--pdf", is_flag=True, help="Also write a one-page PDF.")
def command(
    logs: tuple[Path, ...],
    given: Given,
    out: Path,
    rider: str,
    riders: Path | None,
    units: Units,
    read: Options,
    parquet: bool,
    pdf: bool,
) -> None:
    """One rider's debrief, as a page to go through with him. Each log is a run."""
    from lapkit.pipeline import review
    from lapkit.reporter import write
    from lapkit.reporter.terminal import done_text

    options.refuse_unwritable(out, logs, parquet=parquet)
    result = review(
        logs,
        replace(given, riders=riders),
        rider=rider,
        options=read,
        units=units,
    )
    pages = write(result, out, units=units, pages=True, parquet=parquet, pdf=pdf, inputs=logs)
    click.echo(done_text(result, out, pages, units))
