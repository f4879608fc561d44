"""``lapkit event``: every rider of an event folder, and the summary."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options

if TYPE_CHECKING:
    from lapkit.measuring.inputs import Given
    from lapkit.measuring.options import Options
    from lapkit.reporter.formats import Formats


@click.command("event")
@click.argument("folder", type=options.FILE)
@options.course
@options.out
@options.units
@options.reading
@options.trace
@options.formats
@click.option("--no-pages", is_flag=True, help="Tables only.")
@click.option(
    "--workers", type=click.IntRange(min=1), help="Processes to use; all cores otherwise."
)
@click.option("--scheduler", metavar="ADDRESS", help="Run on a Dask cluster (extra: cluster).")
def command(
    folder: Path,
    given: Given,
    out: Path,
    read: Options,
    formats: Formats,
    workers: int | None,
    scheduler: str | None,
) -> None:
    """Every rider of an event folder, and the event summary."""
    from lapkit.cli.progress import progress_on_terminal
    from lapkit.measuring.cluster import executor_of
    from lapkit.rerun import Wanted, write_event

    options.refuse_unwritable(out, [folder, *given.files], formats)
    with progress_on_terminal("runs") as progress:
        done = write_event(
            folder,
            out,
            Wanted(given, read, formats),
            workers=workers,
            executor=executor_of(scheduler),
            progress=progress,
        )
    if done.unchanged:
        click.echo("Nothing has changed since these results were written.", err=True)
    click.echo(done.text)
