import numpy as np
import pytest

from lapkit.course import read_track
from lapkit.course.check_lines import crossings
from lapkit.course.checks import check_track
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoMarker, MarkerKind, Track, Turn


def without(features, *roles):
    return [f for f in features if f["properties"]["role"] not in roles]


def only(features, **wanted):
    (found,) = [f for f in features if all(f["properties"].get(k) == v for k, v in wanted.items())]
    return found


@pytest.fixture
def problems(write):
    """Check features and return (severity, code, text) of every problem."""

    def check(features):
        found = check_track(read_track(write(features)))
        return [(p.severity.value, p.code, str(p)) for p in found]

    return check


def expect(problems, severity, code, *texts):
    """Exactly the problems of one check, which say all of ``texts``."""
    assert {(s, c) for s, c, _ in problems} == {(severity, code)}, problems
    for text in texts:
        assert any(text in message for _, _, message in problems), problems


def test_a_sound_file_has_no_problems(problems, features):
    assert problems(features) == []


def test_cones_on_both_sides_of_the_antimeridian_are_near_each_other():
    cones = [
        GeoMarker("1", str(lon), MarkerKind.APEX, Turn.LEFT, lon, -17.0)
        for lon in (179.9995, 179.9998, -179.9999, -179.9996)
    ]
    problems = check_track(Track("x", "", markers=tuple(cones)))
    assert [p.code for p in problems] == ["unusable line"]


def test_a_cone_off_the_course(problems, features, draw):
    only(features, name="exit", corner="2")["geometry"]["coordinates"] = draw.positions(
        [draw.bend_at["2"] + np.pi * 40.0 + 15.0], -15.0
    )[0]
    expect(problems(features), "error", "off course", "corner '2', marker 'exit'", "9 m outside")


def test_a_cone_outside_the_edge_as_a_walk_may_put_it(problems, features, draw):
    cone = only(features, name="exit", corner="2")
    at = draw.bend_at["2"] + np.pi * 40.0 + 15.0
    cone["geometry"]["coordinates"] = draw.positions([at], -6.0 - 3.0)[0]
    found = problems(features)
    expect(found, "warning", "outside the edge", "marker 'exit'", "3.0 m outside the edge")
    cone["geometry"]["coordinates"] = draw.positions([at], -6.0 - 1.0)[0]
    assert problems(features) == []


def test_a_cone_off_the_course_without_edges(problems, features, draw):
    bare = without(features, "left_edge", "right_edge")
    only(bare, name="exit", corner="2")["geometry"]["coordinates"] = draw.positions(
        [draw.bend_at["2"] + np.pi * 40.0 + 15.0], -30.0
    )[0]
    expect(problems(bare), "error", "off course", "30 m from the centre")


def test_a_cone_on_the_wrong_side(problems, features):
    only(features, name="turn-in", corner="1")["properties"]["side"] = "left"
    expect(problems(features), "error", "wrong side", "marker 'turn-in'", "rider's left", "no room")


def test_an_apex_on_the_outside(problems, features, draw):
    apex = only(features, name="apex", corner="1")
    apex["geometry"]["coordinates"] = draw.positions([draw.bend_at["1"] + 70.0], -3.0)[0]
    apex["properties"]["side"] = "right"
    expect(problems(features), "warning", "wrong side", "apex of a left-hander", "rider's right")


def test_cones_out_of_order(problems, features):
    only(features, name="turn-in", corner="2")["properties"]["kind"] = "apex"
    only(features, name="apex", corner="2")["properties"]["kind"] = "turn_in"
    found = problems(features)
    assert ("error", "order") in {(s, c) for s, c, _ in found}
    assert any("corner '2'" in t and "'turn-in', 'apex', 'exit'" in t for _, _, t in found)


@pytest.mark.parametrize(
    ("name", "word"), [("turn-in", "turn-in"), ("apex", "apex"), ("exit", "exit")]
)
def test_a_corner_without_a_cone(problems, features, name, word):
    features.remove(only(features, name=name, corner="1"))
    expect(problems(features), "warning", "missing cone", f"corner '1': it has no {word}; the bend")


def test_a_corner_without_any_cone(problems, features, draw):
    features.append(draw.feature("corner", name="7", turn="right"))
    expect(problems(features), "warning", "missing cone", "corner '7'", "left out")


def test_corners_that_overlap(problems, features, draw):
    begin = draw.bend_at["1"]
    features += [
        draw.feature("corner", name="1b", turn="left"),
        draw.cone("1b", "turn_in", begin + 100.0, -5.5, "right", name="turn-in"),
        draw.cone("1b", "apex", begin + 120.0, 5.5, "left", name="apex"),
        draw.cone("1b", "exit", begin + 160.0, -5.5, "right", name="exit"),
    ]
    expect(problems(features), "warning", "overlap", "corner '1b'", "before the exit of corner '1'")


