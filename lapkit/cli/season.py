"""``lapkit season``: a season of events in one file, and its answers."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lapkit.cli import options
from lapkit.counting import counted
from lapkit.errors import printable

if TYPE_CHECKING:
    from lapkit.units import Units

_DEFAULT = "season.sqlite"

_season = click.option(
    "--season",
    type=options.FILE,
    default=_DEFAULT,
    show_default=True,
    metavar="FILE",
    help="The season file (SQLite).",
)


def _as_given(season: Path) -> str:
    """The option that names this season file again; empty for the default one."""
    return "" if str(season) == _DEFAULT else f" --season {shlex.quote(str(season))}"


@click.group("season")
def command() -> None:
    """A season of events in one file, and its answers."""


@command.command("add")
@click.argument("folders", metavar="DIR...", type=options.FILE, nargs=-1, required=True)
@_season
@click.option(
    "--replace",
    is_flag=True,
    help="Also replace an event of which a log was exchanged or left out since.",
)
def add(folders: tuple[Path, ...], season: Path, replace: bool) -> None:
    """Put the results in DIR, written by lapkit event, into the season file.

    Adding the same event again replaces it.
    """
    from lapkit.season.results import read_results
    from lapkit.season.store import add_event

    for folder in folders:
        results = read_results(folder)
        added = add_event(season, results, replace=replace)
        if added.moved_to is not None:
            click.echo(
                f"{season}: a newer lapkit wrote this season; it was moved, unchanged, to {added.moved_to} "
                "and a new one is begun.",
                err=True,
            )
        title = printable(results.title)
        laps = counted(results.timed_laps, "timed lap")
        done = "replaced in" if added.replaced else "added to"
        click.echo(f"{title}: {laps} {done} {season}")
        for remark in added.remarks:
            click.echo(printable(remark))
    click.echo(f"Next: lapkit season show{_as_given(season)}")


@command.command("show")
@_season
@click.option("--rider", metavar="NAME", help="One rider, corner by corner.")
@click.option("--corner", metavar="NAME", help="One corner, rider by rider.")
@click.option("--out", type=options.FILE, metavar="PAGE.html", help="Also write it as a page.")
@options.units
def show(
    season: Path, rider: str | None, corner: str | None, out: Path | None, units: Units
) -> None:
    """Radius, lean and seam calls over the season; what changed; which corner troubles whom."""
    from lapkit.reporter.season_page import season_page, write_page
    from lapkit.reporter.season_terminal import season_text
    from lapkit.season.questions import ask

    answers = ask(season, rider=rider, corner=corner)
    if out is not None:
        # Before anything is printed: a reader that has seen enough would end the command.
        write_page(season_page(answers, units=units), out)
    click.echo(season_text(answers, units=units))
    if out is not None:
        click.echo(f"Open {out}")
