from dataclasses import replace

import pandas as pd
import pytest

from lapkit.compare.results import RunResult
from lapkit.compare.standard import standards
from lapkit.findings import Code, Finding, RiderReview
from lapkit.reporter.rider_grid import Cell, GridRow
from lapkit.reporter.seam_grid import seam_grid, seam_summary, seam_words, unplaced_words


@pytest.fixture(scope="module")
def seamed(event):
    return [(c, c.seams[0]) for c in event.course.corners if c.seams]


def called(place, calls, kinds=None):
    """Tables of one rider whose laps were called so at the innermost seam of a corner."""
    corner, seam = place
    laps = range(len(calls))
    kinds = kinds or ["timed"] * len(calls)
    whose = {"rider": "Bo", "session": "1", "lap": list(laps)}
    here = pd.DataFrame(whose).assign(corner=corner.name)
    return {
        "laps": pd.DataFrame(whose | {"kind": kinds}),
        "corners": here.assign(left_road=0.0),
        "seams": here.assign(seam=seam.name, call=calls),
    }


def ridden(tables):
    """The rider of those tables, in his one run."""
    return RiderReview("Bo", "", (RunResult("Bo", "1", tables, ()),), ())


@pytest.mark.parametrize(
    ("calls", "text", "much"),
    [
        (["inside"] * 3 + ["outside"], "inside 3 of 4", True),
        (["inside", "outside"], "inside 1 of 2", False),
        (["outside"] * 2 + ["unclear"], "outside 2 of 3, unclear 1", False),
        (["unclear"] * 2, "unclear 2", False),
        ([], "no timed lap", False),
    ],
)
def test_a_cell_is_words_and_a_number(seamed, calls, text, much):
    ((rider, link, (cell,)),) = seam_grid(
        [ridden(called(seamed[0], calls))], seamed[:1], {"Bo": "bo.html"}
    )
    assert (rider, link) == ("Bo", "bo.html")
    assert cell.text.replace("\N{NO-BREAK SPACE}", " ") == text
    assert cell.much is much


def test_only_timed_laps_count(seamed):
    tables = called(seamed[0], ["inside", "inside"], ["out", "timed"])
    ((_, _, (cell,)),) = seam_grid([ridden(tables)], seamed[:1], {})
    assert cell.text.endswith("of\N{NO-BREAK SPACE}1")


def test_another_seam_is_not_counted(seamed):
    corner = next(c for c, _ in seamed if len(c.seams) > 1)
    first, second = corner.seams[:2]
    rider = ridden(called((corner, second), ["inside"]))
    ((_, _, (cell,)),) = seam_grid([rider], [(corner, first)], {})
    assert cell.text == "no timed lap"


def test_who_is_told_of_a_seam_further_out_is_not_told_to_be_outside_alone(seamed):
    corner = next(c for c, _ in seamed if len(c.seams) > 1)
    first, second = corner.seams[:2]
    tables = called((corner, first), ["outside"] * 3)
    inside = called((corner, second), ["inside", "inside", "unclear"])["seams"]
    tables["seams"] = pd.concat([tables["seams"], inside])
    habit = Finding(
        "Bo", corner.name, Code.INSIDE_SEAM, 2, 3, 0.99, 1.5, "Inside.", marker=second.name
    )
    for found, much in ((habit, True), (replace(habit, habit=False), False)):
        rider = replace(ridden(tables), findings=(found,))
        ((_, _, (cell,)),) = seam_grid([rider], [(corner, first)], {})
        assert cell.much is much
        text = cell.text.replace("\N{NO-BREAK SPACE}", " ")
        told = "outside 3 of 3; inside the second seam 2 of 3" if much else "outside 3 of 3"
        assert text == told


def test_many_corners_are_written_short(seamed):
    corners = [seamed[0]] * 10
    rider = ridden(called(seamed[0], ["inside", "unclear"]))
    ((_, _, cells),) = seam_grid([rider], corners, {})
    assert {c.text for c in cells} == {"inside 1/2, unclear\N{NO-BREAK SPACE}1"}


