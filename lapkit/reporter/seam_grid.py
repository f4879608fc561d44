"""Who ran inside the seam: riders × corners, each cell in words and a number, and the gist of it in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapkit.compare.results import RunResult
from lapkit.compare.seams import SeamCalls, seam_calls
from lapkit.compare.standard import standards
from lapkit.counting import corner_name, listed
from lapkit.course.course import Corner, CourseSeam
from lapkit.findings import Code, EventCode, RiderReview
from lapkit.findings.sentences import seam_called
from lapkit.findings.troubles import habits
from lapkit.measuring.reviews import EventReview
from lapkit.path.offset_source import KNOWN_SPOTS
from lapkit.reporter.event_words import event_sentences
from lapkit.reporter.rider_grid import Cell, GridRow, of_between, rider_sentences

SEAM_RULE = (
    "Counted are timed laps that ran, over more than half of the exit, inside the innermost seam that the marker "
    "line stays outside of. Where his page tells of a seam further out, the cell has that one too."
)
"""Which laps the summary counts as inside the seam."""

SEAM_SURE = "A lap is called when it is sure to nine in ten, else it is unclear."

_FINE = ("good", "fair")


@dataclass(frozen=True)
class SeamSummary:
    """Who ran inside the counted seam: a column for each corner of ``head``, a row for each rider.

    Attributes:
        head: corners where a seam is counted.
        words: the same in sentences.
        left_out: corners whose seams the marker line itself runs inside of, listed.
        rows: the riders; a cell stands out where he was inside in more than half of his laps, and is sure where any lap
            is called.
        why: why many are unclear; empty where they are not.
        facts: who ran inside and was more open all the same.
        uncounted: why no seam is counted at any corner; empty where one is.
    """

    head: list[str]
    words: list[str]
    left_out: str
    rows: list[GridRow]
    why: str
    facts: list[str]
    uncounted: str


def seam_summary(event: EventReview, links: Mapping[str, str]) -> SeamSummary:
    """Who ran inside the seam that is counted at each corner.

    Counted is the innermost seam that the marker line stays outside of. Where it runs inside all of them none is, and
    the corner is left out.

    Args:
        event: what to summarise.
        links: rider → file name of his page.
    """
    course = event.course
    held = standards(course)
    counted = ((corner, held[corner.name].counted_seam) for corner in course.corners)
    seams = [(corner, seam) for corner, seam in counted if seam is not None]
    left_out = [corner_name(c.name) for c in course.corners if held[c.name].line_inside]
    rows = seam_grid(event.riders, seams, links)
    return SeamSummary(
        head=[corner_name(corner.name) for corner, _ in seams],
        words=seam_words(rows, [corner for corner, _ in seams]),
        left_out=listed(left_out),
        rows=rows,
        why=unplaced_words(event.riders, seams, hold_point=course.hold_points is not None),
        facts=event_sentences(event, EventCode.INSIDE_OPENLY),
        uncounted="" if seams else _uncounted(left_out),
    )


def _uncounted(left_out: Sequence[str]) -> str:
    """Why no seam is counted: there is none, or the marker line runs inside all of them."""
    if left_out:
        return "The marker line itself runs inside the seams at every corner, so nobody is counted."
    return "The course has no seams marked, so this cannot be said."


def seam_grid(
    riders: Sequence[RiderReview],
    seams: Sequence[tuple[Corner, CourseSeam]],
    links: Mapping[str, str],
) -> list[GridRow]:
    """A row for each rider with a cell for the seam of each corner, of timed laps; written short for many corners.

    Args:
        riders: in the order wanted.
        seams: corners with the seam that is counted there
            (:attr:`~lapkit.compare.standard.Standard.counted_seam`).
        links: rider → file name of his page.
    """
    of = of_between(len(seams))
    return [
        GridRow(rider.rider, links.get(rider.rider, ""), _cells(rider, seams, of))
        for rider in riders
    ]


def _cells(rider: RiderReview, seams: Sequence[tuple[Corner, CourseSeam]], of: str) -> list[Cell]:
    """A rider's cells; ``of`` stands between two counts."""
    calls, next_out = seam_calls(rider.runs), _told_of(rider)
    cells = []
    for corner, seam in seams:
        cell = _cell(calls.get((corner.name, seam.name)), of)
        told = next_out.get(corner.name, seam.name)
        if told != seam.name and (corner.name, told) in calls:
            cell = _with_next(cell, told, calls[corner.name, told], of)
        cells.append(cell)
    return cells


