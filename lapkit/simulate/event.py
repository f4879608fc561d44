"""An invented event in a folder: track file, riders.csv, the logs, and the truth beside them."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pandas as pd

from lapkit.course.course import Course
from lapkit.course.plane import Plane
from lapkit.course.track_file import track_bytes
from lapkit.course.types import GeoPoint, Track
from lapkit.errors import OutputError, TrackError
from lapkit.importer.event_folder import HEIGHTS
from lapkit.importer.log import Log
from lapkit.simulate.bias import SlowBias
from lapkit.simulate.receiver import Receiver, observe, stand
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, Habit, RiderStyle
from lapkit.simulate.truth import truth_tables
from lapkit.simulate.write import write_log
from lapkit.units import FloatArray

FIRST_RUN_S = 1_939_194_000.0
"""When an invented event's first session starts: 2031-06-14T09:00:00Z."""

SESSION_EVERY_S = 3600.0
"""Time from session to session."""

BASE_FILE = "base.csv.gz"
"""Name of the base log in an invented event's folder."""

_DAY_S = 86400.0
_STAGGER_S = 20.0  # from rider to rider, as they are let out
_BASE_BESIDE_M = 30.0  # the start line: clear of the track
_BASE_WAITS_S = 300.0  # a base receiver stands so long before anyone goes out
_NAMES = (
    "Abel", "Bea", "Cato", "Dila", "Eskil", "Fenja", "Gard", "Hedda", "Imre", "Jorun", "Kasimir",
    "Lioba", "Marlo", "Nele", "Odel", "Pirjo", "Quirin", "Runa", "Silvan", "Tove", "Ulf", "Viveka",
    "Wanda", "Xaver", "Ylva", "Zeno",
)  # fmt: skip
# Habits that are drawn for riders; the first is none.
_HABITS = (
    Habit(),
    Habit(inside_seam_exit=True),
    Habit(tighten_exit=0.25),
    Habit(early_turn_in_m=8.0),
    Habit(apex_wide_m=1.2),
)


@dataclass(frozen=True)
class Run:
    """One rider's run: who, how he rides, what logs it, and a line of riders.csv.

    ``file`` tells the format by its ending; ``seed`` moves his scatter and his receiver's errors.
    """

    rider: str
    session: str
    file: str
    style: RiderStyle
    receiver: Receiver
    start_s: float
    laps: int
    seed: int
    group: str = ""
    bike: str = ""
    note: str = ""


def invented_runs(
    riders: int, sessions: int, laps: int, receiver: Receiver, seed: int, ending: str = ".gpx.gz"
) -> tuple[Run, ...]:
    """Runs of invented riders: each his style and a habit, which every second one drops half way.

    Args:
        riders: how many.
        sessions: runs of each.
        laps: timed laps of each run.
        receiver: what everyone carries.
        seed: for who rides how and for all scatter.
        ending: how the logs are written, see :func:`lapkit.simulate.write.write_log`.
    """
    rng = np.random.default_rng([seed, riders])
    runs = []
    for i in range(riders):
        name = _NAMES[i % len(_NAMES)] + (f" {i // len(_NAMES) + 1}" if i >= len(_NAMES) else "")
        group, style = list(STYLES.items())[rng.integers(len(STYLES))]
        style = replace(style, lean_deg=style.lean_deg + float(rng.uniform(-2.0, 2.0)))
        habit = _HABITS[rng.integers(len(_HABITS))]
        for j in range(sessions):
            kept = habit if i % 2 or j < max(sessions // 2, 1) else Habit()
            runs.append(
                Run(
                    rider=name,
                    session=str(j + 1),
                    file=f"logs/{name.lower().replace(' ', '-')}-{j + 1}{ending}",
                    style=replace(style, habit=kept),
                    receiver=receiver,
                    start_s=FIRST_RUN_S + j * SESSION_EVERY_S + i * _STAGGER_S,
                    laps=laps,
                    seed=int(rng.integers(2**31)),
                    group=group,
                )
            )
    return tuple(runs)


def on_day(runs: Sequence[Run], day: date) -> tuple[Run, ...]:
    """The runs on another day at the same hours, so that a season of invented events has an order."""
    first = datetime.fromtimestamp(FIRST_RUN_S, UTC).date()
    later_s = (day - first).days * _DAY_S
    return tuple(replace(run, start_s=run.start_s + later_s) for run in runs)


def write_event(
    course: Course,
    runs: Sequence[Run],
    folder: Path,
    *,
    base_seed: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write an event folder with its truth (``truth_*.csv``), whole or not at all.

    Args:
        course: placed from a track file, with the marker line that riders have in mind.
        runs: who rides; at least one.
        folder: a new or an empty folder.
        base_seed: with it, all receivers share one slow bias, and a base log is written too.
        progress: called with how many of how many runs are done.

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
    """A folder to fill that becomes ``folder`` when all of it is done, and is taken away otherwise.

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
        half = folder.with_name(folder.name + ".part")
        shutil.rmtree(half, ignore_errors=True)
        half.mkdir(parents=True)
        try:
            yield half
            if folder.exists():
                folder.rmdir()
            half.rename(folder)
        finally:
            shutil.rmtree(half, ignore_errors=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be written ({error.strerror or error})",
            where=str(folder),
            remedy="Choose a place that you may write to.",
        ) from error


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
    """What every rider does off the line: a row a run for his habit, then one for each exception to it.

    ``corner`` and ``lap`` say where it holds, blank for everywhere; then the fields of
    :class:`~lapkit.simulate.style.Habit` and, in metres a lap, ``drift_wide_m``.
    """
    rows = []
    for run in runs:
        style = run.style
        does = [("", "", style.habit), *((name, "", h) for name, h in style.habit_at.items())]
        does += [(name, str(lap), h) for (name, lap), h in style.lapse_at.items()]
        for corner, lap, habit in does:
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
            "tyre_radius_m": HEIGHTS["tyre_radius_m"],
            "note": run.note,
        }
        for run in runs
    )


def _shared_bias(runs: Sequence[Run], seed: int) -> SlowBias:
    """One slow bias over the whole day, a while before and after."""
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
