"""A marker line as it was drawn, and one that cones close down."""

import numpy as np
import pandas as pd

from lapkit.course.check_marker_line import tighter_than_further_in
from lapkit.course.problem import Severity


def table(*rows):
    return pd.DataFrame(rows, columns=["corner", "line", "radius_min_m", "radius_min_at_m"])


def test_a_marker_line_much_tighter_than_a_line_further_in_is_told_with_its_place():
    dip = [
        ("Dip", "marker", 29.0, 61.0),
        ("Dip", "one lane in", 94.0, 20.0),
        ("Dip", "inside", 103.0, 9.0),
    ]
    found = list(tighter_than_further_in(table(*dip), "a.geojson"))
    assert [problem.severity for problem in found] == [Severity.WARNING]
    assert str(found[0]) == (
        "a.geojson, corner 'Dip': 61 m after turn-in the marker line is down to 29 m radius, where a line one lane "
        "further in keeps 94 m. Its cones, or the next corner's, leave no room for an open line: move them, and run "
        "this again."
    )


def test_what_the_next_corner_takes_is_no_fault_and_unknown_lines_are_none():
    nan = float("nan")
    rows = [
        ("Esses", "marker", 85.0, 40.0), ("Esses", "one lane in", 105.0, 20.0),
        ("Wide", "marker", 71.0, 40.0), ("Wide", "one lane in", 100.0, 20.0),
        ("Last", "marker", 20.0, 40.0), ("Last", "one lane in", nan, nan),
        ("Plain", "marker", nan, nan), ("Plain", "one lane in", 50.0, 9.0),
    ]  # fmt: skip
    assert not list(tighter_than_further_in(table(*rows), "a.geojson"))
    rows[2] = ("Wide", "marker", 69.0, 40.0)
    assert ["'Wide'" in p.where for p in tighter_than_further_in(table(*rows), "a.geojson")] == [
        True
    ]


def test_a_marker_line_drawn_against_the_riding_is_an_error(problems, features, draw, expect):
    line = draw.line("marker_line", np.arange(draw.lap_m, 0.0, -4.0), 1.0)
    expect(problems([*features, line]), "error", "marker line direction", "marker_line", "against")


def test_a_marker_line_that_leaves_a_corner_out_is_warned_of(problems, features, draw, expect):
    line = draw.line("marker_line", np.arange(100.0, 320.0, 4.0), 1.0)
    expect(problems([*features, line]), "warning", "marker line in part", "corner '2'", "not drawn")


def test_of_a_corner_whose_cones_are_out_of_order_only_that_is_told(
    problems, features, draw, only, expect
):
    """The marker line runs through it, but not from what is called its turn-in to what is called its exit."""
    line = draw.line("marker_line", np.arange(100.0, 320.0, 4.0), 1.0)
    second = [f for f in features if f["properties"].get("corner") == "2"]
    rest = [f for f in features if f not in second and f["properties"].get("name") != "2"]
    for name, kind in (("turn-in", "exit"), ("exit", "turn_in")):
        only(rest, name=name, corner="1")["properties"]["kind"] = kind
    expect(problems([*rest, line]), "error", "order", "corner '1'")
