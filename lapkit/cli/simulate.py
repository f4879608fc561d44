"""``lapkit simulate``: riders with known truth, for training and testing."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from lapkit.cli import options
from lapkit.counting import counted


@click.command("simulate")
@click.argument("track", type=options.FILE)
@click.option("--out", required=True, type=options.FILE, help="New folder for the event.")
@click.option(
    "--riders", type=click.IntRange(1, 500), default=5, show_default=True, help="How many riders."
)
@click.option(
    "--sessions", type=click.IntRange(1, 50), default=2, show_default=True, help="Runs a rider."
)
@click.option(
    "--laps", type=click.IntRange(1, 100), default=7, show_default=True, help="Timed laps a run."
)
@click.option(
    "--habit",
    "habits",
    multiple=True,
    metavar="'[RIDER at] CORNER: WHAT'",
    help="What riders do off the line, e.g. 'Larch: tightens exit by 15 %' or 'Bea at every corner: "
    "stays inside the seam'; else everyone has one drawn for him. May be repeated.",
)
@click.option(
    "--rate",
    type=click.FloatRange(1.0, 25.0),
    default=10.0,
    show_default=True,
    metavar="HZ",
    help="Fixes per second.",
)
@click.option("--no-velocity", is_flag=True, help="Receivers that log positions only.")
@click.option(
    "--lag",
    type=click.FloatRange(0.0, 1.0),
    default=0.0,
    metavar="S",
    help="Age of logged velocities.",
)
@click.option(
    "--wild",
    type=click.FloatRange(0.0, 0.1),
    default=0.0,
    metavar="SHARE",
    help="Share of wild fixes.",
)
@click.option(
    "--gaps", type=click.FloatRange(0.0, 120.0), default=0.0, metavar="N", help="Gaps an hour."
)
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
@click.option(
    "--date",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    default="2031-06-14",
    show_default=True,
    metavar="YYYY-MM-DD",
    help="When it was; another day for another event of a season.",
)
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Same seed, same event.",
)
def command(
    track: Path,
    out: Path,
    riders: int,
    sessions: int,
    laps: int,
    habits: tuple[str, ...],
    rate: float,
    no_velocity: bool,
    lag: float,
    wild: float,
    gaps: float,
    ending: str,
    base: bool,
    day: datetime,
    seed: int,
) -> None:
    """Riders with known truth, for training and testing.

    TRACK is a track file with a closed course, or the name of a built-in invented course: sample,
    flowing or twisty. The folder is an event folder (track.geojson, riders.csv, logs) with the
    truth beside it.
    """
    from lapkit.cli.progress import progress_on_terminal
    from lapkit.simulate.courses import course_named
    from lapkit.simulate.event import BASE_FILE, invented_runs, on_day, write_event
    from lapkit.simulate.habit_words import read_habits, with_habits
    from lapkit.simulate.receiver import Receiver

    course = course_named(track)
    receiver = Receiver(
        rate_hz=rate,
        velocity_mps=None if no_velocity else Receiver.velocity_mps,
        lag_s=lag,
        wild_share=wild,
        gaps_per_hour=gaps,
    )
    runs = invented_runs(riders, sessions, laps, receiver, seed, f".{ending}.gz")
    names = list(dict.fromkeys(run.rider for run in runs))
    runs = with_habits(runs, read_habits(habits, course, names))
    runs = on_day(runs, day.date())
    with progress_on_terminal("runs") as progress:
        write_event(course, runs, out, base_seed=seed if base else None, progress=progress)
    click.echo(f"Written: {counted(len(runs), 'run')} with the truth in {out}")
    click.echo(f"Who does what: {out / 'truth_habits.csv'}")
    beside = f" --base {out / BASE_FILE}" if base else ""
    click.echo(f"Next: lapkit event {out}{beside} --out DIR")
