import re
import zlib
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from matplotlib.text import Text

from lapkit.course import line_table
from lapkit.course.line_table import LINES, columns
from lapkit.reporter.corner_sheets import corner_sheet, corner_sheets
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import text_width
from lapkit.units import Units


def pages_of(path):
    raw = path.read_bytes()
    assert raw.startswith(b"%PDF")
    return len(re.findall(rb"/Type /Page\b", raw)), raw


@pytest.fixture
def lines(event):
    """A table of lines with every column, its cells from 10 up."""
    rows = [(corner.name, line) for corner in event.course.corners for line in LINES]
    names = columns()
    cells = np.tile(10.0 + np.arange(len(names) - 2), (len(rows), 1))
    table = pd.DataFrame(rows, columns=names[:2])
    return table.join(pd.DataFrame(cells, columns=names[2:]))


def test_there_is_a_sheet_for_every_corner(event, lines, tmp_path):
    corner_sheets(event.course, lines, tmp_path / "corners.pdf")
    assert pages_of(tmp_path / "corners.pdf")[0] == len(event.course.corners)


def test_it_is_told_how_many_sheets_are_done(event, lines, tmp_path):
    told = []
    corner_sheets(
        event.course, lines, tmp_path / "sheets.pdf", progress=lambda *of: told.append(of)
    )
    count = len(event.course.corners)
    assert told == [(number, count) for number in range(1, count + 1)]


def test_sheets_are_the_same_every_time(event, lines, tmp_path):
    for name in ("one.pdf", "two.pdf"):
        corner_sheets(event.course, lines, tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_sheets_of_corners_are_black_and_white(event, lines, tmp_path):
    corner_sheets(event.course, lines, tmp_path / "corners.pdf")
    _, raw = pages_of(tmp_path / "corners.pdf")
    colors = set()
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", raw, re.DOTALL):
        try:
            text = zlib.decompress(stream).decode("latin-1")
        except zlib.error:
            continue
        colors |= set(re.findall(r"([\d.]+ [\d.]+ [\d.]+) (?:rg|RG)\b", text))
    assert colors
    for color in colors:
        channels = [float(c) for c in color.split()]
        assert max(channels) - min(channels) < 0.02


@pytest.mark.parametrize("units", Units)
def test_what_stands_side_by_side_does_not_touch_and_no_fact_is_torn(event, units):
    course, corner = event.course, event.course.corner("Kiln Square")
    figure = corner_sheet(course, corner, line_table(course), units=units)
    texts = figure.findobj(Text)
    rows = {}
    for text in texts:
        if text.get_fontsize() == 11.0:
            rows.setdefault(text.get_position()[1], []).append(text)
    whole = [sorted(row, key=lambda t: t.get_position()[0]) for row in rows.values()]
    whole = [row for row in whole if len(row) > 5]
    assert len(whole) == 3
    for row in whole:
        lean, speed = row[-5:-3]  # the last lean, and the first of four speeds
        wide = text_width(">60°") * lean.get_fontsize() / style.FONT
        assert "°" in lean.get_text() and "°" not in speed.get_text()
        assert lean.get_position()[0] + wide + 10.0 < speed.get_position()[0]
    facts = [t.get_text() for t in texts if "keeps" in t.get_text()]
    assert facts and all(re.search(r"keeps\W+\d+\W+(m|ft)\W+radius", fact) for fact in facts)


def test_every_cell_stands_in_the_row_of_its_line_and_under_its_head(event, lines):
    figure = corner_sheet(event.course, event.course.corners[0], lines, units=Units.METRIC)
    texts = [t for t in figure.findobj(Text) if t.get_text()]
    (head,) = (t for t in texts if t.get_text() == "Line")
    left = [t for t in texts if t.get_text() in ("marker line", "inside the first seam")]
    assert len(left) == 2

    def row_of(first):
        y = first.get_position()[1]
        own = [t for t in texts if t.get_position()[1] == y]
        return [t.get_text() for t in sorted(own, key=lambda t: t.get_position()[0])]

    speeds, leans = ["40", "60", "80", "100", "120"], ["20°", "30°", "40°", "45°"]
    assert row_of(head) == ["Line", "tightest", "exit", *speeds, *leans]
    for first in left:
        # Lengths in metres from turn-in stand on the page alone.
        assert row_of(first)[1:] == [
            "10", "12", "15°", "16°", "17°", "18°", "19°", "20", "21", "22", "23",
        ]  # fmt: skip


def test_what_no_machine_reaches_is_not_told_to_the_degree(event, lines):
    lines["lean_at_120_kmh_deg"], lines["kmh_at_45_deg"] = 71.0, 400.0
    figure = corner_sheet(event.course, event.course.corners[0], lines)
    texts = [t.get_text() for t in figure.findobj(Text)]
    assert texts.count(">60°") == len(LINES)
    assert "400" not in texts


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize(("cues", "hazards"), [(40, 1), (40, 40)])
def test_more_cues_and_hazards_than_a_sheet_has_room_for_are_no_fault(
    event, lines, units, cues, hazards
):
    """With seven long cues the drawing had less than no room, and no sheet was written."""
    long = "Look at the far kerb and wait until the exit cone comes into sight before you roll on."
    corner = replace(event.course.corners[0], cues=(long,) * cues, hazards=(long,) * hazards)
    sheet = corner_sheet(event.course, corner, lines, units=units)
    words = [text.get_text() for text in sheet.findobj(Text)]
    shown = sum(word.startswith("“Look at") for word in words)
    assert f"{cues - shown} more cues on the page." in words
    assert (shown > 0) == ("turn-in" in words) == (hazards == 1)
