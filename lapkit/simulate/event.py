"""An invented event as a folder: track file, ``riders.csv``, the logs, and the truth about them."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pandas as pd

from lapkit.arrays import FloatArray
from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.track_file import track_bytes
from lapkit.course.types import GeoPoint, Track
from lapkit.errors import OutputError, TrackError
from lapkit.importer.heights import Heights
from lapkit.importer.log import Log
from lapkit.lock import held
from lapkit.simulate.bias import SlowBias
from lapkit.simulate.invented_runs import SESSION_EVERY_S, Run
from lapkit.simulate.receiver import Receiver, observe, stand
from lapkit.simulate.ride import ride
from lapkit.simulate.truth import truth_tables
from lapkit.simulate.write import write_log

BASE_FILE = "base.csv.gz"
"""Name of the base log in an invented event's folder."""

_BASE_BESIDE_M = 30.0  # from the start line to the base receiver: clear of the track
_BASE_WAITS_S = 300.0  # that the base receiver stands before anyone goes out


def write_event(
    course: Course,
    runs: Sequence[Run],
    folder: Path,
    *,
    base_seed: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Ride the runs and write an event folder with the truth (``truth_*.csv``), whole or not at all.

    Args:
        course: placed from a track file, with the marker line that riders have in mind.
        runs: at least one.
        folder: a new or an empty folder.
        base_seed: when given, all receivers share one slow bias, and a base log is written too.
        progress: called with runs done and runs in all.

    Raises:
        TrackError: the course was not placed from a track file.
        OutputError: the folder holds something already, or cannot be written.
    """
    track, bias = course.track, None
    if track is None:
        raise TrackError(
            "a course found from logs has no track file for an event folder",
            remedy="Place a track file, and simulate riders on that course.",
        )
    with _whole_folder(folder) as half:
        if base_seed is not None:
            bias, spot = _shared_bias(runs, base_seed), _base_spot(course)
            base = _base_log(course.plane, spot, runs[0].receiver, bias, base_seed)
            write_log(base, half / BASE_FILE)
            track = _with_base_point(course.plane, track, spot)
        (half / "track.geojson").write_bytes(track_bytes(track))
        _ride_all(course, runs, half, bias, progress)
        habits(runs).to_csv(half / "truth_habits.csv", index=False)
        _riders(runs).to_csv(half / "riders.csv", index=False)


@contextmanager
def _whole_folder(folder: Path) -> Iterator[Path]:
    """A folder to fill, which becomes ``folder`` when all is done and is removed otherwise.

    Raises:
        OutputError: as :func:`write_event`.
    """
    folder = folder.resolve()
    try:
        if folder.exists() and any(folder.iterdir()):
            raise OutputError(
                "there is something in this folder already",
                where=str(folder),
                remedy="Name a new folder, or take what is in it away.",
            )
        folder.parent.mkdir(parents=True, exist_ok=True)
        with held(folder.with_name(f".{folder.name}.lapkit-lock")) as alone:
            if not alone:
                raise OutputError(
                    "another run is writing this folder",
                    where=str(folder),
                    remedy="Wait for it to end, or name another folder.",
                )
            yield from _filled(folder)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be written ({error.strerror or error})",
            where=str(folder),
            remedy="Choose a place that you may write to.",
        ) from error


def _filled(folder: Path) -> Iterator[Path]:
    """A hidden folder to fill, which takes its place at the end; one that a killed run left is cleared away."""
    half = folder.with_name(f".{folder.name}.lapkit-new")
    shutil.rmtree(half, ignore_errors=True)
    half.mkdir()
    try:
        yield half
        if folder.exists():
            folder.rmdir()
        half.rename(folder)
    finally:
        shutil.rmtree(half, ignore_errors=True)


def _ride_all(
    course: Course,
    runs: Sequence[Run],
    folder: Path,
    bias: SlowBias | None,
    progress: Callable[[int, int], None] | None,
) -> None:
    """Write the log and the truth of every run."""
    tables: dict[str, list[pd.DataFrame]] = {}
    for done, run in enumerate(runs, 1):
        ridden = ride(course, run.style, laps=run.laps, seed=run.seed, epoch_s=run.start_s)
        (folder / run.file).parent.mkdir(parents=True, exist_ok=True)
        write_log(observe(ridden, run.receiver, run.seed, bias=bias), folder / run.file)
        for name, table in truth_tables(ridden).items():
            table.insert(0, "rider", run.rider)
            table.insert(1, "session", run.session)
            tables.setdefault(name, []).append(table)
        if progress is not None:
            progress(done, len(runs))
    for name, parts in tables.items():
        whole = pd.concat(parts, ignore_index=True)
        form = "%.14g" if name == "laps" else "%.5g"
        whole.to_csv(folder / f"truth_{name}.csv", index=False, float_format=form)


def habits(runs: Sequence[Run]) -> pd.DataFrame:
    """What riders do off the line: for each run a row with the usual habit, then one for each exception.

    ``corner`` and ``lap`` say where a row holds, blank for everywhere. Then come the fields of
    :class:`~lapkit.simulate.style.Habit` and ``drift_wide_m``, metres a lap.
    """
    rows = []
    for run in runs:
        style = run.style
        placed = [("", "", style.habit)]
        placed += [(corner, "", habit) for corner, habit in style.habit_at.items()]
        placed += [(corner, str(lap), habit) for (corner, lap), habit in style.lapse_at.items()]
        for corner, lap, habit in placed:
            where = {"rider": run.rider, "session": run.session, "corner": corner, "lap": lap}
            rows.append(where | asdict(habit) | {"drift_wide_m": style.drift_wide_m})
    return pd.DataFrame(rows)


def _riders(runs: Sequence[Run]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "rider": run.rider,
            "session": run.session,
            "file": run.file,
            "group": run.group,
            "bike": run.bike,
            "antenna_height_m": run.style.antenna_height_m,
            "com_height_m": run.style.com_height_m,
            "tyre_radius_m": Heights().tyre_radius_m,
            "note": run.note,
        }
        for run in runs
    )


def _shared_bias(runs: Sequence[Run], seed: int) -> SlowBias:
    """One slow bias over the whole day, from before the first run until after the last."""
    first = min(run.start_s for run in runs) - _BASE_WAITS_S
    last = max(run.start_s for run in runs) + SESSION_EVERY_S
    receiver = runs[0].receiver
    return SlowBias.drawn(receiver.bias_m, receiver.bias_s, first, last - first, seed)


def _base_spot(course: Course) -> FloatArray:
    """Where the base receiver stands, left of the start line, metres, ``(2,)``."""
    line = course.start_line
    return line[0] + _BASE_BESIDE_M * (line[0] - line[1]) / np.hypot(*(line[0] - line[1]))


def _base_log(plane: Plane, spot: FloatArray, receiver: Receiver, bias: SlowBias, seed: int) -> Log:
    """The log of a receiver of that kind left standing, once a second and without velocity."""
    slow = replace(receiver, rate_hz=1.0, velocity_mps=None, wild_share=0.0, gaps_per_hour=0.0)
    return stand(plane, (float(spot[0]), float(spot[1]), 0.0), slow, bias, seed)


def _with_base_point(plane: Plane, track: Track, spot: FloatArray) -> Track:
    lat, lon = plane.to_lat_lon(*spot)
    return replace(
        track, base_points=(*track.base_points, GeoPoint(float(lon), float(lat), "base"))
    )
