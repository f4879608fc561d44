"""Who rides at an invented event, how, and when: its runs, before anybody has ridden them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import numpy as np

from lapkit.days import ahead_of_utc
from lapkit.simulate.receiver import Receiver
from lapkit.simulate.style import STYLES, Habit, RiderStyle

FIRST_RUN_S = 1_939_194_000.0
"""When an invented event's first session starts, unless it is told otherwise: 2031-06-14T09:00:00Z."""

SESSION_EVERY_S = 3600.0
"""Time from session to session, seconds."""

_FIRST_DAY = datetime.fromtimestamp(FIRST_RUN_S, UTC).date()
_DAY_S = 86400.0
_STAGGER_S = 20.0  # from rider to rider, as they are let out
_NAMES = (
    "Abel", "Bea", "Cato", "Dila", "Eskil", "Fenja", "Gard", "Hedda", "Imre", "Jorun", "Kasimir",
    "Lioba", "Marlo", "Nele", "Odel", "Pirjo", "Quirin", "Runa", "Silvan", "Tove", "Ulf", "Viveka",
    "Wanda", "Xaver", "Ylva", "Zeno",
)  # fmt: skip
# A rider's habit is drawn from these; the first is to have none.
_HABITS = (
    Habit(),
    Habit(inside_seam_exit=True),
    Habit(tighten_exit=0.25),
    Habit(early_turn_in_m=8.0),
    Habit(apex_wide_m=1.2),
)


@dataclass(frozen=True)
class Run:
    """One rider's run.

    Attributes:
        rider, session, group, bike, note: as in ``riders.csv``.
        file: the log, relative to the event folder; its ending sets the format.
        style: how he rides.
        receiver: what logs him.
        start_s: when he goes out to the hold point, seconds since 1970-01-01T00:00:00Z.
        laps: how many timed laps he rides.
        seed: of his scatter and of his receiver's errors.
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


@dataclass(frozen=True)
class Outline:
    """How large an invented event is, and when it takes place.

    Attributes:
        riders: how many.
        sessions: runs of each rider.
        laps: timed laps of each run.
        seed: of who rides how and of all scatter.
        day: the date; the hours are always the same.
        lon_deg: longitude of the course, degrees; its first session starts at nine by the sun there.
    """

    riders: int
    sessions: int
    laps: int
    seed: int
    day: date = _FIRST_DAY
    lon_deg: float = 0.0


def invented_runs(outline: Outline, receiver: Receiver, ending: str = ".gpx.gz") -> tuple[Run, ...]:
    """Runs of invented riders: each has a style and a habit, which every second rider drops half way.

    Args:
        outline: how many ride, how much, and when.
        receiver: what everyone carries.
        ending: of the logs' names, which sets their format; see :func:`lapkit.simulate.write.write_log`.
    """
    rng = np.random.default_rng([outline.seed, outline.riders])
    first_s = FIRST_RUN_S + (outline.day - _FIRST_DAY).days * _DAY_S
    first_s -= ahead_of_utc(outline.lon_deg).total_seconds()
    runs = []
    for i in range(outline.riders):
        name = _name(i)
        group, style = list(STYLES.items())[rng.integers(len(STYLES))]
        style = replace(style, lean_deg=style.lean_deg + float(rng.uniform(-2.0, 2.0)))
        habit = _HABITS[rng.integers(len(_HABITS))]
        for j in range(outline.sessions):
            keeps_it = i % 2 or j < max(outline.sessions // 2, 1)
            runs.append(
                Run(
                    rider=name,
                    session=str(j + 1),
                    file=f"logs/{name.lower().replace(' ', '-')}-{j + 1}{ending}",
                    style=replace(style, habit=habit if keeps_it else Habit()),
                    receiver=receiver,
                    start_s=first_s + j * SESSION_EVERY_S + i * _STAGGER_S,
                    laps=outline.laps,
                    seed=int(rng.integers(2**31)),
                    group=group,
                )
            )
    return tuple(runs)


def _name(number: int) -> str:
    """The name of a rider, counted from 0; a second round of names is numbered: Abel 2."""
    turn, i = divmod(number, len(_NAMES))
    return f"{_NAMES[i]} {turn + 1}" if turn else _NAMES[i]
