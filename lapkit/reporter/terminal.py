"""What is said on the terminal when an event's or a rider's results are written."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.counting import corner_name, counted
from lapkit.errors import printable
from lapkit.reporter.cautions import TERMINAL_CAUTION
from lapkit.reporter.display import in_units
from lapkit.reporter.event_words import NO_TRACK_FILE, event_sentences
from lapkit.reporter.log_words import without_lap
from lapkit.units import Units

if TYPE_CHECKING:
    from lapkit.measuring.reviews import EventReview

_TALK = 3  # riders to talk to that the terminal names; the page has them all


def done_text(
    event: EventReview,
    out: Path,
    pages: Sequence[Path],
    units: Units = Units.METRIC,
    *,
    printable_sheets: bool = False,
) -> str:
    """What was written, whom to talk to first (a single rider: about what), what could not be used, the caution, the page.

    With ``printable_sheets`` also that they lie beside the page.
    """
    from lapkit.compare.tables import timed_laps
    from lapkit.findings.untold import LAP_TIMES_ONLY, untold

    laps = event.tables["laps"]
    timed = len(timed_laps(laps))
    riders = len(event.riders)
    lines = [f"{counted(riders, 'rider')}, {counted(timed, 'timed lap')}. Tables are in {out}"]
    lines += _riders_to_talk_to(event) if riders > 1 else _said_first(event, units)
    lines += [
        f"Not used: {printable(u.rider)}, run {printable(u.session)} ({printable(u.file)}): "
        f"{in_units(u.reason, units)}"
        for u in event.unusable
    ]
    lines += [
        f"Without a lap: {printable(log.rider)}, run {printable(log.session)} "
        f"({printable(log.file)}): {in_units(log.why, units)}"
        for log in without_lap(event.tables["logs"])
    ]
    lines += [
        f"Lap times only: {printable(run.rider)}, run {printable(run.session)}: {why}"
        for rider in event.riders
        for run in rider.runs
        if (why := untold([run], event.course)) in LAP_TIMES_ONLY
    ]
    lines += [NO_TRACK_FILE] if event.course.found else []
    lines += map(printable, event.notes)
    lines.append(TERMINAL_CAUTION)
    if pages:
        beside = "; sheets to print (PDF) lie beside it" if printable_sheets else ""
        lines.append(f"Open {pages[0]}{beside}")
    return "\n".join(lines)


def _riders_to_talk_to(event: EventReview) -> list[str]:
    """Whom to talk to first, a line for each rider; of many the first, and how many more there are."""
    from lapkit.findings import EventCode

    talk = [printable(text) for text in event_sentences(event, EventCode.TALK_FIRST)]
    more = len(talk) - _TALK
    return [*talk[:_TALK], f"And {counted(more, 'more rider')}."] if more > 0 else talk


def _said_first(event: EventReview, units: Units) -> list[str]:
    """What the page says first to its only rider, and what changed: between two runs there may be no time to open it.

    Where nothing can be said because of the logs or because there is no track file, other lines say so.
    """
    from lapkit.findings import EventCode, Kind
    from lapkit.findings.untold import TOO_FEW, untold
    from lapkit.reporter.rider_page import nothing_to_work_on

    (rider,) = event.riders
    changed = [printable(text) for text in event_sentences(event, EventCode.CHANGED)]
    for finding in rider.findings:
        if finding.kind is Kind.WORK:
            at = f" {corner_name(finding.corner)}." if finding.corner else ""
            return [printable(f"Work on this first:{at} {finding.text}"), *changed]
    why = untold(rider.runs, event.course)
    if why not in ("", TOO_FEW):
        return changed
    tag, _, said = nothing_to_work_on(why, rider, units)
    return [printable(f"{tag}: {said[0].lower()}{said[1:]}"), *changed]
