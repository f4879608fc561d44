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
    """Neither a fault nor praise; told at its corner only."""
    OTHER = "other"
    """Everything else; told after the first page."""


@dataclass(frozen=True)
class Finding:
    """One finding; its strings are ready to be read, in the units that were asked for.

    Attributes:
        rider: name of the rider.
        corner: name of the corner; empty when it is about the whole course.
        code: what it says, for tables: ``exit_tightened``, ``inside_seam``, ``turn_in_early``, ... (:mod:`~lapkit.findings.codes`).
        laps_seen: number of timed laps that show it, those in which it is so with p ≥ 0.9.
        laps_counted: number of timed laps that could be judged.
        p: probability that it is so: for a habit in the median lap, 0.9 or more; for a lapse in its surest lap.
        size: how large it is, in the measure's own unit: metres, degrees, share of a radius.
        text: one or two sentences, without signs and without bare probabilities.
        cue: the coach's own words for this corner; empty when he gave none that fits.
        kind: where it goes.
        station_m: station on the course to draw, metres.
        marker: name of the cone or seam that it is about, or empty.
        lap: number of the lap that shows it best.
        session: run that this lap belongs to.
        habit: whether it is a habit; else it is a lapse, or was mended.
        mended: whether it was a habit in an earlier run and is no longer one.
        details: further sentences: where exactly, what it did to radius and lean, how it changed.
        harm: serves to order findings, riders and corners, and means nothing else
            (:func:`~lapkit.findings.stories.harm`); 0 for what is done well or mended.
        what_if: what the marker line would have asked for and carried, with intervals; None where that
            was not worked out.
        would_have: the same in a sentence, which stands beside the tables of the corner and never among what is said
            first; empty where it is in doubt, and for novices.
        doubt: that the cones or the line may be what is off, where most riders do the same; empty unless it is what to
            work on (:func:`~lapkit.findings.troubles.with_doubt`).
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
    mended: bool = False
    details: tuple[str, ...] = ()
    harm: float = 0.0
    what_if: WhatIf | None = None
    would_have: str = ""
    doubt: str = ""

    @property
    def in_short(self) -> str:
        """The fault in a few words; empty for praise and facts."""
        return sentences.in_short(self.code, self.marker)

    @property
    def left_off(self) -> bool:
        """Whether it is about a habit that was given up: a fault of an earlier run, or praise for giving it up."""
        return self.mended or self.code is Code.MENDED
