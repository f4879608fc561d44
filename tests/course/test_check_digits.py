"""What a track file is told when it is written with too few digits."""

import numpy as np
import pytest


def written(feature, decimals):
    """The feature with its coordinates in so many decimals of a degree."""
    geometry = feature["geometry"]
    places = np.round(np.array(geometry["coordinates"]), decimals).tolist()
    return {**feature, "geometry": {**geometry, "coordinates": places}}


@pytest.fixture
def marker_line(draw):
    return draw.line("marker_line", np.arange(0.0, draw.lap_m, 4.0), 1.0)


def test_a_marker_line_in_five_decimals_is_told_with_its_step_and_the_remedy(
    problems, features, marker_line, expect
):
    told = problems([*features, written(marker_line, 5)])
    wanted = (
        "marker_line: it is written in steps of 1.1 m",
        "a tenth to a third",
        "seven decimals",
    )
    expect(told, "warning", "coarse digits", *wanted)


def test_one_in_six_decimals_is_a_twentieth_off_and_one_in_seven_is_no_fault(
    problems, features, marker_line, expect
):
    told = problems([*features, written(marker_line, 6)])
    expect(told, "warning", "coarse digits", "steps of 0.11 m", "some 5 %")
    assert not problems([*features, written(marker_line, 7)])


def test_edges_seams_and_cones_in_five_decimals_are_named_in_one_sentence(
    problems, features, expect
):
    coarse = [
        written(f, 5) if f["properties"]["role"] in ("right_edge", "seam", "marker") else f
        for f in features
    ]
    told = problems(coarse)
    expect(
        told,
        "warning",
        "coarse digits",
        "right_edge, seam 'first seam', seam 'second seam' and 6 cones: written in steps of 1.1 m",
        "up to 0.5 m wrong",
    )
    assert len(told) == 1


def test_without_cones_the_others_are_named_all_the_same(problems, features, expect):
    of_corners = ("marker", "corner", "seam", "hazard")
    bare = [f for f in features if f["properties"]["role"] not in of_corners]
    told = problems([written(f, 5) if "edge" in f["properties"]["role"] else f for f in bare])
    expect(told, "warning", "coarse digits", "left_edge and right_edge: written in steps of 1.1 m")


def test_in_six_decimals_they_are_where_they_stand(problems, features):
    assert not problems([written(f, 6) if f["geometry"] else f for f in features])


def test_a_centre_in_five_decimals_is_smoothed_and_nothing_is_held_against_it(problems, features):
    fine = [written(f, 5) if f["properties"]["role"] == "centre" else f for f in features]
    assert not problems(fine)


def test_a_vertex_mended_by_hand_does_not_hide_the_others(problems, features, marker_line, expect):
    line = written(marker_line, 5)
    line["geometry"]["coordinates"][7] = marker_line["geometry"]["coordinates"][7]
    expect(problems([*features, line]), "warning", "coarse digits", "marker_line")
