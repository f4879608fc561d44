"""Judgements put into words: which of the sentences of :mod:`lapkit.findings.sentences` are said, in which order."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from lapkit.compare.changes import RunChanges
from lapkit.compare.corners import CLEARLY_BELOW, EXIT_LEAN_ADDED_DEG
from lapkit.compare.seams import calls
from lapkit.compare.what_if import WhatIf
from lapkit.counting import corner_name, listed
from lapkit.findings import sentences
from lapkit.findings.codes import Code
from lapkit.findings.cues import cue_for
from lapkit.findings.effects import on_the_line, what_it_did, would_have
from lapkit.findings.evidence import Evidence
from lapkit.findings.figures import figures
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import Judgement
from lapkit.findings.mended import surely_mended
from lapkit.findings.sentences import Detail, Lead
from lapkit.findings.stories import Story, harm
from lapkit.units import Units

_MOST_NAMED = 4
"""Laps that are named one by one; of more it is said how often in each run, and the table has them."""

_TOLD_BESIDE = 2
"""Of so many runs the other one is told beside the one that a habit is told by; of more all of them together."""


@dataclass(frozen=True, eq=False)
class Teller:
    """Tells one rider's findings.

    Attributes:
        between: his runs in time order, and what changed between them.
        units: what he reads.
        group: his riding group; by its name a novice is known.
        most_missed: the judgement about the cone that he misses most, where he misses several.
        exits_told: names of the corners whose exits are told of as tighter and no fault.
    """

    between: RunChanges
    units: Units
    group: str
    most_missed: Judgement | None = None
    exits_told: Collection[str] = ()

    def story(self, story: Story, kind: Kind, alike: Sequence[str]) -> Finding:
        """A corner's story as a finding; ``alike`` names the corners where the same was found.

        The first page tells what came with it, and what the marker line would have asked for. Told at its corner alone, all
        that came with it stands below it, each with figures of its own.
        """
        lead, first_page = story.lead, kind is not Kind.OTHER
        came_with = [j.code for j in story.others if j.habit == lead.habit]
        on_line = on_the_line(lead, self.between.runs) if first_page else None
        exit_told = Code.EXIT_TIGHTENED in came_with or story.corner in self.exits_told
        details = self._what_it_did(lead, on_line, radius=first_page or not exit_told)
        elsewhere = [corner_name(name) for name in alike if name != story.corner]
        if elsewhere and lead.habit:
            details.append(Detail.ALSO_AT.format(corners=listed(elsewhere)))
        if came_with and lead.habit and first_page:
            others = listed(list(dict.fromkeys(code.means.short for code in came_with)))
            details.append(Detail.WITH_IT.format(others=others))
        if lead.of_the_rider and first_page:
            details.append(Detail.OF_THE_RIDER)
        finding = self._finding(lead, kind, (*details, *self._standing(lead)), on_line)
        return replace(finding, cue=cue_for(lead.code, lead.evidence.corner.cues, came_with))

    def aside(self, judgement: Judgement) -> Finding:
        """What came with a story, as a finding of its own after the first page."""
        told = (*self._what_it_did(judgement), *self._standing(judgement))
        return self._finding(judgement, Kind.OTHER, told)

    def fact(self, judgement: Judgement, *, alone: bool) -> Finding:
        """What is no fault; ``alone`` where nothing else is to be said of its corner."""
        told = Detail.NOTHING_TO_WORK_ON if alone else Detail.ASK_WHY
        return self._finding(judgement, Kind.FACT, (told, *self._standing(judgement)))

    def exits(self, judgement: Judgement) -> Finding:
        """Exits that were tighter and are nothing to work on: in some laps, or mostly and no fault.

        All that is said of the tighter ones stands before those of them that are called tightened.
        """
        e = judgement.evidence
        told = []
        if not judgement.habit:
            if not judgement.seen.all():
                told += self._where_tighter(judgement)
        elif judgement.typical(judgement.added_deg) <= EXIT_LEAN_ADDED_DEG:
            told.append(Detail.NO_MORE_LEAN)
        elif judgement.typical(e.laps.exit_radius_ratio) >= CLEARLY_BELOW:
            told.append(Detail.LITTLE_TIGHTER)
        if judgement.habit and self._runs_differ(judgement):
            told.append(Detail.TIGHTER_RUNS.format(runs=self._by_run(judgement)))
        told.append(Detail.SURE.format(sure=sentences.sure(judgement.p)))
        if e.laps.exit_called.any():
            called, tighter = (
                int(np.count_nonzero(s)) for s in (e.laps.exit_called, judgement.seen)
            )
            laps = _which_laps(e, e.laps.exit_called)
            said = Detail.CALLED_IN if called < tighter and called <= _MOST_NAMED else Detail.CALLED
            told.append(said.format(count=sentences.these_are(called, tighter), laps=laps))
        return self._finding(judgement, Kind.FACT, tuple(told))

    def _where_tighter(self, judgement: Judgement) -> list[str]:
        """The laps whose exit was tighter, by their numbers or by run; nothing where one run has many."""
        if np.count_nonzero(judgement.seen) <= _MOST_NAMED:
            laps = _which_laps(judgement.evidence, judgement.seen)
            return [Detail.WHICH_LAPS.format(laps=laps)]
        if not self._runs_differ(judgement):
            return []
        return [Detail.TIGHTER_RUNS.format(runs=self._by_run(judgement))]

    def _what_it_did(
        self, judgement: Judgement, on_line: WhatIf | None = None, *, radius: bool = True
    ) -> list[str]:
        told = [Detail.MOST_MISSED] if judgement is self.most_missed else []
        return told + what_it_did(judgement, self.units, on_line, radius=radius)

    def _finding(
        self,
        judgement: Judgement,
        kind: Kind,
        details: tuple[str, ...],
        on_line: WhatIf | None = None,
    ) -> Finding:
        e, example = judgement.evidence, judgement.example
        text = self._text(judgement, kind)
        would = "" if on_line is None else would_have(judgement, on_line, self.group, self.units)
        return Finding(
            rider=e.rider,
            corner=e.corner.name,
            code=judgement.code,
            laps_seen=int(np.count_nonzero(judgement.seen)),
            laps_counted=e.count,
            p=float(judgement.p),
            size=judgement.typical(judgement.size),
            text=text[0].upper() + text[1:],
            cue=cue_for(judgement.code, e.corner.cues),
            kind=kind,
            station_m=judgement.place.station_m,
            marker=judgement.place.name,
            lap=int(e.number[example]),
            session=e.session(example),
            habit=judgement.habit,
            details=details,
            harm=0.0 if judgement.mended or kind is Kind.FACT else harm(judgement),
            what_if=on_line,
            would_have=would,
        )

    def _text(self, judgement: Judgement, kind: Kind) -> str:
        """What is said first of it."""
        if judgement.mended:
            was = Lead.WAS if surely_mended(judgement, self.between) else Lead.WAS_MORE
            return was.format(what=judgement.code.means.short, runs=self._by_run(judgement))
        template = judgement.code.means.text
        if judgement.of_the_rider and kind is not Kind.OTHER:
            template = judgement.code.means.text_all
        elif judgement.code is Code.EXIT_TIGHTENED and kind is Kind.FACT:
            # Only laps that are called tightened are said to be an exit that tightens.
            template = Lead.EXIT_TIGHTER
        often = self._often(judgement)
        return template.format(often=often, **figures(judgement, self.units))

    def _standing(self, judgement: Judgement) -> list[str]:
        """How sure, in which runs, habit or lapse."""
        told = []
        often = judgement.habit or int(judgement.seen.sum()) > 1
        if often and not judgement.mended and self._runs_differ(judgement):
            told.append(Detail.RUNS.format(runs=self._by_run(judgement)))
        told += _unclear(judgement)
        sure = Detail.WAS_SURE if judgement.mended else Detail.SURE
        told.append(sure.format(sure=sentences.sure(judgement.p)))
        if not judgement.habit and not judgement.mended:
            told.append(Detail.LAPSES if often else Detail.LAPSE)
        return told

    def _often(self, judgement: Judgement) -> str:
        """How often, of a habit that not every lap shows in the run that it is told by: that is how he rides now."""
        e, told_by = judgement.evidence, judgement.reported_over
        if told_by.all() or judgement.seen.all():
            return sentences.often(int(np.count_nonzero(judgement.seen)), e.count)
        often = sentences.often(
            int(np.count_nonzero(judgement.shown_by)), int(np.count_nonzero(told_by))
        )
        now = e.session(int(np.argmax(told_by)))
        beside = f"{np.count_nonzero(judgement.seen)} of {e.count} over all runs"
        if len(np.unique(e.run)) == _TOLD_BESIDE:
            beside = self._by_run(judgement, ~told_by)
        return f"{often} of run {now} ({beside})"

    def _runs_differ(self, judgement: Judgement) -> bool:
        """Whether how often run by run says more than how often: not where the other one of two is told beside it."""
        told = _TOLD_BESIDE if not judgement.reported_over.all() else 1
        return not judgement.seen.all() and len(self.between.runs) > told

    def _by_run(self, judgement: Judgement, laps: np.ndarray | None = None) -> str:
        """How often in each run, of some laps ``(laps,)`` or of all."""
        e = judgement.evidence
        asked = np.ones(e.count, dtype=bool) if laps is None else laps
        return sentences.by_run(judgement.seen[asked], e.run[asked], e.sessions)


def _which_laps(e: Evidence, seen: np.ndarray) -> str:
    """Those laps by their numbers and runs; ``seen`` has shape ``(laps,)``."""
    return sentences.which_laps(seen, e.run, e.number, e.sessions)


def _unclear(judgement: Judgement) -> list[str]:
    """In how many of the laps that do not show it the log cannot tell the side of the seam: else they read as outside."""
    if judgement.code is not Code.INSIDE_SEAM or judgement.mended:
        return []
    others = judgement.reported_over & ~judgement.seen
    sides = calls(judgement.evidence.seams[judgement.place.name].p_inside[others])
    unclear = int(np.count_nonzero(sides == "unclear"))
    if not unclear:
        return []
    return [Detail.UNCLEAR.format(others=sentences.others(unclear, len(sides)))]
