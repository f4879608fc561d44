"""Words and grids from the top of a sheet downward, and on over as many sheets as they take."""

import pytest
from matplotlib.text import Text

from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.flow import INDENT, SMALL, TEXT, Flow, grids
from lapkit.reporter.rider_grid import Cell, GridRow
from lapkit.reporter.sheet import FOOT, MARGIN, PAPERS
from lapkit.units import Units

PAPER = PAPERS[Units.METRIC]


@pytest.fixture
def flow():
    return Flow("Saltmarsh", PAPER)


def texts(paper):
    """The words on a sheet with their places, points, from its top down."""
    found = [(t.get_position(), t.get_text()) for t in paper.figure.findobj(Text) if t.get_text()]
    return sorted(found, key=lambda one: (-one[0][1], one[0][0]))


def words(paper):
    return [text for _, text in texts(paper)]


def place(paper, text):
    return next(at for at, said in texts(paper) if said == text)


def test_what_is_said_later_stands_lower_and_what_belongs_to_it_is_set_in(flow):
    flow.say("first")
    flow.say("second", indent=INDENT)
    first, second = place(flow.papers[0], "first"), place(flow.papers[0], "second")
    assert second[1] < first[1] - TEXT
    assert second[0] == pytest.approx(first[0] + INDENT)


def test_a_paragraph_is_never_broken_over_two_sheets(flow):
    while flow.y > FOOT + 2.0 * TEXT:
        flow.say("a line")
    flow.say("of three lines " * 15)
    assert len(flow.papers) == 2
    first, second = map(words, flow.papers)
    assert not any("of three lines" in text for text in first)
    assert sum("of three lines" in text for text in second) == 3
    assert second[0] == "Saltmarsh, sheet 2"


@pytest.mark.parametrize("above", range(24, 44))
def test_a_heading_stands_with_the_lines_that_follow_it(flow, above):
    for _ in range(above):
        flow.say("a line")
    flow.head("Heading", lines=3)
    headed = flow.papers[-1]
    flow.say("of three lines " * 15)
    assert flow.papers[-1] is headed


def test_later_sheets_repeat_only_the_cautions_that_nobody_may_miss_and_hold_more(flow):
    lines = []
    while len(flow.papers) < 3:
        lines.append(len(flow.papers))
        flow.say("a line", size=SMALL)
    first, second, _ = map(words, flow.papers)
    assert all(caution[:40] in " ".join(first) for caution in CAUTIONS[:4])
    assert all(caution in second for caution in CAUTIONS[:2])
    assert CAUTIONS[2] not in second
    # Two sheets filled from the top, of which the first has the larger title.
    assert lines.count(2) > lines.count(1) + 2
    lowest = min(at[1] for at, said in texts(flow.papers[1]) if said == "a line")
    assert lowest > place(flow.papers[1], CAUTIONS[0])[1] + 2.0 * SMALL


def row(rider, corners, text="none of 7"):
    return GridRow(rider, "", [Cell(text)] * corners)


@pytest.mark.parametrize(("corners", "beside"), [(3, [3]), (7, [7]), (8, [4, 4]), (15, [5, 5, 5])])
def test_many_corners_are_spread_evenly_over_grids_below_each_other(flow, corners, beside):
    head = [f"Corner {i}" for i in range(corners)]
    grids(flow, head, [row("Bo", corners)])
    heights = {}
    for (_, y), text in texts(flow.papers[0]):
        if text in head:
            heights.setdefault(round(y, 3), []).append(text)
    assert [len(line) for _, line in sorted(heights.items(), reverse=True)] == beside
    assert words(flow.papers[0]).count("Bo") == len(beside)


def test_the_head_stands_again_over_the_rows_of_another_sheet(flow):
    grids(flow, ["Larch"], [row(f"Bo {i}", 1) for i in range(80)])
    assert len(flow.papers) > 1
    for paper in flow.papers:
        said = words(paper)
        rows = [i for i, text in enumerate(said) if text.startswith("Bo")]
        assert rows and said.index("Larch") < rows[0]
        assert min(at[1] for at, text in texts(paper) if text.startswith("Bo")) > FOOT - SMALL
    assert sum(text.startswith("Bo") for paper in flow.papers for text in words(paper)) == 80


def test_what_stands_out_is_bold_and_cells_stand_within_the_margins(flow):
    cells = [Cell("5 of 7", much=True), Cell("none of 7")]
    grids(flow, ["Larch", "Weir"], [GridRow("Bo", "", cells)])
    weights = {t.get_text(): t.get_fontweight() for t in flow.papers[0].figure.findobj(Text)}
    assert weights["5 of 7"] == "bold" != weights["none of 7"]
    lefts = [place(flow.papers[0], text)[0] for text in ("Bo", "Larch", "Weir")]
    assert lefts[0] == pytest.approx(MARGIN)
    assert lefts[2] - lefts[1] > lefts[1] - lefts[0] > 50.0
    assert lefts == sorted(lefts)
