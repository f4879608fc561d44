"""``lapkit simulate``: riders with known truth, for training and testing."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapkit.cli import options
from lapkit.counting import counted

if TYPE_CHECKING:
    from lapkit.simulate.invented_runs import Outline
    from lapkit.simulate.receiver import Receiver

_riders = click.option(
    "--riders", type=click.IntRange(1, 500), default=5, show_default=True, help="How many riders."
)
_sessions = click.option(
    "--sessions", type=click.IntRange(1, 50), default=2, show_default=True, help="Runs a rider."
)
_laps = click.option(
    "--laps", type=click.IntRange(1, 100), default=7, show_default=True, help="Timed laps a run."
)
_date = click.option(
    "--date",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    default="2031-06-14",
    show_default=True,
    metavar="YYYY-MM-DD",
    help="When it was; another day for another event of a season.",
)
_seed = click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Same seed, same event.",
)
_rate = click.option(
    "--rate",
    type=click.FloatRange(1.0, 25.0),
    default=10.0,
    show_default=True,
    metavar="HZ",
    help="Fixes per second.",
)
_no_velocity = click.option(
    "--no-velocity", is_flag=True, help="Receivers that log positions only."
)
_lag = click.option(
    "--lag",
    type=click.FloatRange(0.0, 1.0),
    default=0.0,
    metavar="S",
    help="Age of logged velocities.",
)
_wild = click.option(
    "--wild",
    type=click.FloatRange(0.0, 0.1),
    default=0.0,
    metavar="SHARE",
    help="Share of wild fixes.",
)
_gaps = click.option(
    "--gaps", type=click.FloatRange(0.0, 120.0), default=0.0, metavar="N", help="Gaps an hour."
)


def _outline(command: options.Command) -> options.Command:
    """Options about how large the event is; the command gets them as ``outline``, an ``Outline``."""

    @wraps(command)
    def with_outline(
        *args: Any, riders: int, sessions: int, laps: int, day: datetime, seed: int, **others: Any
    ) -> Any:
        from lapkit.simulate.invented_runs import Outline

        outline = Outline(riders, sessions, laps, seed, day.date())
        return command(*args, outline=outline, **others)

    return _riders(_sessions(_laps(_date(_seed(with_outline)))))


def _receiver(command: options.Command) -> options.Command:
    """Options about what everyone carries; the command gets them as ``receiver``, a ``Receiver``."""

    @wraps(command)
    def with_receiver(
        *args: Any,
        rate: float,
        no_velocity: bool,
        lag: float,
        wild: float,
        gaps: float,
        **others: Any,
    ) -> Any:
        from lapkit.simulate.receiver import Receiver

        receiver = Receiver(
            rate_hz=rate,
            velocity_mps=None if no_velocity else Receiver.velocity_mps,
            lag_s=lag,
            wild_share=wild,
            gaps_per_hour=gaps,
        )
        return command(*args, receiver=receiver, **others)

    return _rate(_no_velocity(_lag(_wild(_gaps(with_receiver)))))


@click.command("simulate")
@click.argument("track", type=options.FILE)
@click.option("--out", required=True, type=options.FILE, help="New folder for the event.")
@_outline
@click.option(
    "--habit",
    "habits",
    multiple=True,
    metavar="'[RIDER at] CORNER: WHAT'",
    help="What riders do off the line, e.g. 'Larch: tightens exit by 15 %' or 'Bea at every corner: "
    "stays inside the seam'; else everyone has one drawn for him. May be repeated.",
)
@_receiver
@click.option(
    "--format",
    "ending",
    type=click.Choice(["gpx", "csv", "nmea"]),
    default="gpx",
    show_default=True,
    help="How logs are written (gzipped).",
)
@click.option(
    "--base", is_flag=True, help="Also a base log that shares the riders' position offset."
)
def command(
    track: Path,
    out: Path,
    outline: Outline,
    habits: tuple[str, ...],
    receiver: Receiver,
    ending: str,
    base: bool,
) -> None:
    """Riders with known truth, for training and testing.

    TRACK is a track file with a closed course, or the name of a built-in invented course: sample,
    flowing or twisty. The folder is an event folder (track.geojson, riders.csv, logs) with the
    truth beside it.
    """
    from lapkit.cli.progress import progress_on_terminal
    from lapkit.simulate.courses import course_named
    from lapkit.simulate.event import BASE_FILE, write_event
    from lapkit.simulate.habit_words import read_habits, with_habits
    from lapkit.simulate.invented_runs import invented_runs

    course = course_named(track)
    outline = replace(outline, lon_deg=course.plane.lon_deg)
    runs = invented_runs(outline, receiver, f".{ending}.gz")
    names = list(dict.fromkeys(run.rider for run in runs))
    runs = with_habits(runs, read_habits(habits, course, names))
    base_seed = outline.seed if base else None
    with progress_on_terminal("runs") as progress:
        write_event(course, runs, out, base_seed=base_seed, progress=progress)
    click.echo(f"Written: {counted(len(runs), 'run')} with the truth in {out}")
    click.echo(f"Who does what: {out / 'truth_habits.csv'}")
    beside = f" --base {out / BASE_FILE}" if base else ""
    click.echo(f"Next: lapkit event {out}{beside} --out DIR")
