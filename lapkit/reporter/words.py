"""Words of the pages: what tables say in codes, told plainly."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from lapkit.counting import corner_name, listed, run_names
from lapkit.curvature import HELD_OVER_M
from lapkit.reporter import display
from lapkit.units import Units

if TYPE_CHECKING:
    import pandas as pd

    from lapkit.compare.results import CornerTrace, Unusable
    from lapkit.course.course import Corner, Course
    from lapkit.findings import Finding
    from lapkit.reviews import EventReview

CAUTIONS = (
    "The event’s rules, the marshals, licensed instructors and your own judgement come first.",
    "Nothing here is a target. Being off the line is what to mind, not being slow.",
    "Radius and lean are inferred from satellite fixes, not measured.",
    "The lean is the balance lean, not the angle of the chassis: hanging off and the width of the tyre "
    "change that angle.",
    "Grip figures say what cornering asked for, never what the tyre has left.",
)
"""Carried by every page."""

GLOSSARY = (
    ("Marker line", "the line the coach wants ridden, past his cones."),
    (
        "Tightest radius",
        "the smallest radius held over any {window} of your path. Larger is more open.",
    ),
    ("Exit", "from the last apex cone to the exit cone."),
    (
        "An exit that tightens",
        "its radius is clearly smaller than the marker line’s, and it takes more lean than the line "
        "would at that speed. Where it takes no more lean, a tighter exit counts only below seven "
        "tenths of the line’s radius. Once it is a habit, every lap counts whose exit is surely below nine tenths "
        "of the line’s radius.",
    ),
    ("Lean", "the lean from the vertical that balances speed and radius, held over {window}."),
    (
        "Usual lap",
        "the mean of a run’s timed laps. Its ± says how well that mean is known, their scatter counted; one lap "
        "may lie further off.",
    ),
    (
        "Give or take",
        "how well a lap’s own figure is known. What is called off the line is told with the middling lap of those "
        "counted, so it may differ from the usual lap.",
    ),
    ("Lane", "the strip between two seams, counted 1, 2, 3 from the inside of the corner outward."),
    (
        "Inside the seam",
        "the tyres ran on the inner side of it for more than half of the exit. Where the marker line runs "
        "inside too, that is said beside it.",
    ),
    (
        "Unclear",
        "the log cannot tell which side of a seam it was with nine chances in ten.",
    ),
    (
        "Off camber",
        "the road falls away to the outside: the same lean is more, seen from the road.",
    ),
    (
        "Habit, lapse",
        "a habit shows in more than half of all laps, or in more than two thirds of the last run’s; a lapse "
        "does not. A habit is told as the last run shows it; what was surely left off there is a habit no more.",
    ),
)
"""Words of the trade and ours, as a rider meets them."""

_BARE = ("Tightest radius", "Lean", "Usual lap")

LAP_KINDS = {"out": "out-lap", "timed": "timed", "in": "in-lap", "broken": "broken"}

OFFSETS = {
    "hold_point": "The laps are placed by the stops at the hold point",
    "base_log": "The laps are placed by the base log",
    "edges": "The laps are only held between the track’s edges",
    "none": "Nothing tells how far off this receiver was",
}

VERDICTS = {
    "good": "good",
    "fair": "fair: radius and lean are known less well",
    "laps only": "good enough for lap times only",
    "standing receiver": "the receiver stood still, so of use as a base log only",
    "no laps": "no lap of it could be timed",
}

_BESIDE_LINE = {"inside": ", as the line is", "outside": ", the line is inside"}

LINES = {
    "marker": "marker line",
    "one lane in": "one lane further in",
    "inside": "inside the first seam",
}
"""What the lines of ``line.csv`` are called on pages."""

LEFT_OUT = (
    "There is no track file: the course and its corners were found from the logs. Cones, seams, lanes and the "
    "marker line are left out, and corners are numbered from the start line."
)


SEAM_RULE = (
    "Counted are timed laps that ran, over more than half of the exit, inside the innermost seam that the marker "
    "line stays outside of."
)
"""Which laps the summary counts as inside the seam."""

SEAM_SURE = "A lap is called when it is sure to nine in ten, else it is unclear."

ALL_ROUND = "The same at most corners, so it is the rider’s and not the corner’s:"
"""What stands above the habits that a rider has all round the course."""


def call_words(call: str, line_inside: bool) -> str:
    """The side of a seam that a lap was called on; where the marker line itself runs inside, that too."""
    return call + (_BESIDE_LINE.get(call, "") if line_inside else "")


def heading(event: EventReview) -> str:
    """What an event is called: the course's own name, else its folder's, written as words."""
    named = event.course.track.members.get("name") if event.course.track else None
    if isinstance(named, str) and named.strip():
        return named.strip()
    spaced = " ".join(event.title.replace("_", " ").split())
    return spaced[:1].upper() + spaced[1:]


def _camber(corner: Corner) -> str:
    """How much the road leans the corner's own way, from the least of its cones to the most: ``2 to 3°``."""
    # It loads much that a season's page, or an unchanged run, does without.
    from lapkit.findings.numbers import between_degrees

    same_way = [m.camber_deg for m in corner.markers if m.camber_deg * corner.camber_deg > 0.0]
    sizes = np.abs(same_way or [corner.camber_deg])
    return between_degrees(float(sizes.min()), float(sizes.max()))


def corner_facts(corner: Corner, line_exit_m: float, units: Units) -> list[str]:
    """What the course itself has to say about a corner."""
    facts = []
    if len(corner.apexes_m) > 1 and corner.markers:
        facts.append(f"{len(corner.apexes_m)} apexes, ridden as one corner")
    if corner.camber_deg <= -0.5:
        facts.append(f"off camber, the road falls away by {_camber(corner)}")
    elif corner.camber_deg >= 0.5:
        facts.append(f"banked by {_camber(corner)}")
    if corner.target_lane is not None:
        facts.append(f"lane {corner.target_lane} is the one to be in")
    if display.known(line_exit_m):
        radius = display.length_text(line_exit_m, units)
        facts.append(f"the marker line’s exit keeps {radius} radius")
    return facts


