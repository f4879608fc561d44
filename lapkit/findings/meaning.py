"""What goes with the code of a finding: how it is told, weighed and looked at."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

LEAST_DEG = 0.7
"""A fault that added less lean than this counts as having added this, unless its code says otherwise; degrees (our
choice)."""


class Part(StrEnum):
    """The part of a corner that a finding is about."""

    TURN_IN = "turn_in"
    APEX = "apex"
    EXIT = "exit"


class Way(StrEnum):
    """In which way a rider departs from what the coach wants."""

    EARLY = "early"
    LATE = "late"
    TIGHT = "tight"
    WIDE = "wide"


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """What goes with a code.

    Attributes:
        text: what is said first: a template whose fields :mod:`lapkit.findings.figures` fills.
        text_all: the same for a drift that shows at most corners.
        short: the fault in a few words, to be named along with others; empty for praise and facts.
        short_at: the same with a field for the name of its cone or seam.
        worth_deg: degrees of lean that the fault counts as where it added less. By lean alone, much that a coach says would
            stay unsaid: simulated riders who turned in 8 m early added none. The order of these values is the trade's (a line
            that leaves no room first, consistency last); their sizes are our choice. With them the habit put in is the first
            thing said to 46 of 48 simulated riders.
        part: the part of the corner that it is about; None if it is about no one part.
        way: in which way he departs from what the coach wants; no cue is repeated to him that asks for more of it.
        measure: the measure whose change from run to run shows that it was mended; empty if none does.
        placed: whether it rests on where the tyres ran, and so on the position offset that all laps of a run share.
        of_cone: whether it is about a cone, passed too far away or on the wrong side.
        doubts_cones: whether the corner's cones come into doubt when many riders do it there.
        in_degrees: whether its size is a lean, in degrees.
        drift: whether it grows from the first lap of a run to the last.
        what_if: whether to work out what the marker line would have asked for.
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
