"""Every code of a finding, with all that goes with it. A new one is one entry here.

Texts are plain English with the words of the trade, as in :mod:`lapkit.findings.sentences`.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from lapkit.compare.lap_values import LEAN, LINE, RADIUS, TURN_IN
from lapkit.findings.meaning import Meaning, Part, Way


class Code(StrEnum):
    """What a finding says, by its name in tables.

    Faults come first, ordered so that an earlier one may be the cause of a later one.
    """

    means: Meaning
    cause: int
    """Place in the order of causes, from 0."""

    def __new__(cls, name: str, means: Meaning) -> Self:
        """A member whose value is its name in tables."""
        code = str.__new__(cls, name)
        code._value_ = name
        code.means, code.cause = means, len(cls.__members__)
        return code

    LEFT_ROAD = (
        "left_road",
        Meaning(
            text="Left the road {often}, by {size}.",
            short="leaving the road",
            worth_deg=2.0,
            doubts_cones=False,
            whole=True,
        ),
    )
    INSIDE_SEAM = (
        "inside_seam",
        Meaning(
            text="Inside the {seam} at the exit {often}, {size} inside the marker line{doubt}.",
            short="inside the seam at the exit",
            short_at="inside the {thing} at the exit",
            worth_deg=2.0,
            part=Part.EXIT,
            way=Way.TIGHT,
            measure=LINE,
            placed=True,
            what_if=True,
        ),
    )
    TURN_IN_EARLY = (
        "turn_in_early",
        Meaning(
            text="Turned in {size} early{aside} {often}.",
            short="turning in early",
            worth_deg=1.0,
            part=Part.TURN_IN,
            way=Way.EARLY,
            measure=TURN_IN,
            what_if=True,
        ),
    )
    EXIT_TIGHTENED = (
        "exit_tightened",
        Meaning(
            text="The exit {tightens} {often}: {radius} radius{radius_aside} where the marker line keeps "
            "{line_radius}, tightest {after_apex} after the last apex.",
            short="an exit that tightens",
            worth_deg=1.5,
            part=Part.EXIT,
            way=Way.TIGHT,
            measure=RADIUS,
            what_if=True,
        ),
    )
    CONE_WRONG_SIDE = (
        "cone_wrong_side",
        Meaning(
            text="Past the {cone} on the wrong side {often}, by {size}{doubt}.",
            short="a cone passed on the wrong side",
            short_at="past the {thing} on the wrong side",
            worth_deg=2.0,
            measure=LINE,
            placed=True,
            of_cone=True,
        ),
    )
    RUNS_WIDE = (
        "runs_wide",
        Meaning(
            text="The usual line runs out past the {cone}, by {size}{doubt}: nearer to the edge than was set.",
            short="running out past the exit cone",
            short_at="running out past the {thing}",
            worth_deg=2.0,
            part=Part.EXIT,
            way=Way.WIDE,
            placed=True,
        ),
    )
    TURN_IN_LATE = (
        "turn_in_late",
        Meaning(
            text="Turned in {size} late{aside} {often}.",
            short="turning in late",
            part=Part.TURN_IN,
            way=Way.LATE,
            measure=TURN_IN,
        ),
    )
    APEX_MISSED = (
        "apex_missed",
        Meaning(
            text="{size} wider at the {cone} than the marker line{aside} {often}: "
            "road is left unused on the inside.",
            short="wide of the apex cone",
            short_at="wide of the {thing}",
            part=Part.APEX,
            way=Way.WIDE,
            measure=LINE,
            placed=True,
            of_cone=True,
            what_if=True,
        ),
    )
    EXIT_CONE_MISSED = (
        "exit_cone_missed",
        Meaning(
            text="{size} further from the {cone} than the marker line{aside} {often}: "
            "road is left unused at the exit.",
            short="too far in at the exit cone",
            short_at="too far in at the {thing}",
            part=Part.EXIT,
            way=Way.TIGHT,
            measure=LINE,
            placed=True,
            of_cone=True,
        ),
    )
    TURN_IN_CONE_MISSED = (
        "turn_in_cone_missed",
        Meaning(
            text="{size} further from the {cone} than the marker line{aside} {often}: "
            "the corner begins too far in.",
            short="too far in at the turn-in cone",
            short_at="too far in at the {thing}",
            part=Part.TURN_IN,
            way=Way.TIGHT,
            measure=TURN_IN,
            placed=True,
            of_cone=True,
        ),
    )
    WRONG_LANE = (
        "wrong_lane",
        Meaning(
            text="In lane {lane} at the {cone} {often}, where lane {lane_set} is the one to be in.",
            short="in another lane than was set",
            short_at="in another lane than was set at the {thing}",
            measure=LINE,
            placed=True,
        ),
    )
    LEAN_OFF_CAMBER = (
        "lean_off_camber",
        Meaning(
            text="{size} more lean than the marker line asks for at the same speed{aside} {often}, "
            "where the road falls away.",
            short="more lean than needed off camber",
            measure=LEAN,
            doubts_cones=False,
            in_degrees=True,
        ),
    )
    LEAN_ADDED = (
        "lean_added",
        Meaning(
            text="{size} more lean than the marker line asks for at the same speed{aside} {often}.",
            short="more lean than needed",
            measure=LEAN,
            doubts_cones=False,
            in_degrees=True,
        ),
    )
    DRIFTS_WIDE = (
        "drifts_wide",
        Meaning(
            text="From the first lap of a run to the last the line moves {size} wider at the {cone}, to {end} "
            "wide of the marker line.",
            text_all="From the first lap of a run to the last the line moves wider {at_corners}: here by {size} "
            "at the {cone}, to {end} wide of the marker line.",
            short="drifting wide over a run",
            short_at="drifting wide at the {thing} over a run",
            worth_deg=0.3,
            part=Part.APEX,
            way=Way.WIDE,
            doubts_cones=False,
            drift=True,
        ),
    )
    DRIFTS_TIGHT = (
        "drifts_tight",
        Meaning(
            text="From the first lap of a run to the last the exit closes: its tightest radius falls "
            "by {size}, to {end} where the marker line keeps {line_radius}.",
            text_all="From the first lap of a run to the last the exit closes {at_corners}: here its tightest "
            "radius falls by {size}, to {end} where the marker line keeps {line_radius}.",
            short="an exit that closes over a run",
            worth_deg=0.3,
            part=Part.EXIT,
            way=Way.TIGHT,
            doubts_cones=False,
            drift=True,
        ),
    )
    DRIFTS_OVER = (
        "drifts_over",
        Meaning(
            text="From the first lap of a run to the last the lean grows by {size} against what the marker line "
            "asks for at the same speed, to {end} more than that.",
            text_all="From the first lap of a run to the last the lean grows against what the marker line asks "
            "for at the same speed {at_corners}: here by {size}, to {end} more than that.",
            short="more and more lean over a run",
            worth_deg=0.3,
            doubts_cones=False,
            in_degrees=True,
            drift=True,
        ),
    )
    UNEVEN = (
        "uneven",
        Meaning(
            text="A different line every lap: about {size} apart from lap to lap.",
            short="a different line every lap",
            worth_deg=0.3,
            doubts_cones=False,
            whole=True,
        ),
    )
    # No faults: a fact, then praise.
    INSIDE_OPENLY = (
        "inside_openly",
        Meaning(
            text="Inside the {seam} at the exit {often}, with a longer radius there all the same: "
            "{radius}{radius_aside} where the marker line keeps {line_radius}.",
        ),
    )
    MENDED = "mended", Meaning(text="Mended: {what}, {runs}.")
    OPENED = (
        "opened",
        Meaning(text="The exit has opened from {before} to {after} radius since run {since}."),
    )
    ON_LINE = (
        "on_line",
        Meaning(
            text="On the marker line: {lap} is within {size} of it at every cone, and the exit stays open.",
            whole=True,
        ),
    )
    NEAR_LINE = (
        "near_line",
        Meaning(
            text="Near the marker line: {lap} is within {size} of it at every cone.", whole=True
        ),
    )
    AT_CONE = (
        "at_cone",
        Meaning(text="Well placed at the {cone}: {lap} is within {size} of the marker line there."),
    )
    STEADY = (
        "steady",
        Meaning(
            text="The most even corner: tightest radius between {low} and {high} in every lap.",
            whole=True,
        ),
    )