def _told_of(rider: RiderReview) -> dict[str, str]:
    """Corner → name of the seam that a rider is told to run inside of as a habit, which need not be the innermost."""
    return {f.corner: f.marker for f in habits(rider.findings) if f.code is Code.INSIDE_SEAM}


def _with_next(cell: Cell, seam: str, calls: SeamCalls, of: str) -> Cell:
    """The cell with a seam further out that he is told of: "outside" alone would take back what his page says."""
    text = f"{cell.text}; inside the {seam_called(seam)} {calls.inside}{of}{calls.laps}"
    return Cell(text, much=True, sure=True)


def _cell(calls: SeamCalls | None, of: str) -> Cell:
    if calls is None:
        return Cell("no timed lap", sure=False)
    parts = []
    if calls.inside:
        parts.append(f"inside {calls.inside}{of}{calls.laps}")
    elif calls.outside:
        parts.append(f"outside {calls.outside}{of}{calls.laps}")
    if calls.unclear:
        parts.append(f"unclear\N{NO-BREAK SPACE}{calls.unclear}")
    sure = calls.inside + calls.outside > 0
    return Cell(", ".join(parts), much=2 * calls.inside > calls.laps, sure=sure)


def unplaced_words(
    riders: Sequence[RiderReview],
    seams: Sequence[tuple[Corner, CourseSeam]],
    *,
    hold_point: bool,
) -> str:
    """Why most laps are unclear and what helps, where logs were placed by no known spot; else empty.

    Args:
        riders: everybody who was measured.
        seams: corners with the seam that is counted there.
        hold_point: whether the track file has one.
    """
    fine = [run for rider in riders for run in rider.runs if _log(run, "verdict") in _FINE]
    adrift = [run for run in fine if _log(run, "offset_from") not in KNOWN_SPOTS]
    unclear, laps = 0, 0
    for run in adrift:
        called = seam_calls([run])
        for corner, seam in seams:
            calls = called.get((corner.name, seam.name), SeamCalls(0, 0, 0))
            unclear, laps = unclear + calls.unclear, laps + calls.laps
    if 2 * unclear <= laps:
        return ""
    there = (
        "on the hold point" if hold_point else "on one marked spot, the track file’s hold point,"
    )
    return (
        f"Most laps of {len(adrift)} of {len(fine)} logs are unclear, as no stop on a known spot and no base log "
        f"tells how far off their receivers were: ask riders to stand still {there} for half a minute before "
        "going out and after coming in."
    )


def _log(run: RunResult, column: str) -> str:
    """What the table ``logs`` says of a run's own log."""
    return str(run.tables["logs"][column].iloc[0])


def seam_words(rows: Sequence[GridRow], corners: Sequence[Corner]) -> list[str]:
    """A sentence for each rider who was inside in more than half of his laps somewhere, most corners first."""
    if not any(cell.sure for row in rows for cell in row.cells):
        return ["Who ran inside the seam cannot be told: no timed lap is sure enough to be called."]
    names = [corner_name(c.name) for c in corners]
    inside = {
        row.rider: [name for name, cell in zip(names, row.cells, strict=True) if cell.much]
        for row in rows
    }
    if not any(inside.values()):
        # A rider without a called lap is not cleared.
        called = all(any(cell.sure for cell in row.cells) for row in rows)
        nobody = "Nobody" if called else "Nobody whose laps could be called"
        return [
            f"{nobody} ran inside the innermost seam in more than half of his laps at any corner."
        ]
    return rider_sentences(
        inside,
        corners=len(names),
        of_one="{who} ran inside the seam at {where}.",
        of_several="{who} ran inside the seam at {where}.",
    )
