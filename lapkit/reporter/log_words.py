"""What pages and terminal say about the logs: how good each is, and why one was not used."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from lapkit.path.offset_source import BASE_LOG, EDGES, HOLD_POINT, NOTHING
from lapkit.reporter import display
from lapkit.rounding import REACH
from lapkit.units import Units

if TYPE_CHECKING:
    import pandas as pd

    from lapkit.compare.results import RunResult, Unusable
    from lapkit.course.course import Course

_OFFSETS = {
    HOLD_POINT: "The laps are placed by the stops at the hold point",
    BASE_LOG: "The laps are placed by the base log",
    EDGES: "The laps are only held between the track’s edges",
    NOTHING: "Nothing tells how far off this receiver was",
}

_VERDICTS = {
    "good": "good",
    "fair": "fair: radius and lean are known less well",
    "laps only": "good enough for lap times only",
    "standing receiver": "the receiver stood still, so of use as a base log only",
    "no laps": "no lap of it could be timed",
}


class UnusedLog(NamedTuple):
    """A log of which no lap is told: whose it is, of which run, its file, and why."""

    rider: str
    session: str
    file: str
    why: str


class LogWords(NamedTuple):
    """How good the log of a run is, in words."""

    rider: str
    session: str
    verdict: str
    text: str
    file: str


def words_of_run(run: RunResult, units: Units, course: Course) -> Iterator[LogWords]:
    """How good the log of a run that was measured is on a course."""
    # Here, not above: what is said of a log that was not used does without scipy.
    from lapkit.findings.untold import TOO_COARSE, untold

    laps_only = untold([run], course) == TOO_COARSE
    for row in run.tables["logs"].itertuples():
        verdict, text = verdict_words(row, laps_only=laps_only), log_words(row, units, course)
        yield LogWords(str(row.rider), str(row.session), verdict, text, str(row.file))


def verdict_words(row: Any, *, laps_only: bool = False) -> str:
    """What a log is good for, from its row of the table ``logs``.

    The row judges the log by itself; ``laps_only`` says that on this course it gave no radius.
    """
    verdict = "laps only" if laps_only else str(row.verdict)
    return _VERDICTS.get(verdict, verdict)


def log_words(row: Any, units: Units, course: Course) -> str:
    """How good one log is for a course, from its row of the table ``logs``: its note, and how its laps are placed."""
    note = display.in_units(str(row.note), units)
    source = str(row.offset_from)
    placed = _OFFSETS.get(source, "")
    if not placed:
        return note
    if source == NOTHING:
        if any(corner.seams for corner in course.corners):
            placed += ", so the side of a seam that laps ran on is mostly unclear"
    elif display.known(row.position_sd_m):
        within = display.length_text(REACH * row.position_sd_m, units, 1)
        placed += f", within about {within}"
    return f"{note} {placed}."


def not_used(unusable: Unusable, units: Units) -> str:
    """That a log could not be used, and why, for its rider's own page."""
    why = display.in_units(unusable.reason.rstrip("."), units)
    return f"Run {unusable.session} ({unusable.file}) could not be used: {why}."


def without_lap(logs: pd.DataFrame) -> list[UnusedLog]:
    """Every log of which no lap could be timed, from the table ``logs``."""
    if "no_lap" not in logs:
        return []
    unlapped = logs[logs["no_lap"].fillna("").astype(str) != ""]
    names = (unlapped[c].astype(str) for c in ("rider", "session", "file", "no_lap"))
    return list(map(UnusedLog._make, zip(*names, strict=True)))
