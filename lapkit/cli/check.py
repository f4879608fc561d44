"""``lapkit check``: is this log good enough, and for what."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options
from lapkit.errors import LogError, printable

if TYPE_CHECKING:
    from lapkit.importer import Log
    from lapkit.importer.quality import Quality
    from lapkit.measuring.options import Options
    from lapkit.units import Units


@click.command("check")
@click.argument("logs", nargs=-1, required=True, type=options.LOG, metavar="LOG...")
@options.units
@options.reading
def command(logs: tuple[Path, ...], units: Units, read: Options) -> None:
    """Tell whether a log is good enough, and for what.

    Says how often and how finely each log was written, what is missing, what had to be guessed or
    left out, and how tight a bend it can tell the radius of. Exit status 1 when none is usable, not even as a base log.
    """
    from lapkit.importer import assess, read_logs

    usable = False
    for path in logs:
        try:
            parts = read_logs(path, columns=dict(read.columns), max_bytes=read.max_bytes)
        except LogError as error:
            if len(logs) == 1:
                raise
            click.echo(f"lapkit: {error}", err=True)
            continue
        for number, log in enumerate(parts, 1):
            quality = assess(log)
            usable |= quality.verdict != "unusable"
            part = f" part {number} of {len(parts)}" if len(parts) > 1 else ""
            _tell(log, part, quality, units)
    if not usable:
        raise LogError(
            "no lap can be told from what was given",
            remedy="Log a ride of at least one lap, with position and time",
        )


def _tell(log: Log, part: str, quality: Quality, units: Units) -> None:
    """Print what a log is good for, and what was guessed; ``part`` says which part of its file it is."""
    from lapkit.reporter.display import in_units

    click.echo(_heading(log, part, quality))
    for line in _lines(log, quality):
        click.echo(f"  {in_units(line, units)}")
    if log.guesses:
        taken = "; ".join(f"{what}: {how}" for what, how in log.guesses.items())
        click.echo(f"  Taken as: {taken}.")


def _heading(log: Log, part: str, quality: Quality) -> str:
    from lapkit.reporter.display import moment_text

    rider = f", {printable(log.rider)}" if log.rider else ""
    breaks_off = ", as far as it goes: it breaks off" if log.breaks_off else ""
    # In the paddock it tells this run's log from an earlier one's and from that of another day.
    when = ""
    if log.has_clock:
        began = datetime.fromtimestamp(float(log.time_s[0]), UTC).isoformat()
        when = f", begun {moment_text(began, float(log.lon_deg[0]))}"
    return f"{log.source}{part}{rider}: {quality.verdict}{breaks_off}{when}"


def _lines(log: Log, quality: Quality) -> Iterator[str]:
    yield from quality.sentences
    yield from (f"{d.text}." for d in log.dropped)
