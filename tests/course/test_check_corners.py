"""Checks of corners and their cones."""

from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.course.check_corners import turn_against_course
from lapkit.course.checks import check_track
from lapkit.course.types import GeoMarker, MarkerKind, Track, Turn


def test_cones_on_both_sides_of_the_antimeridian_are_near_each_other():
    cones = [
        GeoMarker("1", str(lon), MarkerKind.APEX, Turn.LEFT, lon, -17.0)
        for lon in (179.9995, 179.9998, -179.9999, -179.9996)
    ]
    problems = check_track(Track("x", "", markers=tuple(cones)))
    assert [p.code for p in problems] == ["unusable line"]


def test_a_cone_off_the_course_is_an_error_with_how_far_outside_it_stands(
    problems, features, draw, only, expect
):
    only(features, name="exit", corner="2")["geometry"]["coordinates"] = draw.positions(
        [draw.bend_at["2"] + np.pi * 40.0 + 15.0], -15.0
    )[0]
    expect(
        problems(features), "error", "off course", "corner '2', marker 'exit'", "stands 9 m outside"
    )


def test_a_cone_outside_the_edge_is_warned_of_only_beyond_the_error_of_a_walk(
    problems, features, draw, only, expect
):
    cone = only(features, name="exit", corner="2")
    at = draw.bend_at["2"] + np.pi * 40.0 + 15.0
    cone["geometry"]["coordinates"] = draw.positions([at], -6.0 - 3.0)[0]
    found = problems(features)
    expect(found, "warning", "outside the edge", "marker 'exit'", "stands 3.0 m outside the edge")
    cone["geometry"]["coordinates"] = draw.positions([at], -6.0 - 1.0)[0]
    assert problems(features) == []


def test_without_edges_a_cone_off_the_course_is_told_by_its_distance_from_the_centre(
    problems, features, draw, only, without, expect
):
    bare = without(features, "left_edge", "right_edge")
    del only(bare, role="centre")["properties"]["width_m"]
    only(bare, name="exit", corner="2")["geometry"]["coordinates"] = draw.positions(
        [draw.bend_at["2"] + np.pi * 40.0 + 15.0], -30.0
    )[0]
    expect(problems(bare), "error", "off course", "30 m from the centre")


def test_a_cone_that_leaves_no_room_on_its_side_is_an_error(problems, features, only, expect):
    only(features, name="turn-in", corner="1")["properties"]["side"] = "left"
    expect(problems(features), "error", "wrong side", "marker 'turn-in'", "rider's left", "no room")


@pytest.mark.parametrize(("offset_m", "faulty"), [(-5.2, True), (-4.8, False)])
def test_a_cone_can_be_passed_where_a_metre_of_road_is_left(
    problems, features, draw, only, offset_m, faulty
):
    cone = only(features, name="turn-in", corner="1")
    cone["properties"]["side"] = "left"
    cone["geometry"]["coordinates"] = draw.positions([draw.bend_at["1"] - 10.0], offset_m)[0]
    assert ("wrong side" in [code for _, code, _ in problems(features)]) is faulty


def test_an_apex_cone_on_the_outside_of_its_corner_is_warned_of(
    problems, features, draw, only, expect
):
    apex = only(features, name="apex", corner="1")
    apex["geometry"]["coordinates"] = draw.positions([draw.bend_at["1"] + 70.0], -3.0)[0]
    apex["properties"]["side"] = "right"
    expect(problems(features), "warning", "wrong side", "apex of a left-hander", "rider's right")


def test_a_cone_given_twice_is_warned_of_and_the_two_of_a_gate_are_not(
    problems, features, draw, only, expect
):
    apex = only(features, name="apex", corner="1")
    again = {**apex, "properties": {**apex["properties"], "name": "apex b"}}
    found = problems([*features, again])
    expect(found, "warning", "doubled", "corner '1', marker 'apex b'", "marker 'apex' stands")
    gate = dict(
        again,
        geometry={
            "type": "Point",
            "coordinates": draw.positions([draw.bend_at["1"] + 70.0], 4.5)[0],
        },
    )
    assert not any(code == "doubled" for _, code, _ in problems([*features, gate]))


def test_cones_out_of_order_are_an_error(problems, features, only):
    only(features, name="turn-in", corner="2")["properties"]["kind"] = "apex"
    only(features, name="apex", corner="2")["properties"]["kind"] = "turn_in"
    found = problems(features)
    assert ("error", "order") in {(s, c) for s, c, _ in found}
    assert any("corner '2'" in t and "'turn-in', 'apex', 'exit'" in t for _, _, t in found)


@pytest.mark.parametrize("name", ["turn-in", "apex", "exit"])
def test_a_corner_that_lacks_a_cone_is_warned_of_with_the_kind_it_lacks(
    problems, features, name, only, expect
):
    features.remove(only(features, name=name, corner="1"))
    expect(problems(features), "warning", "missing cone", f"corner '1': it has no {name}; the bend")


def test_a_corner_without_any_cone_is_left_out_with_a_warning(problems, features, draw, expect):
    features.append(draw.feature("corner", name="7", turn="right"))
    expect(problems(features), "warning", "missing cone", "corner '7'", "left out")


def test_corners_that_overlap_are_warned_of(problems, features, draw, expect):
    begin = draw.bend_at["1"]
    features += [
        draw.feature("corner", name="1b", turn="left"),
        draw.cone("1b", "turn_in", begin + 100.0, -5.5, "right", name="turn-in"),
        draw.cone("1b", "apex", begin + 120.0, 5.5, "left", name="apex"),
        draw.cone("1b", "exit", begin + 160.0, -5.5, "right", name="exit"),
    ]
    expect(problems(features), "warning", "overlap", "corner '1b'", "before the exit of corner '1'")


