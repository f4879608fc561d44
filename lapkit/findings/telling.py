"""Judgements put into words: which sentences of :mod:`lapkit.findings.sentences` are said of each, and in which order."""

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
from lapkit.findings.effects import line_asks_more, on_the_line, what_it_did, would_have
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.figures import figures
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import Judgement
from lapkit.findings.mended import surely_mended
from lapkit.findings.sentences import Detail, Exit, Lead
from lapkit.findings.stories import Story, harm
from lapkit.units import Units

_MOST_NAMED = 4
"""Up to this many laps are named one by one. For more, sentences say how often in each run; the page's table has the laps."""

_RUNS_IN_ONE_BREATH = 2
"""With this many runs, the other one stands in brackets behind the run that a habit is reported over; with more, the total."""


@dataclass(frozen=True, eq=False)
class Teller:
    """Turns one rider's judgements into findings.

    Attributes:
        between: his runs in time order, and what changed between them.
        units: units that he reads.
        group: his riding group, whose name says whether he is a novice.
        most_missed: the judgement about the cone that he misses most; None unless he misses several.
        exits_told: names of the corners at which another finding tells of tighter exits that are no fault.
    """

    between: RunChanges
    units: Units
    group: str
    most_missed: Judgement | None = None
    exits_told: Collection[str] = ()

    def story(self, story: Story, kind: Kind, alike: Sequence[str]) -> Finding:
        """What leads a corner's story as a finding; ``alike`` names all corners where the same is a habit.

        On the first page it also says what came with it, and what the marker line would have asked for. Elsewhere what
        came with it stands right below as findings of their own (:meth:`aside`).
        """
        lead, first_page = story.lead, kind is not Kind.OTHER
        others = [j for j in story.others if j.habit == lead.habit]
        came_with = [j.code for j in others]
        on_line = on_the_line(lead, self.between.runs) if first_page else None
        exit_told = Code.EXIT_TIGHTENED in came_with or story.corner in self.exits_told
        details = self._what_it_did(lead, on_line, radius=first_page or not exit_told)
        # Once a corner, whether it leads there or came with something else.
        details += next(filter(None, map(line_asks_more, (lead, *others))), [])
        elsewhere = [corner_name(name) for name in alike if name != story.corner]
        if elsewhere and lead.habit:
            # By then other sentences stand between it and what was said first.
            what = lead.code.means.short
            what = what[0].upper() + what[1:]
            details.append(Detail.THE_SAME_AT.format(what=what, corners=listed(elsewhere)))
        if others and lead.habit and first_page:
            # By their names: of two apexes, the one that was said already would seem to be said again.
            shorts = dict.fromkeys(sentences.in_short(j.code, j.place.name) for j in others)
            details.append(Detail.WITH_IT.format(others=listed(list(shorts))))
        if lead.of_the_rider and first_page:
            details.append(Detail.OF_THE_RIDER)
        details += self._standing(lead)
        if kind is Kind.WORK and not lead.evidence.corner.cues:
            # What to do about it is said in the coach's words alone.
            details.append(Detail.NO_CUE)
        finding = self._finding(lead, kind, tuple(details), on_line)
        return replace(finding, cue=cue_for(lead.code, lead.evidence.corner.cues, came_with))

    def aside(self, judgement: Judgement) -> Finding:
        """What came with a story, as a finding of its own after the first page."""
        details = (*self._what_it_did(judgement), *self._standing(judgement))
        return self._finding(judgement, Kind.OTHER, details)

    def fact(self, judgement: Judgement, *, alone: bool) -> Finding:
        """What is no fault; ``alone`` if no fault is told at its corner."""
        ask = Detail.NOTHING_TO_WORK_ON if alone else Detail.ASK_WHY
        return self._finding(judgement, Kind.FACT, (ask, *self._standing(judgement)))

    def exits(self, judgement: Judgement) -> Finding:
        """Exits that were tighter but are nothing to work on: in some laps only, or in most laps but without being a fault.

        Sentences about all tighter exits come first, then how many of them are called tightened.
        """
        evidence = judgement.evidence
        details: list[str] = []
        if not judgement.habit:
            if not judgement.seen.all():
                details += self._where_tighter(judgement)
        elif judgement.typical(judgement.added_deg) <= EXIT_LEAN_ADDED_DEG:
            details.append(Detail.NO_MORE_LEAN)
        elif judgement.typical(evidence.laps.exit_radius_ratio) >= CLEARLY_BELOW:
            details.append(Detail.LITTLE_TIGHTER)
        if judgement.habit and self._runs_differ(judgement):
            details.append(Detail.TIGHTER_RUNS.format(runs=self._by_run(judgement)))
        details.append(Detail.SURE.format(sure=sentences.sure(judgement.p)))
        if evidence.laps.exit_called.any():
            called = int(np.count_nonzero(evidence.laps.exit_called))
            tighter = int(np.count_nonzero(judgement.seen))
            few_of_them = called < tighter and called <= _MOST_NAMED
            laps = sentences.of_these(called, tighter)
            if few_of_them:
                laps = _which_laps(evidence, evidence.laps.exit_called)
            few = "one is too few" if called == 1 else "too few"
            details.append(Detail.CALLED.format(laps=laps, few=few))
        return self._finding(judgement, Kind.FACT, tuple(details))

    def _where_tighter(self, judgement: Judgement) -> list[str]:
        """Which laps had a tighter exit: few laps by number, many by run; empty for many laps of a single run."""
        if np.count_nonzero(judgement.seen) <= _MOST_NAMED:
            laps = _which_laps(judgement.evidence, judgement.seen)
            return [Detail.WHICH_LAPS.format(laps=laps)]
        if not self._runs_differ(judgement):
            return []
        return [Detail.TIGHTER_RUNS.format(runs=self._by_run(judgement))]

    def _what_it_did(
        self, judgement: Judgement, on_line: WhatIf | None = None, *, radius: bool = True
    ) -> list[str]:
        details: list[str] = [Detail.MOST_MISSED] if judgement is self.most_missed else []
        return (
            _unclear(judgement)
            + details
            + what_it_did(judgement, self.units, on_line, radius=radius)
        )

    def _finding(
        self,
        judgement: Judgement,
        kind: Kind,
        details: tuple[str, ...],
        on_line: WhatIf | None = None,
    ) -> Finding:
        evidence, example = judgement.evidence, judgement.example
        text = self._text(judgement, kind)
        would = "" if on_line is None else would_have(judgement, on_line, self.group, self.units)
        return Finding(
            rider=evidence.rider,
            corner=evidence.corner.name,
            code=judgement.code,
            laps_seen=int(np.count_nonzero(judgement.seen)),
            laps_counted=evidence.count,
            p=float(judgement.p),
            size=judgement.typical(judgement.size),
            text=text[0].upper() + text[1:],
            cue=cue_for(judgement.code, evidence.corner.cues),
            kind=kind,
            station_m=judgement.place.station_m,
            marker=judgement.place.name,
            lap=int(evidence.number[example]),
            session=evidence.session(example),
            habit=judgement.habit,
            mended=judgement.mended,
            details=details,
            harm=0.0 if judgement.mended or kind is Kind.FACT else harm(judgement),
            what_if=on_line,
            would_have=would,
        )

    def _text(self, judgement: Judgement, kind: Kind) -> str:
        """What is said first of a judgement."""
        if judgement.mended:
            was = Lead.WAS if surely_mended(judgement, self.between) else Lead.WAS_MORE
            return was.format(what=judgement.code.means.short, runs=self._by_run(judgement))
        template = judgement.code.means.text
        if kind is Kind.FACT and judgement.code is Code.EXIT_TIGHTENED:
            # "An exit that tightens" is said only of laps that are called tightened.
            template = Lead.EXIT_ASIDE
        elif judgement.of_the_rider and kind is not Kind.OTHER:
            template = judgement.code.means.text_all
        elif (called := _milder_lapses(judgement)) is not None:
            far_off = int(np.count_nonzero(judgement.seen))
            return Lead.EXIT_LAPSE.format(
                tightens=_tightens(judgement),
                often=sentences.often(int(np.count_nonzero(called)), judgement.evidence.count),
                far_off="one" if far_off == 1 else far_off,
                **figures(judgement, self.units),
            )
        often = self._often(judgement)
        few = np.count_nonzero(judgement.seen) <= _MOST_NAMED
        if few and not judgement.habit and kind is not Kind.FACT:
            # Whoever left the road once cannot ask himself why before he knows when.
            often += f" ({_which_laps(judgement.evidence, judgement.seen)})"
        tightens = _tightens(judgement)
        return template.format(often=often, tightens=tightens, **figures(judgement, self.units))

    def _standing(self, judgement: Judgement) -> list[str]:
        """In which runs it was seen, how sure it is, and whether it is a lapse, where there were laps enough to tell."""
        details = []
        several = judgement.habit or np.count_nonzero(judgement.seen) > 1
        if several and not judgement.mended and self._runs_differ(judgement):
            details.append(Detail.RUNS.format(runs=self._by_run(judgement)))
        sure = Detail.WAS_SURE if judgement.mended else Detail.SURE
        details.append(sure.format(sure=sentences.sure(judgement.p)))
        if not judgement.habit and not judgement.mended:
            lapses = several or _milder_lapses(judgement) is not None
            enough = judgement.evidence.count >= FEWEST_LAPS
            lapse = Detail.LAPSES if lapses else Detail.LAPSE
            details.append(lapse if enough else Detail.FEW_LAPS)
        return details

    def _often(self, judgement: Judgement) -> str:
        """In how many laps it was seen: in those of the run that it is reported over, and in brackets in the others."""
        evidence, over = judgement.evidence, judgement.reported_over
        if over.all() or judgement.seen.all():
            return sentences.often(int(np.count_nonzero(judgement.seen)), evidence.count)
        often = sentences.often(
            int(np.count_nonzero(judgement.shown_by)), int(np.count_nonzero(over))
        )
        run = evidence.session(int(np.argmax(over)))
        if len(np.unique(evidence.run)) == _RUNS_IN_ONE_BREATH:
            rest = self._by_run(judgement, ~over)
        else:
            rest = f"{np.count_nonzero(judgement.seen)} of {evidence.count} over all runs"
        return f"{often} of run {run} ({rest})"

    def _runs_differ(self, judgement: Judgement) -> bool:
        """Whether counts run by run add anything to :meth:`_often`, which names both of two runs itself."""
        named = 1 if judgement.reported_over.all() else _RUNS_IN_ONE_BREATH
        return not judgement.seen.all() and len(np.unique(judgement.evidence.run)) > named

    def _by_run(self, judgement: Judgement, laps: np.ndarray | None = None) -> str:
        """How often it was seen in each run, over some laps ``(laps,)`` or all."""
        evidence = judgement.evidence
        over = np.ones(evidence.count, dtype=bool) if laps is None else laps
        return sentences.by_run(judgement.seen[over], evidence.run[over], evidence.sessions)