def course_rows(course: Course, units: Units) -> list[tuple[str, str, str]]:
    """What the course itself has to say, corner by corner: name, turn, and what it is."""
    from lapkit.compare.standard import standards

    found = standards(course)
    return [
        (
            corner_name(c.name),
            str(c.turn),
            "; ".join(corner_facts(c, found[c.name].exit_radius_m, units)) or display.EMPTY,
        )
        for c in course.corners
    ]


def thick_lap(finding: Finding) -> str:
    """Which lap is drawn thick, being the one that a finding is about."""
    return f"Thick line: run {finding.session}, lap {finding.lap}."


def picture_caption(
    findings: Sequence[Finding], laps: Sequence[CornerTrace], lined: bool, *, seamed: bool = False
) -> str:
    """How to read an overhead drawing of laps, in one breath; ``seamed`` where its seams are to be told of too."""
    parts = [thick_lap(findings[0])] if findings else []
    runs = list(dict.fromkeys(lap.session for lap in laps))
    grey = len(laps) - len(parts)
    lap, those = ("lap", "that") if grey == 1 else ("laps", "those")
    earlier = f", {those} of {run_names(runs[:-1])} in dashes" if len(runs) > 1 else ""
    if grey:
        parts.append(f"Grey: your {'other ' if findings else ''}{lap}{earlier}.")
    if lined:
        parts.append("Black dashes: the marker line.")
    if seamed:
        parts.append("Dots: seams; lanes are numbered from the inside.")
    return " ".join(parts)


def log_words(row: Any, units: Units, course: Course) -> str:
    """How good one log is for a course, from its row of the table ``logs``."""
    place = OFFSETS.get(str(row.offset_from), "")
    if str(row.offset_from) == "none":
        seamed = any(corner.seams for corner in course.corners)
        place += ", so the side of a seam that laps ran on is mostly unclear" if seamed else ""
    elif place and display.known(row.position_sd_m):
        place += (
            f", within about {display.length_text(display.REACH * row.position_sd_m, units, 1)}"
        )
    return " ".join([display.in_units(str(row.note), units), *([f"{place}."] if place else [])])


def not_used(unusable: Unusable, units: Units) -> str:
    """That a log could not be used, and why, for its rider's own page."""
    why = display.in_units(unusable.reason.rstrip("."), units)
    return f"Run {unusable.session} ({unusable.file}) could not be used: {why}."


def without_lap(logs: pd.DataFrame) -> list[tuple[str, str, str, str]]:
    """Rider, run, file and why, for every log of which no lap could be timed, from the table ``logs``."""
    if "no_lap" not in logs:
        return []
    told = logs[logs["no_lap"].fillna("").astype(str) != ""]
    names = (told[c].astype(str) for c in ("rider", "session", "file", "no_lap"))
    return list(zip(*names, strict=True))


def glossary(units: Units, lined: bool = True) -> list[tuple[str, str]]:
    """The words with what they mean, lengths in the reader's units.

    Without ``lined`` those are left out that a page without a marker line has no use for.
    """
    window = display.length_text(HELD_OVER_M, units)
    told = [(term, meaning.format(window=window)) for term, meaning in GLOSSARY]
    return told if lined else [one for one in told if one[0] in _BARE]


def lap_rows(laps: pd.DataFrame, units: Units) -> list[tuple[str, ...]]:
    """The laps of a rider, for his page."""
    import pandas as pd

    rows: list[tuple[str, ...]] = []
    for r in laps.itertuples():
        note = "" if pd.isna(r.note) else display.in_units(str(r.note), units)
        if display.known(r.missing_s) and r.missing_s >= 0.5:
            note = "; ".join(n for n in (note, f"{r.missing_s:.1f} s of it not logged") if n)
        stamp = pd.to_datetime(r.start_utc, utc=True, errors="coerce")
        begun = display.EMPTY if pd.isna(stamp) else f"{stamp:%H:%M:%S}"
        kind = LAP_KINDS.get(str(r.kind), str(r.kind))
        time = display.clock_text(r.time_s, r.time_sd_s)
        rows.append((str(r.session), str(r.lap), time, kind, begun, note))
    return rows


def bikes(of_runs: Sequence[str]) -> str:
    """The bikes of a rider's runs in the order in which he rode them, each once."""
    return ", then ".join(dict.fromkeys(filter(None, of_runs)))


def lap_count(laps: pd.DataFrame) -> str:
    """How many laps of which run were timed from line to line."""
    from lapkit.splitter import LapKind

    timed = laps["kind"] == LapKind.TIMED.value
    counts = [
        f"{count} in run {run}"
        for run, count in timed.groupby(laps["session"].astype(str), sort=False).sum().items()
    ]
    return f"Timed from line to line: {listed(counts)}."


def line_note(course: Course, units: Units) -> str:
    """Where the marker line came from, when that is worth saying, and how well it is known."""
    off = display.length_text(display.REACH * course.marker_line_sd_m, units, 1)
    return {
        "solved": "The marker line was solved from the cones: within the edges, past every cone, as open "
        "as can be.",
        "ridden": "The marker line is the mean of the coach’s own laps. His receiver too was somewhat off: where "
        f"the line lies is known to within about {off}, its radius far better.",
        "given": "The marker line is the one drawn in the track file.",
    }.get(course.marker_line_from if course.marker_line is not None else "", "")
