"""The summary after the event on paper."""

import re
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.event_sheet import event_pdf, event_sheets
from lapkit.reporter.event_summary import TroubleLine, summary
from lapkit.reporter.rider_grid import Cell
from lapkit.reporter.sheet import MARGIN, PAPERS
from lapkit.units import Units

HEAD = 16.0  # points of a section's heading


def told(sheet):
    """All words of a sheet, from its top down, with blanks where its lines are broken."""
    texts = sorted(sheet.findobj(Text), key=lambda t: (-t.get_position()[1], t.get_position()[0]))
    return " ".join(t.get_text() for t in texts).replace("\N{NO-BREAK SPACE}", " ")


def boxes(sheet):
    """Where the words of a sheet stand: left, right, bottom and top, points."""
    drawn = FigureCanvasAgg(sheet).get_renderer()
    point = 72.0 / sheet.dpi
    found = [t.get_window_extent(drawn) for t in sheet.findobj(Text) if t.get_text()]
    return [(b.x0 * point, b.x1 * point, b.y0 * point, b.y1 * point) for b in found]


def test_it_says_what_the_page_says(event):
    whole = " ".join(map(told, event_sheets(event)))
    assert whole.startswith("Saltmarsh Ring ") and "A note." in whole
    work = event.riders[0].findings[0]
    assert f"{work.corner}. " in whole
    assert "ran inside the seam at" in whole
    assert "Nothing stands out for Bo." in whole
    for head in ("Riders to talk to first", "Corners by trouble", "From run to run"):
        assert head in whole
    assert "A <cone>." in whole
    assert "Cy, run 1 (<img src=x>.csv): 1 fix a second <b>." in whole
    assert all(caution.split(":")[0] in whole for caution in CAUTIONS[:4])


def test_without_a_track_file_nothing_is_made_up(found_event):
    whole = " ".join(map(told, event_sheets(found_event)))
    assert "inside the seam" not in whole
    assert "No habit can be told for Bo: there is no marker line to hold the laps against." in whole
    assert "Whether a corner stands out cannot be told" in whole


@pytest.mark.parametrize("units", PAPERS)
def test_a_large_event_goes_over_sheets_and_nothing_runs_into_anything(crowded, units):
    sheets = event_sheets(crowded, units=units)
    assert 3 < len(sheets) < 40
    whole = " ".join(map(told, sheets))
    assert all(f"Bo {i}" in whole for i in range(1, 40, 2))
    width, height = PAPERS[units]
    for number, sheet in enumerate(sheets, 1):
        assert number == 1 or f"sheet {number}" in told(sheet)
        assert CAUTIONS[0] in told(sheet)
        placed = boxes(sheet)
        for left, right, bottom, top in placed:
            assert left > MARGIN - 2.0 and right < width - 0.5 * MARGIN
            assert bottom > 0.5 * MARGIN and top < height - 0.5 * MARGIN
        for a, b in combinations(placed, 2):
            beside = a[1] <= b[0] or b[1] <= a[0]
            # A line's box has the room of letters that reach up and down, which may meet by a hair.
            apart = a[2] > b[3] - 1.5 or b[2] > a[3] - 1.5
            assert beside or apart


@pytest.mark.parametrize("notes", range(0, 50, 2))
def test_no_heading_stands_at_a_foot_alone(event, notes, monkeypatch):
    larch = TroubleLine(
        "Larch", "2 of 5 riders", ["turning in early: Bo", "wide of the apex: Cy"], ""
    )
    page = replace(
        summary(event, Units.METRIC, {}),
        troubles=[larch],
        notes=["A note of one line."] * notes,
        all_round=["inside the seam: Di"],
    )
    monkeypatch.setattr("lapkit.reporter.event_sheet.summary", lambda *_: page)
    for sheet in event_sheets(event):
        if "Corners by trouble" in told(sheet):
            assert "Larch, 2 of 5 riders" in told(sheet).split("Corners by trouble")[1]
    for sheet in event_sheets(event):
        texts = sorted(sheet.findobj(Text), key=lambda t: -t.get_position()[1])
        for above, below in pairwise(texts):
            if above.get_fontsize() == HEAD:
                assert not below.get_text().startswith(CAUTIONS[0][:20])


@pytest.mark.parametrize("notes", range(4, 34))
def test_no_head_of_the_grid_stands_at_a_foot_alone(event, notes, monkeypatch):
    page = summary(event, Units.METRIC, {})
    tall = Cell("inside 17 of 18, unclear 1, and on for some lines more")
    rows = [row._replace(cells=[tall] * len(row.cells)) for row in page.seams.rows]
    page = replace(page, seams=replace(page.seams, rows=rows), notes=["A note."] * notes)
    monkeypatch.setattr("lapkit.reporter.event_sheet.summary", lambda *_: page)
    heads = 0
    for sheet in event_sheets(event):
        words = [t.get_text() for t in sheet.findobj(Text)]
        # Some go on in a second row of corners: the first and the last stand over rows of their own.
        for corner in {page.seams.head[0], page.seams.head[-1]} & set(words):
            heads += 1
            assert any(word.startswith("inside") for word in words[words.index(corner) :])
    assert heads


@pytest.mark.parametrize("units", PAPERS)
def test_the_file_has_the_paper_asked_for_and_is_the_same_every_time(event, tmp_path, units):
    for name in ("one.pdf", "two.pdf"):
        event_pdf(event, tmp_path / name, units=units)
    raw = (tmp_path / "one.pdf").read_bytes()
    assert b"/MediaBox [ 0 0 %g %g ]" % PAPERS[units] in raw
    assert len(re.findall(rb"/Type /Page\b", raw)) == len(event_sheets(event))
    assert raw == (tmp_path / "two.pdf").read_bytes()


def test_corners_are_spread_evenly_over_rows_of_the_grid(event, grow):
    many = grow["crowd"](replace(event, riders=event.riders[1:]), 1, 8)
    (sheet, *_) = event_sheets(many)
    cells = [
        t for t in sheet.findobj(Text) if re.match("(in|out)side|unclear|no timed", t.get_text())
    ]
    rows = {}
    for text in cells:
        rows.setdefault(text.get_position()[1], set()).add(text.get_position()[0])
    assert {len(row) for row in rows.values()} == {4}
