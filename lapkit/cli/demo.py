"""``lapkit demo``: the bundled invented event, start to finish."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options

if TYPE_CHECKING:
    from lapkit.units import Units


@click.command("demo")
@click.option(
    "--out",
    type=options.FILE,
    default=Path("lapkit-demo"),
    show_default=True,
    help="Folder for pages and tables.",
)
@options.units
def command(out: Path, units: Units) -> None:
    """The bundled invented event, start to finish."""
    from lapkit.cli.progress import progress_on_terminal
    from lapkit.measuring.inputs import event_inputs
    from lapkit.pipeline import event
    from lapkit.reporter import write
    from lapkit.reporter.formats import Formats
    from lapkit.reporter.terminal import done_text
    from lapkit.sample import sample_event

    formats = Formats(units)
    options.refuse_unwritable(out, [], formats)
    click.echo("An invented event: five invented riders, two runs each, on an invented course.")
    with progress_on_terminal("runs") as progress:
        result = event(event_inputs(sample_event()), units=units, progress=progress)
    pages = write(result, out, formats)
    click.echo(done_text(result, out, pages, units))
