"""Corners and cones of a walk: which way a corner turns, and on which side a cone is passed."""

import numpy as np
import pytest

from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn
from lapkit.course.walk_corners import (
    Visited,
    beside,
    by_corner,
    corner_of,
    marker_of,
    runs_against,
    side_of,
    turn_of,
)
from lapkit.course.walk_description import Described
from lapkit.course.walk_lines import Pass
from lapkit.course.walk_spots import Spot
from lapkit.course.walk_words import Named, Thing

KINDS = {"turn-in": MarkerKind.TURN_IN, "apex": MarkerKind.APEX, "exit": MarkerKind.EXIT}


def cone(kind, x, y, corner="3", **said):
    named = Named(Thing.MARKER, corner, KINDS[kind], kind)
    return Visited(named, Spot(x, y, 1, None, 0), Described(**said))


def note(corner="3", **said):
    return Visited(Named(Thing.CORNER, corner), Spot(0.0, 0.0, 1, None, 0), Described(**said))


@pytest.fixture(scope="module")
def ring():
    """A loop of 50 m radius that is a left-hander all round; it begins in the east."""
    angle = np.linspace(0.0, 2.0 * np.pi, 180, endpoint=False)
    return StationLine.through(50.0 * np.cos(angle), 50.0 * np.sin(angle), True)


NORTHEAST = [cone("turn-in", 48.0, 10.0), cone("apex", 32.0, 32.0), cone("exit", 10.0, 48.0)]


def test_cones_of_a_corner_come_in_riding_order_whenever_they_were_marked():
    other = cone("exit", 0.0, 0.0, corner="4")
    found = by_corner([NORTHEAST[2], note(), other, NORTHEAST[0], NORTHEAST[1]])
    assert [p.named.name for p in found["3"]] == ["turn-in", "apex", "exit", ""]
    assert found["4"] == [other]


@pytest.mark.parametrize("backward", [False, True])
def test_a_reference_runs_against_the_riding_when_exits_come_before_turn_ins(ring, backward):
    line = ring
    if backward:
        line = StationLine.through(ring.x_m[::-1], ring.y_m[::-1], True)
    assert runs_against(line, {"3": NORTHEAST}, [], []) is backward


def test_without_cones_the_side_of_the_edges_decides(ring):
    angle = np.linspace(0.1, 1.5, 40)
    inside = Pass(45.0 * np.cos(angle), 45.0 * np.sin(angle), np.full(40, np.nan))
    assert not runs_against(ring, {}, [inside], [])
    assert runs_against(ring, {}, [], [inside])


def test_a_corner_turns_as_described_before_anything_else(ring):
    said = [*NORTHEAST, note(turn=Turn.RIGHT)]
    assert turn_of(ring, said) is Turn.RIGHT


@pytest.mark.parametrize("cones", [NORTHEAST, NORTHEAST[1:2]])
def test_else_it_turns_as_the_course_does_there(ring, cones):
    assert turn_of(ring, cones) is Turn.LEFT


def test_without_a_course_three_cones_show_it_and_two_do_not():
    assert turn_of(None, NORTHEAST) is Turn.LEFT
    mirrored = [cone(p.named.name, p.spot.x_m, -p.spot.y_m) for p in NORTHEAST]
    assert turn_of(None, mirrored) is Turn.RIGHT
    assert turn_of(None, NORTHEAST[:2]) is None
    assert turn_of(None, [note()]) is None


def test_the_side_of_a_cone_is_as_described_else_by_its_place_else_by_its_kind():
    apex, leave = cone("apex", 0.0, 0.0), cone("exit", 0.0, 0.0)
    assert side_of(apex, Turn.LEFT, -5.0) is Turn.RIGHT
    assert side_of(cone("apex", 0.0, 0.0, side=Turn.LEFT), Turn.LEFT, -5.0) is Turn.LEFT
    on_the_centre = 0.5
    assert side_of(apex, Turn.LEFT, on_the_centre) is Turn.LEFT
    assert side_of(leave, Turn.LEFT, on_the_centre) is Turn.RIGHT
    assert side_of(leave, Turn.RIGHT, None) is Turn.LEFT


def test_the_places_of_a_corner_lie_beside_the_course(ring):
    station, offset = beside(ring, [cone("apex", 55.0, 0.0), cone("exit", 0.0, 48.0), note()])
    quarter_m = 25.0 * np.pi
    assert station[:2] == pytest.approx([0.0, quarter_m], abs=0.1)
    assert offset[:2] == pytest.approx([-5.0, 2.0], abs=0.1)
    (alone,), (left_m,) = beside(ring, [cone("apex", 0.0, 55.0)])
    assert (alone, left_m) == pytest.approx((quarter_m, -5.0), abs=0.1)


def test_at_a_crossing_cones_stand_beside_the_leg_along_which_they_are_ridden():
    """A figure of eight: the apex stands 4 m left of its own leg and 3.5 m right of the other one."""
    t = np.linspace(0.0, 2.0 * np.pi, 321)[:-1]
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    line = StationLine.through(x, x * np.sin(t), True)
    at = 0.25 * line.length_m + np.array([-40.0, 3.5, 60.0])
    x, y = line.offset_points(at, 4.0)
    cones = [
        cone(k, *xy)
        for k, xy in zip(("turn-in", "apex", "exit"), zip(x, y, strict=True), strict=True)
    ]
    assert line.project(x[1], y[1])[1] == pytest.approx(-3.5, abs=0.1)
    station, offset = beside(line, cones)
    assert station == pytest.approx(at, abs=0.5)
    assert offset == pytest.approx([4.0, 4.0, 4.0], abs=0.1)


def test_a_corner_gathers_what_was_said_at_any_of_its_cones():
    listed = [
        cone("apex", 0, 0, camber_deg=-9.0, target_lane=2, cues=("wait", "look"), notes=("wet",)),
        note(camber_deg=1.5, cues=("wait",), notes=("new tar", "bumps")),
    ]
    made = corner_of("3", Turn.LEFT, listed)
    assert (made.camber_deg, made.target_lane) == (1.5, 2)
    assert made.cues == ("wait", "look")
    assert made.properties == {"note": "new tar; bumps"}


def test_a_cone_keeps_how_often_and_how_surely_it_was_visited():
    place = Visited(
        Named(Thing.MARKER, "3", MarkerKind.EXIT, "exit"),
        Spot(10.0, 0.0, 4, 0.456, 0),
        Described(pass_within_m=0.5, notes=("on the kerb",)),
    )
    made = marker_of(Plane(50.0, 8.0), place, Turn.RIGHT)
    assert made.properties == {"visits": 4, "spread_m": 0.46, "note": "on the kerb"}
    assert made.lon > 8.0 and made.lat == pytest.approx(50.0, abs=1e-6)
    assert (made.side, made.pass_within_m) == (Turn.RIGHT, 0.5)
