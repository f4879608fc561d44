"""What goes with the code of a finding: how it is told, weighed and looked at."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

LEAST_DEG = 0.7
"""Degrees of lean that a fault counts as where it added less, unless its entry has them otherwise (our choice)."""


class Part(StrEnum):
    """The part of a corner that a finding is about."""

    TURN_IN = "turn_in"
    APEX = "apex"
    EXIT = "exit"


class Way(StrEnum):
    """Which way a rider is off what the coach wants."""

    EARLY = "early"
    LATE = "late"
    TIGHT = "tight"
    WIDE = "wide"


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """What goes with a code.

    Attributes:
        text: what is said first, a template that :mod:`lapkit.findings.figures` has the figures for.
        text_all: the same of a drift that shows at most corners.
        short: a fault in a few words, to be named along with others; empty for praise and facts.
        short_at: the same with the name of its cone or seam.
        worth_deg: degrees of lean that it counts as where it added less. Lean alone would leave unsaid what a coach says:
            simulated riders who turned in 8 m early added none. The order is the trade's (a line that leaves no room first,
            consistency last), the sizes are our choice; with them the habit put in is the first thing said to 46 of 48
            simulated riders.
        part: of the corner; None where it is about no one part.
        way: that he is off by it; no cue is told that asks for more of it.
        measure: whose change from run to run shows that it was mended; empty where none does.
        placed: whether it rests on where the tyres ran, and so on a position offset that all laps of a run share.
        of_cone: whether it is about a cone, passed too far off or on the wrong side.
        doubts_cones: whether many who do it at one corner let its cones be doubted.
        in_degrees: whether its size is a lean.
        drift: whether it grows from the first lap of a run to the last.
        what_if: whether what the marker line would have asked for is worked out.
        whole: whether it is about the whole corner, so that there is no one place to look at.
    """

    text: str
    text_all: str = ""
    short: str = ""
    short_at: str = ""
    worth_deg: float = LEAST_DEG
    part: Part | None = None
    way: Way | None = None
    measure: str = ""
    placed: bool = False
    of_cone: bool = False
    doubts_cones: bool = True
    in_degrees: bool = False
    drift: bool = False
    what_if: bool = False
    whole: bool = False
