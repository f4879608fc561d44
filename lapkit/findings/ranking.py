"""What to say to a rider: one thing to work on, two to keep in mind, one done well, then the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum

import pandas as pd

from lapkit.compare.changes import RunChanges
from lapkit.compare.results import RunResult
from lapkit.compare.tables import without_lines
from lapkit.course.course import Course
from lapkit.findings.codes import Code
from lapkit.findings.drifts import drifts
from lapkit.findings.evidence import Evidence, gather
from lapkit.findings.facts import inside_openly
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import Judgement
from lapkit.findings.mended import may_be_offset
from lapkit.findings.praise import done_well
from lapkit.findings.rules import exit_aside, judgements, left_road
from lapkit.findings.stories import Story, most_missed, stories
from lapkit.findings.telling import Teller
from lapkit.units import Units

COLUMNS = ("rider", "corner", "code", "laps_seen", "laps_counted", "p", "size", "text", "cue")
"""The published columns of ``findings.csv``, in their order."""

EXTRA_COLUMNS = ("kind", "marker", "habit", "in_short")
"""Further columns."""

MINDED = 2
"""A first page asks a rider to keep at most this many findings in mind."""


def find(
    runs: Sequence[RunResult],
    course: Course,
    group: str = "",
    *,
    units: Units = Units.METRIC,
    between: RunChanges | None = None,
) -> tuple[Finding, ...]:
    """What to say to one rider, most urgent first; one finding of kind ``well`` comes last.

    Args:
        runs: his runs in time order.
        course: the course they were ridden on.
        group: name of his riding group; a novice never reads of seconds to be gained.
        units: units that he reads.
        between: what changed between these runs, if that is known already.
    """
    evidence, between = gather(runs, course), between or RunChanges(runs)
    openly = [found for each in evidence if (found := inside_openly(each)) is not None]
    open_inside = {found.evidence.corner.name for found in openly}
    judged: list[Judgement] = []
    for each in evidence:
        here = judgements(each, openly=each.corner.name in open_inside)
        judged += [judgement for judgement in here if not may_be_offset(judgement, between)]
    judged += drifts(evidence)
    judged += _left_road(runs, course)
    tighter_exits = list(_exits_aside(evidence, judged))
    ranked = stories(judged)
    faulty = {story.corner for story in ranked}
    exits_told = [exits.evidence.corner.name for exits in tighter_exits]
    teller = Teller(between, units, group, most_missed(judged), exits_told)
    to_praise = [each for each in evidence if each.corner.name not in open_inside] or evidence
    return (
        *_told(ranked, teller, course),
        *(teller.aside(judgement) for story in ranked for judgement in story.others),
        *(
            teller.fact(fact, alone=fact.evidence.corner.name not in faulty)
            for fact in openly
            if fact.habit
        ),
        *(teller.exits(exits) for exits in tighter_exits),
        # Tighter exits count here too: praise must not say that such an exit stays open.
        *done_well(to_praise, [*judged, *tighter_exits], between, units),
    )


def _told(ranked: Sequence[Story], teller: Teller, course: Course) -> Iterator[Finding]:
    """A finding for each story: those of the first page, then the rest."""
    first_page = list(_first_page(ranked))
    for story, kind in first_page:
        yield teller.story(story, kind, _alike(story, ranked, course))
    # A first page that tells of a habit names all corners with it, so the rest need not.
    named = {story.lead.code for story, _ in first_page}
    for story in ranked:
        if not any(story is other for other, _ in first_page):
            alike = () if story.lead.code in named else _alike(story, ranked, course)
            yield teller.story(story, Kind.OTHER, alike)


def _alike(story: Story, ranked: Sequence[Story], course: Course) -> Sequence[str]:
    """Names of the corners, in riding order, at which what leads a story is a habit."""
    code, names = story.lead.code, set()
    for other in ranked:
        if any(j.habit and j.code is code for j in (other.lead, *other.others)):
            names.add(other.corner)
    return [corner.name for corner in course.corners if corner.name in names]


def _left_road(runs: Sequence[RunResult], course: Course) -> Iterator[Judgement]:
    """Where he left the road. That is rare, so all laps are gathered again only if it happened."""
    if any(run.off_road for run in runs):
        every = gather(runs, course, off_road=True)
        yield from (found for each in every if (found := left_road(each)) is not None)


def _exits_aside(evidence: Sequence[Evidence], judged: Sequence[Judgement]) -> Iterator[Judgement]:
    """Exits that tightened and are no fault, at corners where no judgement tells of tightened exits."""
    told_at = {j.evidence.corner.name for j in judged if j.code is Code.EXIT_TIGHTENED}
    for each in evidence:
        if each.corner.name not in told_at and (aside := exit_aside(each)) is not None:
            yield aside


def _first_page(ranked: Sequence[Story]) -> Iterator[tuple[Story, Kind]]:
    """The worst habit, to work on; then what is something else, to keep in mind.

    What is mended and lapses of earlier runs are neither, because a first page is about how he rides now.
    """
    standing = [s for s in ranked if s.lead.habit or (not s.lead.mended and s.lead.in_last_run)]
    work = next((s for s in standing if s.lead.habit), None)
    codes: set[Code] = set()
    if work is not None:
        codes.add(work.lead.code)
        yield work, Kind.WORK
    minded = 0
    for story in standing:
        if story is work or story.lead.code in codes or minded == MINDED:
            continue
        codes.add(story.lead.code)
        minded += 1
        yield story, Kind.MIND


def findings_table(findings: Iterable[Finding]) -> pd.DataFrame:
    """Findings as the table ``findings``, in the order given."""
    columns = [*COLUMNS, *EXTRA_COLUMNS]
    rows = [[_cell(getattr(finding, name)) for name in columns] for finding in findings]
    return pd.DataFrame(rows, columns=columns) if rows else without_lines(columns)


def _cell(value: object) -> object:
    return str(value) if isinstance(value, StrEnum) else value
