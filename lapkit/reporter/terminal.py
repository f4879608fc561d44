"""What is said on the terminal when an event's or a rider's results are written."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.counting import counted
from lapkit.errors import printable
from lapkit.reporter.cautions import TERMINAL_CAUTION
from lapkit.reporter.display import in_units
from lapkit.reporter.event_words import NO_TRACK_FILE
from lapkit.reporter.log_words import without_lap
from lapkit.units import Units

if TYPE_CHECKING:
    from lapkit.measuring.reviews import EventReview

_TALK = 3  # riders to talk to that the terminal names; the page has them all


def done_text(
    event: EventReview, out: Path, pages: Sequence[Path], units: Units = Units.METRIC
) -> str:
    """What was written, whom of several to talk to first, what could not be used, the caution, and the page to open."""
    from lapkit.compare.tables import timed_laps
    from lapkit.findings import EventCode
    from lapkit.findings.untold import TOO_COARSE, untold

    laps = event.tables["laps"]
    timed = len(timed_laps(laps))
    riders = len(event.riders)
    lines = [f"{counted(riders, 'rider')}, {counted(timed, 'timed lap')}. Tables are in {out}"]
    talk = [printable(f.text) for f in event.findings if f.code is EventCode.TALK_FIRST]
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