def test_the_gist_names_who_and_where(seamed):
    inside, outside = Cell("inside", much=True), Cell("outside")
    corners = [c for c, _ in seamed[:3]]
    names = [c.name for c in corners]
    cells = {"Al": [outside] * 3, "Bo": [inside, inside, outside], "Cy": [inside] * 3}
    grid = [GridRow(rider, "", row) for rider, row in cells.items()]
    assert seam_words(grid, corners) == [
        "Cy ran inside the seam at all 3 corners below.",
        f"Bo ran inside the seam at {names[0]} and {names[1]}.",
    ]
    (nobody,) = seam_words(grid[:1], corners)
    assert nobody.startswith("Nobody ran inside the innermost seam")
    many = [GridRow(f"R{i}", "", [inside] * 3) for i in range(11)]
    assert seam_words(many, corners)[-1] == "The same is so of 3 more."


def test_a_rider_without_a_called_lap_is_not_cleared_with_the_others(seamed):
    corners = [c for c, _ in seamed[:2]]
    sure, unclear = Cell("outside"), Cell("unclear", sure=False)
    grid = [GridRow("Al", "", [sure] * 2), GridRow("Bo", "", [unclear] * 2)]
    assert seam_words(grid, corners)[0].startswith("Nobody whose laps could be called ran")


def test_without_a_sure_lap_nobody_is_cleared(seamed):
    corners = seamed[:2]
    tables = called(corners[0], ["unclear"] * 3)
    (said,) = seam_words(seam_grid([ridden(tables)], corners, {}), [c for c, _ in corners])
    assert "cannot be told" in said


@pytest.mark.parametrize(
    ("placed_by", "verdict", "calls", "told"),
    [
        ("none", "good", ["unclear"] * 3 + ["inside"], True),
        ("edges", "fair", ["unclear"] * 3 + ["inside"], True),
        ("none", "good", ["unclear", "inside"], False),
        ("hold_point", "good", ["unclear"] * 4, False),
        ("base_log", "good", ["unclear"] * 4, False),
        ("none", "laps only", ["unclear"] * 4, False),
    ],
)
def test_why_most_laps_are_unclear_is_told_with_what_helps(seamed, placed_by, verdict, calls, told):
    log = {"rider": ["Bo"], "session": ["1"], "verdict": [verdict], "offset_from": [placed_by]}
    tables = called(seamed[0], calls) | {"logs": pd.DataFrame(log)}
    why = unplaced_words([ridden(tables)], seamed[:1], hold_point=True)
    assert bool(why) is told
    if told:
        assert why.startswith("Most laps of 1 of 1 logs are unclear, as no stop on a known spot")
        assert "stand still on the hold point" in why
        assert "one marked spot" in unplaced_words([ridden(tables)], seamed[:1], hold_point=False)


def test_a_corner_is_left_out_where_the_line_runs_inside_all_its_seams(event, monkeypatch):
    whole = seam_summary(event, {"Bo": "rider-bo.html"})
    names = [corner.name for corner in event.course.corners]
    assert whole.head == names and whole.left_out == ""
    assert [(rider, link) for rider, link, _ in whole.rows] == [
        (event.riders[0].rider, ""),
        ("Bo", "rider-bo.html"),
    ]
    first = standards(event.course)[names[0]]
    inside = replace(first, seams_to_mind=())
    changed = standards(event.course) | {names[0]: inside}
    monkeypatch.setattr("lapkit.reporter.seam_grid.standards", lambda course: changed)
    without = seam_summary(event, {})
    assert without.head == names[1:] and without.left_out == names[0]
    assert {len(cells) for _, _, cells in without.rows} == {len(names) - 1}
    assert whole.uncounted == without.uncounted == ""


def test_why_no_seam_is_counted_at_all_is_said(event, monkeypatch):
    inside = {
        name: replace(each, seams_to_mind=()) for name, each in standards(event.course).items()
    }
    monkeypatch.setattr("lapkit.reporter.seam_grid.standards", lambda course: inside)
    none = seam_summary(event, {})
    assert none.head == []
    assert none.uncounted.startswith("The marker line itself runs inside the seams at every corner")
    bare = [replace(corner, seams=()) for corner in event.course.corners]
    seamless = {c.name: replace(inside[c.name], corner=c) for c in bare}
    monkeypatch.setattr("lapkit.reporter.seam_grid.standards", lambda course: seamless)
    unmarked = replace(event, course=replace(event.course, corners=tuple(bare)))
    assert seam_summary(unmarked, {}).uncounted.startswith("The course has no seams marked")
