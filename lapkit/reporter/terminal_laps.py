"""What ``lapkit laps`` says on the terminal: the laps, and the corners of a course that was found from them."""

from __future__ import annotations

import pandas as pd

from lapkit.counting import counted, listed
from lapkit.course.course import Course
from lapkit.errors import printable
from lapkit.reporter.display import (
    Measured,
    clock_text,
    in_units,
    known,
    length_text,
    radius_text,
)
from lapkit.reporter.log_words import without_lap
from lapkit.rounding import REACH
from lapkit.units import Units


def laps_text(course: Course, tables: dict[str, pd.DataFrame], units: Units = Units.METRIC) -> str:
    """Laps of one or several logs, and the corners when the course was found from them."""
    lines = []
    laps = tables["laps"]
    no_lap = {(log.rider, log.session): log.why for log in without_lap(tables["logs"])}
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
