"""What the names of a walk's waypoints and recordings mean."""

import pytest

from lapkit.course.types import MarkerKind, Turn
from lapkit.course.walk_words import Thing, meant, read_name


@pytest.mark.parametrize(
    ("name", "corner", "kind", "marker"),
    [
        ("3 turn-in", "3", MarkerKind.TURN_IN, "turn-in"),
        ("3 Turn In", "3", MarkerKind.TURN_IN, "turn-in"),
        ("T3 turn_in", "3", MarkerKind.TURN_IN, "turn-in"),
        ("turn 3 turn-in", "3", MarkerKind.TURN_IN, "turn-in"),
        ("Corner 3 entry", "3", MarkerKind.TURN_IN, "turn-in"),
        ("3 apex 2", "3", MarkerKind.APEX, "apex 2"),
        ("3 apex2", "3", MarkerKind.APEX, "apex 2"),
        ("3a apex", "3a", MarkerKind.APEX, "apex"),
        ("3 EXIT", "3", MarkerKind.EXIT, "exit"),
        ("3 exit (2)", "3", MarkerKind.EXIT, "exit"),
        ("3 exit #3", "3", MarkerKind.EXIT, "exit"),
        ("3 exit cone", "3", MarkerKind.EXIT, "exit"),
        ("exit 3", "3", MarkerKind.EXIT, "exit"),
        ("hairpin sight", "hairpin", MarkerKind.SIGHT, "sight"),
        ("back door apex 1", "back door", MarkerKind.APEX, "apex 1"),
        ("T3 tip-in", "3", MarkerKind.TURN_IN, "turn-in"),
        ("3 turn in point", "3", MarkerKind.TURN_IN, "turn-in"),
        ("3 clipping point", "3", MarkerKind.APEX, "apex"),
        ("3 clipping point 2", "3", MarkerKind.APEX, "apex 2"),
        ("T3 track-out", "3", MarkerKind.EXIT, "exit"),
        ("corner T3 exit", "3", MarkerKind.EXIT, "exit"),
        ("St. Anne's apex 2", "St Anne's", MarkerKind.APEX, "apex 2"),
        ("Hatch & Gate exit", "Hatch & Gate", MarkerKind.EXIT, "exit"),
        ("3 2nd apex", "3", MarkerKind.APEX, "apex 2"),
        ("Hairpin first apex", "Hairpin", MarkerKind.APEX, "apex 1"),
        ("3 exit again", "3", MarkerKind.EXIT, "exit"),
        ("3 exit 2nd time", "3", MarkerKind.EXIT, "exit"),
    ],
)
def test_names_of_cones_are_read_in_many_spellings(name, corner, kind, marker):
    found = read_name(name)
    assert (found.thing, found.corner, found.kind, found.name) == (
        Thing.MARKER,
        corner,
        kind,
        marker,
    )


def test_a_cone_may_say_its_side():
    assert read_name("3 apex 2 left").side is Turn.LEFT
    assert read_name("3 exit right").side is Turn.RIGHT
    assert read_name("3 exit").side is None


@pytest.mark.parametrize(
    ("name", "thing"),
    [
        ("start left", Thing.START_LEFT),
        ("Start/finish right", Thing.START_RIGHT),
        ("start line left (2)", Thing.START_LEFT),
        ("S/F left", Thing.START_LEFT),
        ("start R", Thing.START_RIGHT),
        ("L edge", Thing.LEFT_EDGE),
        ("right side", Thing.RIGHT_EDGE),
        ("hold point", Thing.HOLD_POINT),
        ("Hold", Thing.HOLD_POINT),
        ("base", Thing.BASE_POINT),
        ("base point 2", Thing.BASE_POINT),
        ("left edge", Thing.LEFT_EDGE),
        ("Right_Edge 2", Thing.RIGHT_EDGE),
        ("centre", Thing.CENTRE),
        ("Center line", Thing.CENTRE),
        ("coach lap", Thing.COACH_LAP),
        ("coach lap 3", Thing.COACH_LAP),
        ("coach's lap", Thing.COACH_LAP),
        ("pit lane", Thing.PIT_LANE),
        ("corner 3", Thing.CORNER),
        ("turn 3 left", Thing.CORNER),
    ],
)
def test_names_of_lines_and_spots_are_read(name, thing):
    assert read_name(name).thing is thing


@pytest.mark.parametrize(
    ("name", "corner", "side"),
    [
        ("turn 3 left", "3", Turn.LEFT),
        ("Turn one", "one", None),
        ("corner Hairpin right", "Hairpin", Turn.RIGHT),
        ("corner Kiln Square", "Kiln Square", None),
        ("corner 3 Right kink left", "3 Right kink", Turn.LEFT),
        ("corner T3 left", "3", Turn.LEFT),
        ("Corner C12", "12", None),
        ("corner Cobbler’s", "Cobbler’s", None),
    ],
)
def test_a_corner_s_name_may_say_which_way_it_turns(name, corner, side):
    found = read_name(name)
    assert (found.thing, found.corner, found.side) == (Thing.CORNER, corner, side)


@pytest.mark.parametrize(
    ("name", "corner", "seam", "letter"),
    [
        ("seam 1", "", "seam 1", ""),
        ("3 seam 1 a", "3", "seam 1", "a"),
        ("T3 seam2b", "3", "seam 2", "b"),
        ("T3 seam 2 again", "3", "seam 2", ""),
        ("seam 2 c", "", "seam 2", "c"),
    ],
)
def test_names_of_seams_are_read_with_corner_and_letter(name, corner, seam, letter):
    found = read_name(name)
    assert (found.thing, found.corner, found.name, found.letter) == (
        Thing.SEAM,
        corner,
        seam,
        letter,
    )


@pytest.mark.parametrize(
    ("name", "corner", "text"),
    [
        ("hazard kerb sticks out", "", "kerb sticks out"),
        ("3 hazard: Oil - old, by the post", "3", "Oil - old, by the post"),
        ("Hazard Tyre wall 1.5 m", "", "Tyre wall 1.5 m"),
    ],
)
def test_hazards_keep_their_own_words(name, corner, text):
    found = read_name(name)
    assert (found.thing, found.corner, found.text) == (Thing.HAZARD, corner, text)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "   ",
        "car",
        "3",
        "toilets",
        "3 aplex",
        "WPT 012",
        "hazard",
        "seam",
        "edge",
        "start",
        "turn-in",
        "Apex cone",
        "turn right here",
        "turn right",
        "turn sharply left",
        "corner left",
        "corner right here",
        "corner is bumpy",
        "turn in at the bush",
        "turn in here",
        "exit is hidden",
    ],
)
def test_other_names_mean_nothing(name):
    assert read_name(name) is None


@pytest.mark.parametrize(
    ("name", "better"),
    [
        ("3 aplex", "3 apex"),
        ("3 exit old one", ""),
        ("3 exit 1st", "3 exit"),
        ("T1 seam 1 outside", "T1 seam 1"),
        ("T1 aplex late", "T1 apex"),
        ("brake board 200", ""),
    ],
)
def test_a_misspelt_name_gets_a_suggestion(name, better):
    assert meant(name) == better
