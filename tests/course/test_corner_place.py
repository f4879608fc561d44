"""Corners placed along the stations: their cones, what of them is missing, and their camber."""

import numpy as np
import pytest

from lapkit.course import place, read_track
from lapkit.course.corner_place import PASS_WITHIN_M, place_corner
from lapkit.course.reference import plane_of, reference_of


@pytest.mark.parametrize(
    ("of_corner", "of_cones", "expected"),
    [
        (None, {"exit": -3.0}, [0.0, 0.0, -3.0]),
        (None, {"turn-in": 1.0, "exit": -3.0}, [1.0, None, -3.0]),
        (2.0, {"exit": -3.0}, [2.0, 2.0, -3.0]),
        (None, {}, [0.0, 0.0, 0.0]),
    ],
)
def test_a_cone_without_camber_has_the_corners_or_lies_between_those_that_have_one(
    write, features, of_corner, of_cones, expected
):
    for each in features:
        said = each["properties"]
        said.pop("camber_deg", None)
        if said["role"] == "corner" and of_corner is not None:
            said["camber_deg"] = of_corner
        if said["role"] == "marker" and said["name"] in of_cones:
            said["camber_deg"] = of_cones[said["name"]]
    corner = place(read_track(write(features))).corners[0]
    camber = [marker.camber_deg for marker in corner.markers]
    if expected[1] is None:
        at = [marker.station_m for marker in corner.markers]
        expected[1] = 1.0 - 4.0 * (at[1] - at[0]) / (at[2] - at[0])
    assert camber == pytest.approx(expected)


@pytest.fixture
def placed(write):
    """Places the first corner of some features."""

    def first(features):
        track = read_track(write(features))
        plane = plane_of(track)
        return place_corner(track, track.corners[0], plane, reference_of(track, plane))

    return first


def without_cone(features, name):
    """The features without one cone of the first corner."""
    return [
        f
        for f in features
        if (f["properties"].get("corner"), f["properties"].get("name")) != ("1", name)
    ]


def test_cones_give_the_phases(placed, features, draw):
    corner = placed(features)
    begin, arc = draw.bend_at["1"], np.pi * 40.0
    assert corner.turn_in_m == pytest.approx(begin - 10.0, abs=0.5)
    assert corner.apexes_m == pytest.approx([begin + 0.55 * arc], abs=0.5)
    assert corner.exit_m == pytest.approx(begin + arc + 15.0, abs=0.5)
    assert corner.ordered and corner.estimated == ()
    assert [m.offset_m for m in corner.markers] == pytest.approx([-5.5, 5.5, -5.5], abs=0.05)


def test_a_cone_is_passed_as_closely_as_it_says_or_else_as_is_usual(placed, features, only):
    only(features, name="apex", corner="1")["properties"]["pass_within_m"] = 0.4
    assert [m.pass_within_m for m in placed(features).markers] == [
        PASS_WITHIN_M,
        0.4,
        PASS_WITHIN_M,
    ]


@pytest.mark.parametrize(("name", "place_of_bend"), [("turn-in", 0.0), ("exit", 1.0)])
def test_a_missing_end_is_where_the_bend_begins_or_ends(
    placed, features, draw, name, place_of_bend
):
    corner = placed(without_cone(features, name))
    assert corner.estimated == (name,)
    found = corner.turn_in_m if name == "turn-in" else corner.exit_m
    assert found == pytest.approx(draw.bend_at["1"] + place_of_bend * np.pi * 40.0, abs=6.0)


@pytest.mark.parametrize(
    ("kept", "estimated", "place_of_bend"),
    [("turn-in", ("exit", "apex"), 1.0), ("exit", ("turn-in", "apex"), 0.0)],
)
def test_from_a_lone_turn_in_the_bend_lies_ahead_and_from_a_lone_exit_behind(
    placed, features, draw, kept, estimated, place_of_bend
):
    """Both cones stand on the straight, where the course does not bend yet, or no longer."""
    for name in {"turn-in", "apex", "exit"} - {kept}:
        features = without_cone(features, name)
    corner = placed(features)
    assert corner.estimated == estimated and corner.ordered
    found = corner.exit_m if kept == "turn-in" else corner.turn_in_m
    assert found == pytest.approx(draw.bend_at["1"] + place_of_bend * np.pi * 40.0, abs=6.0)
    assert 0.0 < corner.apexes_m[0] - draw.bend_at["1"] < np.pi * 40.0


def test_a_missing_apex_is_where_the_course_bends_most(placed, features, draw):
    corner = placed(without_cone(features, "apex"))
    assert corner.estimated == ("apex",)
    (apex,) = corner.apexes_m
    assert 0.0 < apex - draw.bend_at["1"] < np.pi * 40.0


def test_a_corner_of_sight_cones_alone_is_none(placed, features, draw):
    bare = [f for f in features if f["properties"]["role"] != "marker"]
    sight = draw.cone("1", "sight", 200.0, -5.0, "right", name="sight")
    assert placed([*bare, sight]) is None


def test_cones_out_of_order_are_told(placed, features):
    for each in features:
        said = each["properties"]
        if said.get("corner") == "1" and said.get("kind") in ("turn_in", "exit"):
            said["kind"] = "exit" if said["kind"] == "turn_in" else "turn_in"
    assert not placed(features).ordered


def test_a_corner_across_the_start_of_stations_counts_on(write, features, draw):
    """The reference begins in the middle of the corner."""
    lap = draw.bend_at["1"] + 60.0 + np.linspace(0.0, draw.lap_m, 141)
    moved = [f for f in features if f["properties"]["role"] not in ("centre", "start_line")]
    track = read_track(write([draw.line("centre", np.mod(lap, draw.lap_m)), *moved]))
    plane = plane_of(track)
    corner = place_corner(track, track.corners[0], plane, reference_of(track, plane))
    assert 0.0 <= corner.turn_in_m < draw.lap_m < corner.exit_m
    assert corner.ordered
    assert corner.markers[-1].station_m == pytest.approx(corner.exit_m)


def test_so_do_its_cones_where_only_the_turn_in_lies_before_the_start(write, features, draw):
    """The reference begins between the place of the missing turn-in and the first cone."""
    lap = draw.bend_at["1"] + 40.0 + np.linspace(0.0, draw.lap_m, 141)
    others = [
        f
        for f in without_cone(features, "turn-in")
        if f["properties"]["role"] not in ("centre", "start_line")
    ]
    track = read_track(write([draw.line("centre", np.mod(lap, draw.lap_m)), *others]))
    plane = plane_of(track)
    corner = place_corner(track, track.corners[0], plane, reference_of(track, plane))
    assert 0.0 <= corner.turn_in_m < draw.lap_m < corner.apexes_m[0]
    assert [m.station_m for m in corner.markers] == pytest.approx(
        [corner.apexes_m[0], corner.exit_m]
    )
