"""Which of the coach's cues is told with a finding; all cues are invented."""

import pytest

from lapkit.findings import Code
from lapkit.findings.cues import cue_for

BLIND = "You will not see the exit from here: turn at the cone, brake off before it."
ROOM = "Use the whole road and keep it wide."
POST = "Clip the apex post."
HORIZON = "Eyes on the horizon."


@pytest.mark.parametrize(
    ("code", "cue"),
    [
        ("inside_seam", ROOM),
        ("exit_tightened", ROOM),
        ("exit_cone_missed", ROOM),
        ("drifts_tight", ROOM),
        ("turn_in_early", BLIND),
        ("turn_in_late", BLIND),
        ("turn_in_cone_missed", BLIND),
        ("apex_missed", POST),
        ("drifts_wide", POST),
        ("runs_wide", BLIND),
    ],
)
@pytest.mark.parametrize("backward", [False, True])
def test_the_part_of_the_corner_decides_and_not_the_order_of_cues(code, cue, backward):
    cues = [HORIZON, BLIND, ROOM, POST]
    assert cue_for(Code(code), cues[::-1] if backward else cues) == cue


@pytest.mark.parametrize("code", [Code.INSIDE_SEAM, Code.EXIT_TIGHTENED])
@pytest.mark.parametrize(
    "cue",
    [
        "Stay outside the second seam.",
        "Third lane all the way out.",
        "Let it drift to the paint.",
        "Late apex, then let it run out.",
        "Do not cut inside the seam.",
        "No throttle until it is upright.",
        "Look through the corner to the exit board.",
    ],
)
def test_a_cue_about_the_way_out_goes_with_faults_of_the_exit(code, cue):
    assert cue_for(code, ("Turn at the marshal’s post.", HORIZON, cue)) == cue


@pytest.mark.parametrize(
    ("code", "other", "cue"),
    [
        ("exit_tightened", "Turn at the gate.", "Wait for the exit board."),
        ("apex_missed", "Turn at the gate.", "Be patient until the apex."),
        ("turn_in_early", "Wait for the exit board.", "Braking done by the gate."),
        ("turn_in_early", "Wait for the exit board.", "Patience."),
        ("turn_in_late", HORIZON, "Sooner than it looks."),
    ],
)
def test_waiting_goes_with_the_part_that_is_named_and_else_with_turning_in(code, other, cue):
    assert cue_for(Code(code), (other, cue)) == cue


@pytest.mark.parametrize("code", Code)
def test_where_no_cue_fits_the_first_stands(code):
    assert cue_for(code, (HORIZON, "Breathe out.")) == HORIZON
    assert cue_for(code, ("Ruhig bleiben.", HORIZON)) == "Ruhig bleiben."
    assert cue_for(code, ()) == ""


@pytest.mark.parametrize("code", ["uneven", "lean_added", "wrong_lane", "cone_wrong_side"])
def test_what_is_about_no_one_part_has_the_first(code):
    assert cue_for(Code(code), (HORIZON, BLIND, ROOM, POST)) == HORIZON


@pytest.mark.parametrize(
    ("code", "cue"),
    [
        ("turn_in_late", "Patience: wait, then turn."),
        ("turn_in_late", "Brake later than you look."),
        ("turn_in_late", "Late apex here."),
        ("turn_in_late", "Never turn in early."),
        ("turn_in_late", "Don’t turn until the gate."),
        ("turn_in_late", "You cannot turn in too late."),
        ("turn_in_early", "Turn in early here."),
        ("turn_in_early", "Do not wait: turn."),
        ("exit_tightened", "Keep it tight on the exit."),
        ("inside_seam", "Stay inside the first seam."),
        ("inside_seam", "Stay inside."),
        ("inside_seam", "Hug the kerb."),
        ("exit_tightened", "Sacrifice the exit for the next one."),
        ("exit_tightened", "We give the exit away here."),
        ("exit_cone_missed", "Never run wide."),
        ("apex_missed", "Keep wide of the apex cone."),
        ("runs_wide", "Late apex, then let it run out."),
        ("runs_wide", "Let it drift to the paint."),
        ("drifts_wide", "Don't clip the apex."),
    ],
)
def test_none_that_asks_for_more_of_what_he_does(code, cue):
    assert cue_for(Code(code), (cue,)) == ""
    assert cue_for(Code(code), (cue, HORIZON)) == HORIZON


@pytest.mark.parametrize(
    ("code", "cue"),
    [
        ("turn_in_early", "Do not turn in early."),
        ("turn_in_early", "Don't rush, wait for the gate, then turn."),
        ("turn_in_late", "No need to wait: turn at the gate."),
        ("turn_in_late", "You can’t turn in too early."),
        # A plate is not late.
        ("turn_in_late", "Turn at the plate."),
        ("inside_seam", "Keep off the inside seam."),
        ("exit_tightened", "Never give the exit away."),
        ("inside_seam", "Tight at the apex, wide at the exit."),
        ("exit_tightened", "The exit tightens: give it room."),
        ("apex_missed", "Never keep wide of the apex."),
        ("apex_missed", "Close to the apex, then out wide."),
    ],
)
def test_what_asks_for_less_of_it_is_told(code, cue):
    assert cue_for(Code(code), (HORIZON, cue)) == cue


def test_nor_one_that_asks_for_more_of_what_comes_with_it():
    assert cue_for(Code.APEX_MISSED, ("Wait.", "Close in."), [Code.TURN_IN_LATE]) == "Close in."
    assert cue_for(Code.TURN_IN_LATE, ("Turn, and stay inside.",), [Code.INSIDE_SEAM]) == ""
    assert cue_for(Code.INSIDE_SEAM, (ROOM,), [Code.APEX_MISSED]) == ROOM
