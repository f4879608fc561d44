"""Why nothing can be said about a rider, which is not the same as nothing being wrong."""

from __future__ import annotations

from collections.abc import Sequence

from lapkit.compare.judged_laps import Ride, judged_lines
from lapkit.compare.results import RunResult
from lapkit.compare.standard import standards
from lapkit.counting import corner_name, listed
from lapkit.course.course import Course
from lapkit.findings.codes import Code
from lapkit.findings.evidence import FEWEST_LAPS
from lapkit.findings.finding import Finding
from lapkit.findings.sentences import Detail

NO_LAP = "no lap could be timed from line to line"
NO_CORNER = "the course has no corner to measure"
TOO_COARSE = "no timed lap was logged finely enough for radius and lean"
TOO_FEW = f"fewer than {FEWEST_LAPS} laps could be measured, too few to tell a habit"
NO_LINE = "there is no marker line to hold the laps against"
"""The reasons, worded to stand behind a colon."""

LAP_TIMES_ONLY = (NO_CORNER, TOO_COARSE)
"""The reasons that leave a rider with lap times alone."""


def untold(runs: Sequence[RunResult], course: Course, corner: str = "") -> str:
    """Why nothing can be said about a rider's runs, at one corner or at any; empty when something can.

    From fewer laps than make a habit, a lapse can still be reported, but not that nothing is wrong.

    Args:
        runs: his runs.
        course: the course they were ridden on.
        corner: name of one corner; all corners when empty.
    """
    if not any(run.timed_laps for run in runs):
        return NO_LAP
    if not course.corners:
        return NO_CORNER
    measured: set[Ride] = set()
    for name, lines in judged_lines(runs).items():
        if corner in ("", name):
            measured |= lines.keys()
    if not measured:
        return TOO_COARSE
    names = [corner] if corner else [c.name for c in course.corners]
    if all(standards(course)[name].line is None for name in names):
        return NO_LINE
    return TOO_FEW if len(measured) < FEWEST_LAPS else ""


def worth_a_look(findings: Sequence[Finding]) -> str:
    """A sentence about what is worth a look with a rider of whom no habit can be told; empty if nothing is.

    ``findings`` are those of a rider with too few laps. A tightened exit among them is told at its corner only, where
    nobody finds it without being pointed there.
    """
    tight = [corner_name(f.corner) for f in findings if f.code is Code.EXIT_TIGHTENED]
    if not tight:
        return ""
    exits = "The exit at {} was" if len(tight) == 1 else "The exits at {} were"
    return Detail.WORTH_A_LOOK.format(exits=exits.format(listed(tight)))
