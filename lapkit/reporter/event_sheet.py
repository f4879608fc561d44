"""The summary after the event on paper: what its page says first, on as many sheets as it takes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from matplotlib.figure import Figure

from lapkit.counting import listed
from lapkit.measuring.reviews import EventReview
from lapkit.reporter.event_summary import RiderChanges, Summary, summary
from lapkit.reporter.event_words import Head, Said
from lapkit.reporter.exit_grid import ExitSummary
from lapkit.reporter.figures.canvas import LINE_EM
from lapkit.reporter.flow import INDENT, SMALL, TEXT, Flow, grids
from lapkit.reporter.log_words import UnusedLog
from lapkit.reporter.seam_grid import SEAM_RULE, SEAM_SURE, SeamSummary
from lapkit.reporter.sheet import PAPERS, write_sheets
from lapkit.reporter.summary_corners import ALL_ROUND
from lapkit.reporter.summary_riders import RiderLine
from lapkit.units import Units


def event_pdf(event: EventReview, path: Path, *, units: Units = Units.METRIC) -> None:
    """Write the summary of an event: riders to talk to, seams, corners, changes from run to run.

    Args:
        event: what to tell of.
        path: the file to write.
        units: those of the reader; metric units are printed on A4, US units on Letter.
    """
    write_sheets(event_sheets(event, units=units), path)


def event_sheets(event: EventReview, *, units: Units = Units.METRIC) -> list[Figure]:
    """The sheets of the summary as figures."""
    parts = summary(event, units, {})
    flow = Flow(parts.heading, PAPERS[units])
    flow.facts(parts.facts)
    for note in parts.notes:
        flow.say(note, size=SMALL)
    _talk(flow, parts)
    if parts.seams is not None:
        _seams(flow, parts.seams)
    if parts.exits is not None:
        _exits(flow, parts.exits)
    _corners(flow, parts)
    if parts.changes is not None:
        _changes(flow, parts.changes)
    _not_used(flow, parts.unusable)
    return [paper.figure for paper in flow.papers]


def _talk(flow: Flow, parts: Summary) -> None:
    flow.head(Head.TALK)
    for place, rider in enumerate(parts.riders, 1):
        group = f" ({rider.group})" if rider.group else ""
        flow.room(5 * LINE_EM * TEXT)
        flow.say(f"{place}. {rider.name}{group}", bold=True)
        corner = f"{rider.corner}. " if rider.corner else ""
        flow.say(corner + rider.text, indent=INDENT)
        if rider.more:
            then = Said.NEXT if corner else Said.IN_MIND
            flow.say(f"{then}: {'; '.join(rider.more)}.", size=SMALL, indent=INDENT)
    if parts.unremarked:
        flow.say(f"{Said.UNREMARKED} {_names(parts.unremarked)}.")
    for rider in parts.left_off:
        flow.say(f"{Said.LEFT_OFF} {rider.name}: {rider.left_off}.")
    for why, whom in parts.untold:
        flow.say(f"{Said.UNTOLD} {_names(whom)}: {why}")


def _names(riders: Sequence[RiderLine]) -> str:
    return listed([rider.name for rider in riders])


def _seams(flow: Flow, seams: SeamSummary) -> None:
    flow.head(Head.SEAMS)
    if not seams.head:
        flow.say(seams.uncounted)
        return
    for line in seams.words:
        flow.say(line)
    left_out = f" At {seams.left_out} {Said.LINE_INSIDE}" if seams.left_out else ""
    flow.say(
        f"{SEAM_RULE}{left_out} {SEAM_SURE} Bold: more than half of the laps.",
        size=SMALL,
    )
    if seams.why:
        flow.say(seams.why, size=SMALL)
    grids(flow, seams.head, seams.rows)
    for line in seams.facts:
        flow.say(line)


def _exits(flow: Flow, exits: ExitSummary) -> None:
    flow.head(Head.EXITS)
    for line in exits.words:
        flow.say(line)
    flow.say(f"{exits.rule} Bold: a habit that his page tells of.", size=SMALL)
    grids(flow, exits.head, exits.rows)


def _corners(flow: Flow, parts: Summary) -> None:
    # Down to the first corner: what is said of all of them says nothing of any.
    all_round = 1 + len(parts.all_round) if parts.all_round else 0
    first = max((len(what) for _, _, what, _ in parts.troubles[:1]), default=1)
    flow.head(Head.CORNERS, all_round + 2 + first)
    if parts.all_round:
        flow.say(ALL_ROUND)
        for does in parts.all_round:
            flow.say(does, indent=INDENT)
    for corner, who, what, look in parts.troubles:
        flow.room((len(what) + 2) * LINE_EM * TEXT)
        flow.say(f"{corner}, {who}", bold=True)
        for does in what:
            flow.say(does, indent=INDENT)
        if look:
            flow.say(look, indent=INDENT, bold=True)
    if parts.nothing_else:
        flow.say(parts.nothing_else)
    if not parts.troubles and not parts.nothing_else:
        flow.say(parts.no_trouble)
    for line in parts.cones:
        flow.say(line)


def _changes(flow: Flow, changes: Sequence[RiderChanges]) -> None:
    flow.head(Head.RUNS)
    for rider, groups in changes:
        for between, corners in groups:
            flow.room(3 * LINE_EM * TEXT)
            flow.say(f"{rider}, {between}", bold=True)
            for corner, what in corners:
                flow.say(f"{corner}: {'; '.join(what)}", size=SMALL, indent=INDENT)
    if not changes:
        flow.say(Said.NO_CHANGE)


def _not_used(flow: Flow, unusable: Sequence[UnusedLog]) -> None:
    if not unusable:
        return
    flow.head("Logs not used")
    for rider, session, file, why in unusable:
        flow.say(f"{rider}, run {session} ({file}): {why.rstrip('.')}.", size=SMALL)
