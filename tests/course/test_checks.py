"""Checks of a whole track file: sound, swapped, far away, nothing to measure along."""

import pytest


def test_a_sound_file_has_no_problems(problems, features):
    assert problems(features) == []


def test_one_cone_with_latitude_first_is_an_error_at_that_cone(problems, features, only, expect):
    only(features, name="apex", corner="1")["geometry"]["coordinates"].reverse()
    expect(
        problems(features), "error", "swapped", "corner '1', marker 'apex'", "Longitude comes first"
    )


def test_one_vertex_with_latitude_first_is_an_error_at_its_position(
    problems, features, only, expect
):
    only(features, role="left_edge")["geometry"]["coordinates"][17].reverse()
    expect(problems(features), "error", "swapped", "left_edge, position 18")


def test_a_whole_file_with_latitude_first_is_one_problem_and_not_many(problems, features):
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


@pytest.mark.parametrize("axis", [0, 1], ids=["east", "north"])
def test_a_place_far_from_all_others_is_an_error(problems, features, only, expect, axis):
    only(features, name="apex", corner="1")["geometry"]["coordinates"][axis] += 2.0
    expect(problems(features), "error", "far away", "marker 'apex'")


def test_an_unknown_role_is_mentioned(problems, features, draw, expect):
    features.append(draw.feature("grandstand"))
    expect(problems(features), "warning", "unknown role", "'grandstand'", "kept but not used")


def test_a_line_of_one_point_is_named(problems, features, only, expect):
    centre = only(features, role="centre")
    centre["geometry"]["coordinates"] = [centre["geometry"]["coordinates"][0]] * 3
    expect(
        problems(features), "error", "unusable line", "track.geojson, centre", "1 different point"
    )


def test_a_track_without_any_line_is_an_error(problems, features, without, expect):
    bare = without(features, "centre", "left_edge", "right_edge")
    expect(problems(bare), "error", "unusable line", "neither a centre")


def test_errors_come_first(problems, features, only):
    only(features, role="corner", name="1")["properties"]["camber_deg"] = 25.0
    only(features, name="turn-in", corner="1")["properties"]["side"] = "left"
    assert [severity for severity, _, _ in problems(features)] == ["error", "warning"]