def test_a_seam_that_crosses_an_edge(problems, features, draw):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(3.0, 9.0, 50), name="stray"))
    expect(problems(features), "error", "seam crossing", "seam 'stray'", "crosses the left edge")


def test_a_seam_that_a_walk_put_over_the_edge(problems, features, draw):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(4.0, 7.2, 50), name="stray"))
    expect(problems(features), "warning", "seam crossing", "crosses the left edge by 1.2 m")


def test_a_seam_that_crosses_another(problems, features, draw):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(-1.0, 4.5, 50), name="stray"))
    expect(problems(features), "error", "seam crossing", "'first seam'", "crosses seam 'stray'")


def test_two_seams_of_one_name(problems, features, draw):
    begin = draw.bend_at["1"]
    piece = draw.line("seam", np.linspace(begin, begin + 160.0, 40), 0.0, name="first seam")
    piece["properties"]["corner"] = "1"
    features.append(piece)
    expect(problems(features), "error", "seam name", "corner '1': 2 seams named 'first seam'")


def test_a_line_scribbled_over_itself(problems, draw):
    again = np.tile(np.linspace(0.0, 30.0, 9), 400)
    wide = np.random.default_rng(1).normal(0.0, 3.0, len(again))
    found = problems([draw.line("centre", again, wide)])
    assert found[0][1] == "unusable line" and "again and again" in found[0][2]


def test_seams_that_only_touch_are_left_alone(problems, features, draw):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(1.8, 2.4, 50), name="doubled"))
    assert problems(features) == []


def test_a_start_line_across_nothing(problems, features, draw):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 30.0) + draw.positions([0.0], 12.0)
    expect(problems(features), "error", "start line", "does not cross", "12 to 30 m beside")


def test_a_start_line_too_short(problems, features, draw):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 1.0) + draw.positions([0.0], -1.0)
    expect(problems(features), "error", "start line", "only 2.0 m long")


def test_a_start_line_short_of_the_edge(problems, features, draw):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 6.0) + draw.positions([0.0], -3.0)
    expect(problems(features), "warning", "start line", "ends 3.0 m before the edge")


def test_a_start_line_along_the_track(problems, features, draw):
    start = only(features, role="start_line")
    start["geometry"]["coordinates"] = draw.positions([0.0], 2.0) + draw.positions([20.0], -2.0)
    expect(problems(features), "error", "start line", "along the track")


def test_no_start_line(problems, features):
    bare = without(features, "start_line")
    expect(problems(bare), "warning", "start line", "laid across the longest straight")


def test_a_centre_folded_over_itself(problems, features):
    centre = only(features, role="centre")["geometry"]["coordinates"]
    centre[10], centre[12] = centre[12], centre[10]
    found = problems(features)
    assert ("error", "self-crossing") in {(s, c) for s, c, _ in found}
    assert any("folded over itself" in text and "centre, 7" in text for _, _, text in found)


def test_a_bridge_is_only_mentioned(problems, draw):
    t = np.linspace(0.0, 2.0 * np.pi, 160)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    lat, lon = draw.plane.to_lat_lon(x, x * np.sin(t))
    eight = draw.feature("centre", "LineString", np.stack([lon, lat], axis=-1).tolist())
    found = problems([eight])
    assert {(s, c) for s, c, _ in found} == {
        ("warning", "self-crossing"),
        ("warning", "start line"),
    }
    assert any("right for a bridge" in text for _, _, text in found)


def test_crossings_are_found_where_they_are():
    t = np.linspace(0.0, 2.0 * np.pi, 300, endpoint=False)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    line = StationLine.through(x, x * np.sin(t), True)
    ((first, second),) = crossings(line)
    assert first == pytest.approx(line.length_m / 4, abs=0.1)
    assert second == pytest.approx(0.75 * line.length_m, abs=0.1)


def test_one_cone_with_latitude_first(problems, features):
    only(features, name="apex", corner="1")["geometry"]["coordinates"].reverse()
    expect(
        problems(features), "error", "swapped", "corner '1', marker 'apex'", "Longitude comes first"
    )


def test_one_vertex_with_latitude_first(problems, features):
    only(features, role="left_edge")["geometry"]["coordinates"][17].reverse()
    expect(problems(features), "error", "swapped", "left_edge, position 18")


