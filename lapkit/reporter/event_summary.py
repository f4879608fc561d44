"""What is said of an event, on its page and on its sheet: whom to talk to, seams, corners, changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from lapkit.compare.tables import timed_laps
from lapkit.counting import counted
from lapkit.days import in_words
from lapkit.findings import EventCode
from lapkit.measuring.reviews import EventReview
from lapkit.reporter import display
from lapkit.reporter.event_words import NO_TRACK_FILE, event_sentences, event_title
from lapkit.reporter.exit_grid import ExitSummary, exit_summary
from lapkit.reporter.log_words import UnusedLog, without_lap
from lapkit.reporter.run_changes import BetweenRuns, can_change, run_changes
from lapkit.reporter.seam_grid import SeamSummary, seam_summary
from lapkit.reporter.summary_corners import (
    TroubleLine,
    all_round_lines,
    nothing_else,
    trouble_lines,
)
from lapkit.reporter.summary_riders import RiderLine, UntoldRiders, rider_lines, untold_riders
from lapkit.units import Units


class RiderChanges(NamedTuple):
    """A rider, and what surely changed between his runs."""

    rider: str
    between: list[BetweenRuns]


@dataclass(frozen=True)
class Summary:
    """What is said of an event, on its page and on its sheet.

    Attributes:
        heading: the event's name.
        facts: when, how many riders and laps, units.
        notes: sentences about the whole.
        riders: whom to talk to, most urgent first.
        unremarked: riders for whom nothing stands out.
        left_off: riders for whom nothing does any more, as it did in an earlier run.
        untold: reasons why no habit can be told, each with the riders that it holds for.
        seams: None where the course was found from the logs and has none.
        exits: None without a marker line.
        all_round: what riders do at most corners, and who.
        troubles: corners by how many riders have a habit there.
        nothing_else: corners without any but those of ``all_round``, in a sentence.
        no_trouble: what is said where no corner troubles anybody.
        cones: the cone missed most, in a sentence.
        changes: riders of whom something surely changed; None where nobody has two runs to compare.
        unusable: each log that was not used.
    """

    heading: str
    facts: list[str]
    notes: list[str]
    riders: list[RiderLine]
    unremarked: list[RiderLine]
    left_off: list[RiderLine]
    untold: list[UntoldRiders]
    seams: SeamSummary | None
    exits: ExitSummary | None
    all_round: list[str]
    troubles: list[TroubleLine]
    nothing_else: str
    no_trouble: str
    cones: list[str]
    changes: list[RiderChanges] | None
    unusable: list[UnusedLog]


def summary(event: EventReview, units: Units, links: Mapping[str, str]) -> Summary:
    """What is said of an event: whom to talk to, seams, corners, changes.

    Args:
        event: what to summarise.
        units: what the reader reads.
        links: rider → file name of his page.
    """
    riders = rider_lines(event, links)
    quiet = [line for line in riders if not line.remarked and not line.untold]
    found = event.course.found
    return Summary(
        heading=event_title(event) or "Event",
        facts=_facts(event, units),
        notes=[*event.notes, *([NO_TRACK_FILE] if found else [])],
        riders=[line for line in riders if line.remarked],
        unremarked=[line for line in quiet if not line.left_off],
        left_off=[line for line in quiet if line.left_off],
        untold=untold_riders(riders, event),
        # Where the course was found from the logs a note says that seams are left out.
        seams=None if found else seam_summary(event, links),
        exits=exit_summary(event, links),
        all_round=all_round_lines(event),
        troubles=trouble_lines(event),
        nothing_else=nothing_else(event),
        no_trouble=_no_trouble(riders),
        cones=event_sentences(event, EventCode.CONE_MISSED),
        changes=_changes(event, units),
        unusable=_not_used(event, units),
    )


def _changes(event: EventReview, units: Units) -> list[RiderChanges] | None:
    if not any(can_change(rider, event.course) for rider in event.riders):
        return None
    changes = [RiderChanges(rider.rider, run_changes(rider, units)) for rider in event.riders]
    return [each for each in changes if each.between]


def _no_trouble(riders: Sequence[RiderLine]) -> str:
    """That no corner stands out; where nothing could be said about any rider, that this is not known."""
    if any(not line.untold for line in riders):
        return "No corner stands out."
    return "Whether a corner stands out cannot be told; why is said above."


def _not_used(event: EventReview, units: Units) -> list[UnusedLog]:
    """Logs that could not be used, and those that held no lap."""
    unusable = [UnusedLog(u.rider, u.session, u.file, u.reason) for u in event.unusable]
    logs = [*unusable, *without_lap(event.tables["logs"])]
    return [log._replace(why=display.in_units(log.why, units)) for log in logs]


def _facts(event: EventReview, units: Units) -> list[str]:
    """When, how many riders and timed laps, and which units."""
    laps = event.tables["laps"]
    timed = len(timed_laps(laps))
    when = [in_words(event.day)] if event.day else []
    riders = counted(len(event.riders), "rider")
    return [*when, riders, counted(timed, "timed lap"), units.words]
