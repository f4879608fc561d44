"""What is said on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.counting import counted, listed
from lapkit.errors import printable
from lapkit.reporter.cautions import TERMINAL_CAUTION
from lapkit.reporter.course_words import line_name
from lapkit.reporter.display import (
    REACH,
    Measured,
    clock_text,
    in_units,
    known,
    length_text,
    radius_text,
)
from lapkit.reporter.event_words import NO_TRACK_FILE
from lapkit.reporter.log_words import without_lap
from lapkit.units import Units

if TYPE_CHECKING:
    import pandas as pd

    from lapkit.course.course import Course
    from lapkit.reviews import EventReview

_TALK = 3  # riders to talk to that the terminal names; the page has them all


def laps_text(course: Course, tables: dict[str, pd.DataFrame], units: Units = Units.METRIC) -> str:
    """Laps of one or several logs, and the corners when the course was found from them."""
    lines = []
    laps = tables["laps"]
    no_lap = {(rider, session): why for rider, session, _, why in without_lap(tables["logs"])}
    for (rider, session), run in laps.groupby(["rider", "session"], sort=False):
        lines.append(_whose(rider, session, tables["logs"]))
        why = no_lap.get((rider, session), "")
        lines += [f"  {why[:1].upper()}{why[1:]}."] if why else []
        lines.append(f"  {'lap':>4} {'kind':<7} {'time':>9} {'±':>6} {'distance':>10}  note")
        for row in run.itertuples():
            time = clock_text(row.time_s) if known(row.time_s) else ""
            sure = f"{REACH * row.time_sd_s:.2f}" if known(row.time_sd_s) else ""
            lines.append(
                f"  {row.lap:>4} {row.kind!s:<7} {time:>9} {sure:>6} "
                f"{row.distance_m / units.length_m:>8.0f} {units.length:<2} "
                f"{in_units(printable(row.note or ''), units)}".rstrip()
            )
    if course.found:
        lines += ["", *_found_text(course, tables, units)]
    return "\n".join(lines)


def _whose(rider: str, session: str, logs: pd.DataFrame) -> str:
    """Whose run it is; a log that is known by its name alone is called no run where it holds only one."""
    own = logs[logs["rider"] == rider]
    file = str(own.loc[own["session"] == session, "file"].iloc[0])
    if rider == file and len(own) == 1:
        return printable(file)
    run = f"{printable(rider)}, run {printable(session)}"
    return run if rider == file else f"{run} ({printable(file)})"


def _found_text(course: Course, tables: dict[str, pd.DataFrame], units: Units) -> list[str]:
    kind = "a loop" if course.closed else "an open course"
    corners = f" and its {counted(len(course.corners), 'corner')}" if course.corners else ""
    lines = [
        f"No track file: {kind} of {length_text(course.reference.length_m, units)}, its start line{corners} found "
        "from the logs.",
        "Cones, seams, lanes and the marker line are left out.",
    ]
    measured = tables["corners"]
    unknown = []
    for corner in course.corners:
        rows = measured[(measured["corner"] == corner.name) & measured["radius_min_m"].notna()]
        if not len(rows):
            unknown.append(f"{printable(corner.name)} ({corner.turn})")
            continue
        middle = rows[["radius_min_m", "radius_min_lo_m", "radius_min_hi_m"]].median()
        radius = radius_text(Measured(*middle), units)
        lines.append(
            f"  corner {printable(corner.name)}, {corner.turn}: tightest radius about {radius}, "
            f"{counted(len(rows), 'lap')}"
        )
    if len(unknown) == len(course.corners) > 0:
        lines.append("These logs cannot carry the radius of any of them.")
    elif unknown:
        lines.append(f"These logs cannot carry the radius of {listed(unknown)}.")
    return lines


def done_text(
    event: EventReview, out: Path, pages: Sequence[Path], units: Units = Units.METRIC
) -> str:
    """What was written, whom of several to talk to first, what could not be used, the caution, and the page to open."""
    from lapkit.compare.tables import timed_laps
    from lapkit.findings.untold import TOO_COARSE, untold

    laps = event.tables["laps"]
    timed = len(timed_laps(laps))
    riders = len(event.riders)
    lines = [f"{counted(riders, 'rider')}, {counted(timed, 'timed lap')}. Tables are in {out}"]
    talk = [printable(f.text) for f in event.findings if f.code == "talk_first"]
    lines += talk[:_TALK] if riders > 1 else []
    lines += [
        f"Not used: {printable(u.rider)}, run {printable(u.session)} ({printable(u.file)}): "
        f"{in_units(u.reason, units)}"
        for u in event.unusable
    ]
    lines += [
        f"Without a lap: {printable(rider)}, run {printable(session)} ({printable(file)}): "
        f"{in_units(why, units)}"
        for rider, session, file, why in without_lap(event.tables["logs"])
    ]
    lines += [
        f"Lap times only: {printable(run.rider)}, run {printable(run.session)}: {TOO_COARSE}"
        for rider in event.riders
        for run in rider.runs
        if untold([run], event.course) == TOO_COARSE
    ]
    lines += [NO_TRACK_FILE] if event.course.found else []
    lines += map(printable, event.notes)
    lines.append(TERMINAL_CAUTION)
    if pages:
        lines.append(f"Open {pages[0]}")
    return "\n".join(lines)


def line_text(table: pd.DataFrame, origin: str, units: Units) -> str:
    """Radii of the marker line and its neighbours at every corner.

    Args:
        table: of :func:`~lapkit.course.line_table.line_table`.
        origin: where the marker line came from: ``given``, ``ridden`` or ``solved``.
        units: what the reader reads.
    """
    columns = ("radius_min_m", "exit_radius_min_m", "length_m")
    digits = 1 if units is Units.METRIC else 0  # nobody walks to a tenth of a foot
    rows = [
        [
            str(row["corner"]),
            line_name(row["line"]),
            *(length_text(row[c], units, digits) for c in columns),
        ]
        for row in table.to_dict("records")
    ]
    head = ("corner", "line", "tightest radius", "at the exit", "length")
    return "\n".join(
        [f"Marker line {origin}; radii held over {length_text(10.0, units)}.", *aligned(head, rows)]
    )


def aligned(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A table in columns, the last one as long as it is, for the terminal."""
    table = [tuple(printable(cell) for cell in row) for row in (head, *rows)]
    widths = [max(len(row[place]) for row in table) for place in range(len(head))]
    return [
        "  " + "  ".join(f"{c:<{w}}" for c, w in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]
