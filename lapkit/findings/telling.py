"""Judgements put into words: the facts that fill the templates of :mod:`lapkit.findings.sentences`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lapkit.compare.changes import RunChanges
from lapkit.compare.corners import CLEARLY_BELOW, EXIT_LEAN_ADDED_DEG
from lapkit.compare.results import RunResult
from lapkit.compare.stats import MeanInterval
from lapkit.compare.what_if import WhatIf, what_if
from lapkit.counting import corner_name, listed
from lapkit.course.types import MarkerKind
from lapkit.findings import sentences
from lapkit.findings.cones import lane_set, wrong_lane
from lapkit.findings.cues import ABOUT, cue_for
from lapkit.findings.evidence import Evidence
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.judgement import Judgement
from lapkit.findings.mended import surely_mended
from lapkit.findings.rules import OFF_CAMBER_DEG
from lapkit.findings.sentences import DETAILS, SHORT, TEXTS
from lapkit.findings.stories import CONE_CODES, Story, harm
from lapkit.units import Units

NOVICES = ("novice", "beginner", "newcomer")
"""Groups with one of these words in their name are never told of seconds to be gained."""

_IN_DEGREES = ("lean_off_camber", "lean_added", "drifts_over")
_LEAST_LEAN_DEG = 1.0  # less is not known of a lap
_LEAST_SHARE = 0.1  # a radius less different is not worth a sentence
_MOST_GAIN = 0.2  # of his slowest speed
_WHAT_IF = ("inside_seam", "exit_tightened", "turn_in_early", "apex_missed")


@dataclass(frozen=True, eq=False)
class Teller:
    """Tells one rider's findings: his runs in time order, the units and the group he rides in.

    ``most_missed`` is the judgement about the cone that he misses most, where there are several, ``between``
    what changed between his runs.
    """

    runs: Sequence[RunResult]
    units: Units
    group: str
    between: RunChanges
    most_missed: Judgement | None = None

    def story(self, story: Story, kind: Kind, alike: Sequence[str]) -> Finding:
        """A corner's story as a finding; ``alike`` names the corners where the same was found.

        Told at its corner alone, what came with it stands below it, each with figures of its own.
        """
        lead, apart = story.lead, kind is Kind.OTHER
        found = self._what_if(lead) if not apart else None
        with_it = [j.code for j in story.others if j.habit == lead.habit]
        radius = not (apart and "exit_tightened" in with_it)
        told = self._what_it_did(lead, found, radius=radius)
        if with_it and lead.habit and not apart:
            others = listed(list(dict.fromkeys(SHORT[code] for code in with_it)))
            told.append(DETAILS["with_it"].format(others=others))
        elsewhere = [name for name in alike if name != story.corner]
        if elsewhere and lead.habit:
            told.append(
                DETAILS["also_at"].format(corners=listed([corner_name(c) for c in elsewhere]))
            )
        if lead.of_the_rider and not apart:
            told.append(DETAILS["of_the_rider"])
        finding = self._finding(lead, kind, (*told, *self._standing(lead)), found)
        return replace(finding, cue=cue_for(lead.code, lead.evidence.corner.cues, with_it))

    def aside(self, judgement: Judgement) -> Finding:
        """What came with a story, as a finding of its own after the first page."""
        told = (*self._what_it_did(judgement), *self._standing(judgement))
        return self._finding(judgement, Kind.OTHER, told)

    def fact(self, judgement: Judgement, *, alone: bool) -> Finding:
        """What is no fault; ``alone`` where nothing else is to be said of its corner."""
        told = DETAILS["nothing_to_work_on" if alone else "ask_why"]
        return self._finding(judgement, Kind.FACT, (told, *self._standing(judgement)))

    def exits(self, judgement: Judgement) -> Finding:
        """Exits that were tighter and are nothing to work on: in some laps, or mostly and no fault, and which laps."""
        e = judgement.evidence
        if judgement.habit:
            added = judgement.typical(judgement.added_deg)
            told = []
            if added <= EXIT_LEAN_ADDED_DEG:
                told.append(DETAILS["no_more_lean"])
            elif judgement.typical(e.lap("exit_radius_ratio")) >= CLEARLY_BELOW:
                told.append(DETAILS["little_tighter"])
            *often, sure = self._standing(judgement)
            # How often stands before the laps called, or it would be read as theirs.
            told += [*often, *self._called_in(e), sure]
            return self._finding(judgement, Kind.FACT, tuple(told))
        which = self._which_laps(e, judgement.seen)
        told = [DETAILS["which_laps"].format(laps=which)]
        if np.any(judgement.seen & ~e.exit_called):
            told += self._called_in(e)
        told += [DETAILS["sure"].format(sure=sentences.sure(judgement.p)), DETAILS["lapse"]]
        return self._finding(judgement, Kind.FACT, tuple(told))

    def _called_in(self, e: Evidence) -> list[str]:
        """In which laps an exit that is tighter in more of them counts as one that tightens."""
        if not e.exit_called.any():
            return []
        return [DETAILS["called_in"].format(laps=self._which_laps(e, e.exit_called))]

    def _which_laps(self, e: Evidence, seen: np.ndarray) -> str:
        sessions = [run.session for run in self.runs]
        return sentences.which_laps(seen, e.run, e.laps["lap"].to_numpy(), sessions)

    def _finding(
        self,
        judgement: Judgement,
        kind: Kind,
        details: tuple[str, ...],
        found: WhatIf | None = None,
    ) -> Finding:
        e, shown = judgement.evidence, judgement.shown
        everywhere = judgement.of_the_rider and kind is not Kind.OTHER
        template = TEXTS[f"{judgement.code}_all" if everywhere else judgement.code]
        if judgement.code == "exit_tightened" and kind is Kind.FACT:
            # As one that tightens only those laps count that are called so.
            template = TEXTS["exit_tighter"]
        text = template.format(**self._facts(judgement))
        if judgement.mended:
            was = "was" if surely_mended(judgement, self.between) else "was_more"
            text = TEXTS[was].format(what=SHORT[judgement.code], runs=self._by_run(judgement))
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
            station_m=judgement.station_m,
            marker=judgement.marker,
            lap=int(e.laps["lap"].iloc[shown]),
            session=self.runs[int(e.run[shown])].session,
            habit=judgement.habit,
            details=details,
            harm=0.0 if judgement.mended or kind is Kind.FACT else harm(judgement),
            what_if=found,
            would_have="" if found is None else self._would_have(judgement, found),
        )

    def _facts(self, judgement: Judgement) -> dict[str, str]:
        """What a template may ask for."""
        e, units = judgement.evidence, self.units
        size = judgement.typical(judgement.size)

        def length(column: str) -> str:
            return sentences.metres(judgement.typical(e.lap(column)), units)

        in_degrees = judgement.code in _IN_DEGREES
        end = (
            sentences.degrees(judgement.end)
            if in_degrees
            else sentences.metres(judgement.end, units)
        )
        facts = _lanes(judgement) if judgement.code == "wrong_lane" else {}
        return facts | {
            "often": self._often(judgement),
            "radius": length("exit_radius_min_m"),
            "line_radius": length("line_exit_radius_min_m"),
            "after_apex": sentences.after_apex(
                judgement.typical(e.lap("exit_tightest_after_apex_m")), units
            ),
            "seam": sentences.thing(judgement.marker, "seam"),
            "cone": sentences.thing(judgement.marker, "cone"),
            "size": sentences.metres(size, units),
            "lean": sentences.degrees(size),
            "end": end,
            "at_corners": sentences.at_corners(*judgement.corners),
        }

    def _what_it_did(
        self, judgement: Judgement, found: WhatIf | None = None, *, radius: bool = True
    ) -> list[str]:
        """To ``radius``, where that is not told beside it, and lean, and what the camber makes of it."""
        e = judgement.evidence
        told = [DETAILS["most_missed"]] if judgement is self.most_missed else []
        told += self._other_lane(judgement)
        if judgement.code == "exit_tightened":
            told += self._than_at_apex(judgement)
        tighter = judgement.typical(e.lap("exit_radius_ratio")) < 1.0 - _LEAST_SHARE
        radius &= judgement.code in _WHAT_IF and judgement.code != "exit_tightened"
        if tighter and radius:
            told.append(DETAILS["radius"].format(**self._facts(judgement)))
        added = judgement.typical(judgement.added_deg)
        saved, where = (None, "") if found is None else self._saved(judgement, found)
        if saved is not None and saved.lo >= _LEAST_LEAN_DEG:
            lean = sentences.between_degrees(saved.lo, saved.hi)
            told.append(
                DETAILS["lean_saved"].format(lean=lean, turn=e.corner.turn.value, where=where)
            )
        elif judgement.code not in _IN_DEGREES and added >= _LEAST_LEAN_DEG:
            lean, took = sentences.degrees(added), "lean_took" if judgement.mended else "lean"
            told.append(DETAILS[took].format(lean=lean, turn=e.corner.turn.value))
        camber = float(e.corner.camber_at(np.array(judgement.station_m)))
        if camber <= OFF_CAMBER_DEG and added >= _LEAST_LEAN_DEG:
            told.append(DETAILS["off_camber"].format(camber=sentences.degrees(camber)))
        return told

    def _what_if(self, judgement: Judgement) -> WhatIf | None:
        """What the marker line would have asked for and carried in the laps that show a habit of line."""
        e = judgement.evidence
        if judgement.code not in _WHAT_IF or not judgement.habit:
            return None
        traces = [t for run in self.runs for t in run.traces if t.corner == e.corner.name]
        return what_if(e.laps[judgement.seen_counted], traces, e.standard)

    @staticmethod
    def _other_lane(judgement: Judgement) -> list[str]:
        """The lane that a missed cone comes down to, where it surely is another than the coach set."""
        e = judgement.evidence
        if judgement.code not in CONE_CODES or e.standard.line is None:
            return []
        lane = wrong_lane(e, e.marker(judgement.marker))
        if lane is None or not lane.habit or not judgement.habit:
            return []
        cone = sentences.thing(judgement.marker, "cone")
        return [DETAILS["lane"].format(cone=cone, **_lanes(lane))]

    def _than_at_apex(self, judgement: Judgement) -> list[str]:
        """An exit that is tighter than the rider himself was at the last apex: he pulled it in after it."""
        e = judgement.evidence
        apex = e.last_marker(MarkerKind.APEX)
        if apex is None:
            return []
        own = judgement.typical(e.markers[apex.name]["radius_m"])
        leave = judgement.typical(e.lap("exit_radius_min_m"))
        if not leave < (1.0 - _LEAST_SHARE) * own:
            return []
        radius = sentences.metres(own, self.units)
        return [DETAILS["than_at_apex"].format(radius=radius)]

    @staticmethod
    def _saved(judgement: Judgement, found: WhatIf) -> tuple[MeanInterval, str]:
        """Lean that the marker line would have saved, in the part of the corner that it is about; and where.

        At the exit it may save lean that it asks for earlier in the corner, so that is said.
        """
        if ABOUT.get(judgement.code) == "exit":
            return found.exit_lean_saved_deg, " at the exit"
        return found.lean_saved_deg, ""

    def _would_have(self, judgement: Judgement, found: WhatIf) -> str:
        """The lean that the marker line would have saved, then what it would have carried.

        Empty where it is in doubt. Where that is far from what he rode, nobody knows what he would have
        done: nothing is told. Nor is it where no lean would have been saved: speed alone is nothing that
        a coach has to say.
        """
        gain, seconds = found.slowest_gain_mps, found.seconds
        saved, where = self._saved(judgement, found)
        slowest = judgement.typical(judgement.evidence.lap("slowest_mps"))
        clear = gain.lo > 0.0 and seconds.lo > 0.0 and gain.hi <= _MOST_GAIN * slowest
        novice = any(word in self.group.lower() for word in NOVICES)
        if not clear or saved.lo < _LEAST_LEAN_DEG or novice:
            return ""
        return DETAILS["would_have"].format(
            lean=sentences.between_degrees(saved.lo, saved.hi),
            turn=judgement.evidence.corner.turn.value,
            where=where,
            speed=sentences.between_speeds(gain.lo, gain.hi, self.units),
            seconds=sentences.between_seconds(seconds.lo, seconds.hi),
        )

    def _standing(self, judgement: Judgement) -> list[str]:
        """How sure, in which runs, habit or lapse."""
        told = []
        often = judgement.habit or int(judgement.seen.sum()) > 1
        if len(self.runs) > 1 and often and not judgement.mended and not judgement.seen.all():
            told.append(DETAILS["runs"].format(runs=self._by_run(judgement)))
        sure = "was_sure" if judgement.mended else "sure"
        told.append(DETAILS[sure].format(sure=sentences.sure(judgement.p)))
        if not judgement.habit and not judgement.mended:
            told.append(DETAILS["lapse"])
        return told

    def _often(self, judgement: Judgement) -> str:
        """How often, of a habit that not every lap shows in the run that it is told by: that is how he rides now."""
        e, counted = judgement.evidence, judgement.counted
        if counted.all() or judgement.seen.all():
            return sentences.often(int(np.count_nonzero(judgement.seen)), e.count)
        often = sentences.often(
            int(np.count_nonzero(judgement.seen_counted)), int(np.count_nonzero(counted))
        )
        in_all = f"{np.count_nonzero(judgement.seen)} of {e.count} over all runs"
        return f"{often} of run {self.runs[int(e.run[counted][0])].session} ({in_all})"

    def _by_run(self, judgement: Judgement) -> str:
        sessions = [run.session for run in self.runs]
        return sentences.by_run(judgement.seen, judgement.evidence.run, sessions)


def _lanes(judgement: Judgement) -> dict[str, str]:
    """The lane that a rider was mostly in where he was in another than the coach set, and that one."""
    e = judgement.evidence
    marker = e.marker(judgement.marker)
    ridden = e.markers[marker.name]["lane"][judgement.seen_counted].astype(np.int64)
    return {"lane": str(np.bincount(ridden).argmax()), "lane_set": str(lane_set(e, marker))}
