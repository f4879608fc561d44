"""``lapkit laps``: laps on the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options
from lapkit.errors import printable

if TYPE_CHECKING:
    from lapkit.measuring.options import Options
    from lapkit.units import Units


@click.command("laps")
@click.argument("logs", nargs=-1, required=True, type=options.LOG, metavar="LOG...")
@options.track
@options.units
@options.reading
def command(logs: tuple[Path, ...], track: Path | None, units: Units, read: Options) -> None:
    """Laps on the terminal.

    Without a track file the loop and its start line are found from the logs themselves. Logs of an
    event folder are called by rider and run, as its riders.csv names them.
    """
    from lapkit.pipeline import lap_tables
    from lapkit.reporter.display import in_units
    from lapkit.reporter.terminal_laps import laps_text

    course, tables, unusable = lap_tables(logs, track=track, options=read)
    click.echo(laps_text(course, tables, units))
    for one in unusable:
        click.echo(
            f"lapkit: {printable(one.file)}: {in_units(printable(one.reason), units)}", err=True
        )
