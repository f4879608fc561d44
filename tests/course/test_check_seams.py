"""Checks of seams: crossings, and names given twice."""

import numpy as np


def test_a_seam_that_crosses_an_edge_is_an_error(problems, features, draw, expect):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(3.0, 9.0, 50), name="stray"))
    expect(problems(features), "error", "seam crossing", "seam 'stray'", "crosses the left edge")


def test_a_seam_over_the_edge_by_no_more_than_the_error_of_a_walk_is_only_warned_of(
    problems, features, draw, expect
):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(4.0, 7.2, 50), name="stray"))
    expect(problems(features), "warning", "seam crossing", "crosses the left edge by 1.2 m")


def test_a_seam_that_crosses_another_is_an_error_that_names_both(problems, features, draw, expect):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(-1.0, 4.5, 50), name="stray"))
    expect(problems(features), "error", "seam crossing", "'first seam'", "crosses seam 'stray'")


def test_two_seams_of_one_name_at_a_corner_are_an_error(problems, features, draw, expect):
    begin = draw.bend_at["1"]
    piece = draw.line("seam", np.linspace(begin, begin + 160.0, 40), 0.0, name="first seam")
    piece["properties"]["corner"] = "1"
    features.append(piece)
    expect(problems(features), "error", "seam name", "corner '1': 2 seams named 'first seam'")


def test_seams_that_only_touch_are_left_alone(problems, features, draw):
    at = np.linspace(100.0, 300.0, 50)
    features.append(draw.line("seam", at, np.linspace(1.8, 2.4, 50), name="doubled"))
    assert problems(features) == []


def test_where_a_seam_crosses_is_told_by_its_station(problems, features, draw):
    """It lies inside the edge up to the middle of its stretch."""
    at = np.linspace(20.0, 120.0, 50)
    features.append(draw.line("seam", at, np.linspace(3.0, 9.0, 50), name="stray"))
    ((_, _, text),) = problems(features)
    station = float(text.split("at station ")[1].split(" m")[0])
    assert abs(station - 70.0) < 2.5


def test_a_seam_that_runs_elsewhere_crosses_nothing(problems, features, draw):
    begin = draw.bend_at["2"]
    at = np.linspace(begin, begin + 100.0, 30)
    here = np.linspace(20.0, 120.0, 50)
    features.append(draw.line("seam", here, np.linspace(2.8, 5.2, 50), name="here"))
    features.append(draw.line("seam", at, np.full(30, 4.0), name="there"))
    assert problems(features) == []