def test_corners_that_overlap_across_the_start_of_stations_are_warned_of(
    problems, features, draw, only, without, expect
):
    """The reference begins with the first corner's bend, 5 m before its turn-in and 20 m before the last one's exit."""
    lap = draw.bend_at["1"] + np.linspace(0.0, draw.lap_m, 141)
    moved = [
        draw.line("centre", np.mod(lap, draw.lap_m), width_m=12.0),
        *without(features, "centre", "left_edge", "right_edge", "seam"),
    ]
    for name, corner, on_m in (("turn-in", "1", 5.0), ("exit", "2", 20.0)):
        place = draw.positions([draw.bend_at["1"] + on_m], -5.5)[0]
        only(moved, name=name, corner=corner)["geometry"]["coordinates"] = place
    expect(
        problems(moved), "warning", "overlap", "corner '1': its turn-in lies 15 m", "of corner '2'"
    )


@pytest.mark.parametrize(
    ("from_m", "to_m", "told"),
    [
        (-7.5, 200.0, "its turn-in lies 2.5 m before the course begins"),
        (-60.0, 137.7, "its exit lies 3.0 m beyond the course's end"),
    ],
)
def test_a_corner_that_an_open_course_does_not_go_all_through_is_warned_of(
    problems, features, draw, from_m, to_m, told, expect
):
    """The bend is 125.7 m long; the turn-in stands 10 m before it and the exit 15 m after it."""
    begin = draw.bend_at["1"]
    hill = draw.line("centre", np.linspace(begin + from_m, begin + to_m, 40), width_m=12.0)
    cones = [f for f in features if "1" in (f["properties"].get(k) for k in ("name", "corner"))]
    start = draw.across(begin + from_m + 3.0)
    expect(problems([hill, start, *cones]), "warning", "beyond an end", "corner '1'", told)


@pytest.mark.parametrize(("start_m", "warned"), [(-12.0, False), (-5.0, True), (40.0, True)])
def test_a_corner_before_the_start_line_of_an_open_course_is_warned_of(
    problems, features, draw, start_m, warned, expect
):
    """The turn-in stands 10 m before the bend."""
    begin = draw.bend_at["1"]
    hill = draw.line("centre", np.linspace(begin - 60.0, begin + 200.0, 60), width_m=12.0)
    cones = [f for f in features if "1" in (f["properties"].get(k) for k in ("name", "corner"))]
    found = problems([hill, draw.across(begin + start_m), *cones])
    if warned:
        told = f"its turn-in lies {start_m + 10.0:.0f} m before the start line, so no lap has this"
        expect(found, "warning", "before the start", "corner '1'", told)
    else:
        assert found == []


def test_a_corner_before_the_start_line_of_a_loop_belongs_to_the_lap_before(
    problems, features, draw, only
):
    only(features, role="start_line")["geometry"] = draw.across(draw.bend_at["1"])["geometry"]
    assert problems(features) == []


def test_a_corner_that_turns_the_other_way_is_an_error(problems, features, only):
    only(features, role="corner", name="1")["properties"]["turn"] = "right"
    only(features, name="apex", corner="1")["properties"]["side"] = "left"
    found = problems(features)
    assert ("error", "turn") in {(s, c) for s, c, _ in found}
    assert any("right-hander, but the course turns the other way" in text for _, _, text in found)


@pytest.mark.parametrize(
    ("degrees", "severity"), [(-50, "error"), (-9.0, "warning"), (25.0, "warning"), (60.0, "error")]
)
def test_camber_beyond_what_circuits_have_is_warned_of_and_absurd_camber_refused(
    problems, features, degrees, severity, only, expect
):
    only(features, role="corner", name="1")["properties"]["camber_deg"] = degrees
    expect(problems(features), severity, "camber", "corner '1'", f"camber of {degrees:g}")


def test_the_camber_of_a_cone_is_checked_too(problems, features, only, expect):
    only(features, name="exit", corner="2")["properties"]["camber_deg"] = -12
    expect(problems(features), "warning", "camber", "marker 'exit'")


def test_a_cone_far_outside_the_edge_is_not_called_on_the_wrong_side_as_well(
    problems, features, draw, only, expect
):
    cone = only(features, name="exit", corner="2")
    at = draw.bend_at["2"] + np.pi * 40.0 + 15.0
    cone["geometry"]["coordinates"] = draw.positions([at], -15.0)[0]
    cone["properties"]["side"] = "left"
    expect(problems(features), "error", "off course", "9 m outside")


@pytest.mark.parametrize(
    ("degrees", "said"),
    [
        ((-10.0, 90.0, 90.0), ["turn"]),
        ((-3.0, 90.0, 90.0), []),
        ((30.0, 90.0, 90.0), []),
        ((-10.0, -90.0, 90.0), ["turn", "turn"]),
        ((-10.0, -90.0, -90.0), ["mirrored"]),
    ],
)
def test_a_corner_whose_road_hardly_turns_is_not_said_to_turn_the_other_way(degrees, said):
    """A reference drawn with few points may turn a few degrees either way. Only all corners together are mirrored."""

    def left_hander(number):
        corner = SimpleNamespace(name=str(number), turn=Turn.LEFT)
        return SimpleNamespace(corner=corner, turn_in_m=number, exit_m=number, ordered=True)

    survey = SimpleNamespace(
        track=SimpleNamespace(source="t"),
        corners=[left_hander(number) for number in range(3)],
        reference=SimpleNamespace(heading_at=lambda at: np.radians([0.0, degrees[at[1]]])),
    )
    assert [problem.code for problem in turn_against_course(survey)] == said
