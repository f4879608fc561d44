"""Makes the sample event again: an invented course, five invented riders, two runs each.

    python sample_data/make.py FOLDER

It writes the files beside this script again, into a new folder: byte for byte the same with the same versions of
numpy and scipy. Everything in them is invented by ``lapkit.simulate`` from fixed seeds; nobody rode it.

A coach walks the invented course with a receiver that errs by 1.5 m, three times to every cone. The
track file is what ``lapkit walk`` makes of that, and the riders ride on the course that it describes.
"""

from __future__ import annotations

import shutil
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from lapkit.course import place, read_track, write_track
from lapkit.course.types import Track
from lapkit.course.walk import track_of_walk
from lapkit.course.walk_file import read_walk
from lapkit.simulate.courses import LAYOUTS, with_line
from lapkit.simulate.event import write_event
from lapkit.simulate.invented_runs import FIRST_RUN_S, SESSION_EVERY_S, Run
from lapkit.simulate.layout_track import track_of
from lapkit.simulate.receiver import Receiver
from lapkit.simulate.style import STYLES, Habit, RiderStyle
from lapkit.simulate.track_walk import walk_of

ON_LINE = replace(
    STYLES["smooth"], lean_deg=37.0, offset_sd_m=0.12, phase_sd_m=0.6, antenna_height_m=0.95
)
INSIDE = replace(STYLES["smooth"], lean_deg=34.0, habit=Habit(inside_seam_exit=True))
TIGHTENS = replace(
    STYLES["quick"],
    lean_deg=41.0,
    habit_at={
        "Ravens Drop": Habit(tighten_exit=0.28),
        "Tannery": Habit(tighten_exit=0.25),
        "Larch": Habit(tighten_exit=0.22),
    },
)
TALKED_TO = replace(TIGHTENS, habit_at={})
EARLY = replace(
    STYLES["novice"],
    habit_at={"Larch": Habit(early_turn_in_m=9.0), "Kiln Square": Habit(early_turn_in_m=9.0)},
)
WIDE = replace(
    STYLES["rough"],
    antenna_height_m=0.85,
    habit_at={"Anvil": Habit(apex_wide_m=1.8)},
    lapse_at={("Orchard", 4): Habit(tighten_exit=0.3)},
)

USUAL = Receiver(gaps_per_hour=2.0, gap_s=1.5)
POSITIONS = replace(USUAL, velocity_mps=None)
LATE = replace(USUAL, lag_s=0.2)
ROUGH = replace(USUAL, wild_share=2e-4, missing_share=0.002)


class Rider(NamedTuple):
    """A rider of the event: his name and group, how his logs are written, and how he rides each run."""

    name: str
    group: str
    ending: str
    styles: tuple[RiderStyle, RiderStyle]
    receiver: Receiver
    note: str


RIDERS = (
    Rider("Tove", "intermediate", "gpx.gz", (ON_LINE, ON_LINE), USUAL, "antenna on the tail"),
    Rider("Marlo", "intermediate", "gpx.gz", (INSIDE, INSIDE), LATE, "antenna on the tank"),
    Rider("Iska", "quick", "csv", (TIGHTENS, TALKED_TO), USUAL, "talked to between the runs"),
    Rider("Bren", "novice", "gpx.gz", (EARLY, EARLY), POSITIONS, "logs positions only"),
    Rider("Odel", "quick", "csv.gz", (WIDE, WIDE), ROUGH, "antenna under the seat"),
)

WALK_SEED = 4

LAPS = {"novice": 6, "intermediate": 7, "quick": 8}


def sample_runs() -> tuple[Run, ...]:
    """The ten runs of the sample event."""
    return tuple(
        Run(
            rider=rider.name,
            session=str(session),
            file=f"logs/{rider.name.lower()}-{session}.{rider.ending}",
            style=rider.styles[session - 1],
            receiver=rider.receiver,
            start_s=FIRST_RUN_S + (session - 1) * SESSION_EVERY_S + 25.0 * i,
            laps=LAPS[rider.group],
            seed=100 * session + i,
            group=rider.group,
            note=rider.note,
        )
        for session in (1, 2)
        for i, rider in enumerate(RIDERS)
    )


def walked_track(folder: Path) -> Track:
    """Walk the invented course: writes ``walk.gpx`` and the track file that ``lapkit walk`` makes of it into a folder."""
    walk, track = folder / "walk.gpx", folder / "track.geojson"
    invented = place(track_of(LAYOUTS["sample"]))
    walk.write_text(walk_of(invented, seed=WALK_SEED).to_xml(), encoding="utf-8")
    write_track(track_of_walk(read_walk(walk)).track, track)
    return read_track(track)


def make(folder: Path) -> None:
    """Make the whole event in a new folder."""
    with TemporaryDirectory() as walked:
        track = walked_track(Path(walked))
        write_event(with_line(place(track)), sample_runs(), folder)
        shutil.copy(Path(walked) / "walk.gpx", folder)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python sample_data/make.py FOLDER")
    make(Path(sys.argv[1]))