def test_a_whole_file_with_latitude_first(problems, features):
    for feature in features:
        geometry = feature["geometry"] or {"type": "none"}
        if geometry["type"] == "Point":
            geometry["coordinates"].reverse()
        elif geometry["type"] == "LineString":
            for position in geometry["coordinates"]:
                position.reverse()
    found = problems(features)
    ((_, code, text),) = found  # not drowned in the cones and edges that it puts wrong
    assert code == "mirrored" and "swapped" in text


def test_something_far_away(problems, features):
    only(features, name="apex", corner="1")["geometry"]["coordinates"][0] += 2.0
    expect(problems(features), "error", "far away", "marker 'apex'")


def test_a_corner_that_turns_the_other_way(problems, features):
    only(features, role="corner", name="1")["properties"]["turn"] = "right"
    only(features, name="apex", corner="1")["properties"]["side"] = "left"
    found = problems(features)
    assert ("error", "turn") in {(s, c) for s, c, _ in found}
    assert any("right-hander, but the course turns the other way" in text for _, _, text in found)


@pytest.mark.parametrize("role", ["left_edge", "right_edge"])
def test_edges_that_run_against_each_other(problems, features, role):
    only(features, role=role)["geometry"]["coordinates"].reverse()
    expect(problems(features), "error", "edge direction", role, "against each other")


def test_edges_that_both_run_against_the_centre(problems, features):
    for role in ("left_edge", "right_edge"):
        only(features, role=role)["geometry"]["coordinates"].reverse()
    expect(problems(features), "error", "edge direction", "against the centre")


def test_edges_that_changed_sides(problems, features):
    left, right = only(features, role="left_edge"), only(features, role="right_edge")
    left["properties"]["role"], right["properties"]["role"] = "right_edge", "left_edge"
    found = problems(features)
    assert ("error", "edge sides") in {(s, c) for s, c, _ in found}


def test_an_edge_walked_in_part(problems, features, draw):
    part = draw.line("left_edge", np.linspace(0.0, 0.6 * draw.lap_m, 90), 6.0)
    found = problems([*without(features, "left_edge"), part])
    expect(found, "warning", "edge in part", "left_edge: 34", "m of the course")


def test_heights_with_a_step(problems, features, draw):
    at = np.linspace(0.0, draw.lap_m, 141)
    height = 400.0 + 3.0 * np.sin(2.0 * np.pi * at / draw.lap_m) + 6.0 * ((at > 300) & (at < 600))
    lifted = draw.line("centre", np.mod(at, draw.lap_m), 0.0, height)
    found = problems([lifted, *without(features, "centre")])
    expect(found, "error", "height step", "centre, ", "m within 10 m")


def test_noisy_heights_have_no_step(problems, features, draw):
    at = np.linspace(0.0, draw.lap_m, 141)
    height = 400.0 + np.random.default_rng(3).normal(0.0, 0.5, 141)
    lifted = draw.line("centre", np.mod(at, draw.lap_m), 0.0, height)
    assert problems([lifted, *without(features, "centre")]) == []


@pytest.mark.parametrize(
    ("degrees", "severity"), [(-9.0, "warning"), (25.0, "warning"), (60.0, "error")]
)
def test_camber_beyond_what_circuits_have(problems, features, degrees, severity):
    only(features, role="corner", name="1")["properties"]["camber_deg"] = degrees
    expect(problems(features), severity, "camber", "corner '1'", f"camber of {degrees:g}")


def test_camber_of_a_cone(problems, features):
    only(features, name="exit", corner="2")["properties"]["camber_deg"] = -12
    expect(problems(features), "warning", "camber", "marker 'exit'")


def test_a_loop_that_does_not_close(problems, features, draw):
    part = draw.line("centre", np.linspace(0.0, draw.lap_m - 40.0, 120))
    found = problems([part, *without(features, "centre", "left_edge", "right_edge", "seam")])
    expect(found, "warning", "nearly closed", "its ends are 40 m apart")


def test_an_unknown_role_is_mentioned(problems, features, draw):
    features.append(draw.feature("grandstand"))
    expect(problems(features), "warning", "unknown role", "'grandstand'", "kept but not used")


def test_a_line_of_one_point_is_named(problems, features):
    centre = only(features, role="centre")
    centre["geometry"]["coordinates"] = [centre["geometry"]["coordinates"][0]] * 3
    expect(
        problems(features), "error", "unusable line", "track.geojson, centre", "1 different point"
    )


def test_nothing_to_measure_along(problems, features):
    bare = without(features, "centre", "left_edge", "right_edge")
    expect(problems(bare), "error", "unusable line", "neither a centre")


def test_errors_come_first(problems, features):
    only(features, role="corner", name="1")["properties"]["camber_deg"] = 25.0
    only(features, name="turn-in", corner="1")["properties"]["side"] = "left"
    assert [severity for severity, _, _ in problems(features)] == ["error", "warning"]
