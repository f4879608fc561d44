"""What a finding is: one thing worth saying to one rider about one corner."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from lapkit.compare.what_if import WhatIf
from lapkit.findings import sentences
from lapkit.findings.codes import Code


class Kind(StrEnum):
    """Where a finding goes on the rider's page."""

    WORK = "work"
    """The one thing to work on."""
    MIND = "mind"
    """To keep in mind: at most two."""
    WELL = "well"
    """Done well: one."""
    FACT = "fact"
    """No habit to work on and no praise: told at its corner alone."""
    OTHER = "other"
    """Everything else, after the first page."""


@dataclass(frozen=True)
class Finding:
    """One finding; its strings are ready to be read, in the units that were asked for.

    Attributes:
        rider: whose it is.
        corner: where; empty when it is about the whole course.
        code: what, for tables: ``exit_tightened``, ``inside_seam``, ``turn_in_early``, ... (:mod:`~lapkit.findings.codes`).
        laps_seen: timed laps in which it holds at p ≥ 0.9.
        laps_counted: timed laps that could be judged.
        p: probability that it is so in the middling lap of those it is told by, of a habit 0.9 and more (in the lap
            shown, for a lapse).
        size: how much, in the measure's own unit: metres, degrees, share of a radius.
        text: one or two sentences, without signs and without bare probabilities.
        cue: the coach's own words for this corner; empty when he gave none.
        kind: where it goes.
        station_m: station on the course to draw, metres.
        marker: name of the cone or seam it is about, or empty.
        lap: number of the lap that shows it best.
        session: run that lap belongs to.
        habit: held in more than half of the laps; else a lapse.
        details: further sentences: where exactly, what it did to radius and lean, how it changed.
        harm: orders findings, riders and corners and means nothing else: lean added × speed × off camber ×
            how sure × how often; 0 for what is done well or mended.
        what_if: what the marker line would have asked for and carried, with intervals; None where that
            was not worked out, or not told.
        would_have: the same in a sentence, beside the tables of its corner and never among what is said
            first; empty where it is in doubt, and for novices.
    """

    rider: str
    corner: str
    code: Code
    laps_seen: int
    laps_counted: int
    p: float
    size: float
    text: str
    cue: str = ""
    kind: Kind = Kind.OTHER
    station_m: float = float("nan")
    marker: str = ""
    lap: int = 0
    session: str = ""
    habit: bool = True
    details: tuple[str, ...] = ()
    harm: float = 0.0
    what_if: WhatIf | None = None
    would_have: str = ""

    @property
    def in_short(self) -> str:
        """A fault in a few words; empty for praise and facts."""
        return sentences.in_short(self.code, self.marker)

    @property
    def left_off(self) -> bool:
        """Whether it is a habit of an earlier run that the last one left off."""
        told = self.kind is Kind.OTHER and not self.habit and self.harm == 0.0
        return told or self.code is Code.MENDED