def _which_laps(evidence: Evidence, seen: np.ndarray) -> str:
    """The laps that are ``seen``, ``(laps,)``, by their numbers and runs."""
    return sentences.which_laps(seen, evidence.run, evidence.number, evidence.sessions)


def _tightens(judgement: Judgement) -> Exit:
    """What an exit does: it tightens only where most laps are tighter after the apex than they were at it."""
    became_m = judgement.evidence.laps.exit_tightens_after_apex_m[judgement.shown_by]
    mostly = 2 * np.count_nonzero(np.isfinite(became_m)) > len(became_m)
    return Exit.TIGHTENS if mostly else Exit.IS_TIGHTER


def _milder_lapses(judgement: Judgement) -> np.ndarray | None:
    """The laps ``(laps,)`` whose exits are called tightened, where not all of them are as far off as a lapse is; else None.

    A lapse is shown by laps that are far off, but it is not only in those that the exit tightened.
    """
    called = judgement.evidence.laps.exit_called
    lapse = not judgement.habit and not judgement.mended
    if judgement.code is not Code.EXIT_TIGHTENED or not lapse:
        return None
    return called if called.sum() > judgement.seen.sum() else None


def _unclear(judgement: Judgement) -> list[str]:
    """Of the laps that do not show it, how many are unclear: left unsaid, they would read as outside the seam."""
    if judgement.code is not Code.INSIDE_SEAM or judgement.mended:
        return []
    others = ~judgement.seen
    sides = calls(judgement.evidence.seams[judgement.place.name].p_inside[others])
    unclear = int(np.count_nonzero(sides == "unclear"))
    if not unclear:
        return []
    return [Detail.UNCLEAR.format(others=sentences.others(unclear, len(sides)))]
