import re
from dataclasses import replace
from itertools import pairwise

import pytest
from matplotlib.text import Text

from lapkit.findings import Code, Finding, Kind
from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.rider_sheet import rider_pdf, rider_sheet
from lapkit.reporter.sheet import FOOT, MARGIN, PAPERS
from lapkit.units import Units


def pages_of(path):
    raw = path.read_bytes()
    assert raw.startswith(b"%PDF")
    return len(re.findall(rb"/Type /Page\b", raw)), raw


@pytest.mark.parametrize("units", Units)
def test_a_rider_s_sheet_is_one_page_of_his_paper(event, tmp_path, units):
    for i, rider in enumerate(event.riders):
        rider_pdf(event, rider, tmp_path / f"{i}.pdf", units=units)
        count, raw = pages_of(tmp_path / f"{i}.pdf")
        assert count == 1
        width, height = PAPERS[units]
        assert b"/MediaBox [ 0 0 %g %g ]" % (width, height) in raw


def test_how_to_read_a_picture_stands_under_the_first_of_a_sheet(event):
    worked = event.riders[0]
    well = next(f for f in worked.findings if f.kind is not Kind.WORK and f.corner)
    quiet = replace(worked, findings=(replace(well, kind=Kind.WELL),))
    for rider in (worked, quiet):
        words = " ".join(t.get_text() for t in rider_sheet(event, rider).findobj(Text))
        assert words.count("Black") == 1


@pytest.mark.parametrize("count", [2, 3])
def test_what_stands_below_shares_the_whole_width(event, count):
    rider = event.riders[0]
    corner = event.course.corners[0].name
    below = [Kind.MIND] * (count - 1) + [Kind.WELL]
    work, *others = [
        Finding(
            rider.rider,
            corner,
            Code.APEX_MISSED,
            3,
            3,
            1.0,
            1.0,
            "Wide.",
            kind=kind,
            lap=1,
            session="1",
        )
        for kind in (Kind.WORK, *below)
    ]
    sheet = rider_sheet(event, replace(rider, findings=(work, *others)))
    (well,) = [t for t in sheet.findobj(Text) if t.get_text() == "Done well"]
    width = PAPERS["metric"][0]
    share = (well.get_position()[0] - MARGIN) / (width - 2.0 * MARGIN + 16.0)
    assert share == pytest.approx((count - 1) / count, abs=0.01)


def test_a_sheet_says_how_corners_are_numbered_that_were_found(event, found_event):
    for shown, said in ((found_event, True), (event, False)):
        sheet = rider_sheet(shown, shown.riders[0])
        text = " ".join(t.get_text() for t in sheet.findobj(Text)).replace(
            "\N{NO-BREAK SPACE}", " "
        )
        assert ("corners numbered from the start line" in text) is said


def test_where_the_sheet_has_room_there_are_lines_to_write_on_clear_of_everything(event):
    bo = event.riders[1]
    (first, *_) = bo.findings
    # One picture beside its words, as of most riders.
    few = (replace(first, kind=Kind.WORK), replace(first, corner="", kind=Kind.WELL, text="Well."))
    roomy = rider_sheet(event, replace(bo, findings=few))
    (notes,) = [p for p in roomy.findobj() if p.get_gid() == "notes"]
    roomy.canvas.draw()
    heights = sorted(path.vertices[0, 1] for path in notes.get_paths())
    assert len(heights) == 4
    assert {round(high - low, 6) for low, high in pairwise(heights)} == {24.0}
    words = {t.get_text(): t for t in roomy.findobj(Text)}
    head = words["Notes"].get_window_extent()
    per_point = roomy.dpi / 72.0
    assert heights[0] > FOOT and head.y0 > heights[-1] * per_point
    # Everything else lies above the word, or is a caution below the lines.
    for text in roomy.findobj(Text):
        box = text.get_window_extent()
        if text is words["Notes"] or not text.get_text():
            continue
        assert box.y0 >= head.y1 or box.y1 <= FOOT * per_point

    # A picture gives way to them, whatever else it could show in the room.
    two = (replace(first, kind=Kind.WORK), replace(first, kind=Kind.WELL))
    for found in (two, two[1:]):
        shown = rider_sheet(event, replace(bo, findings=found)).findobj()
        assert [len(p.get_paths()) > 1 for p in shown if p.get_gid() == "notes"] == [True]
    # A sheet that is full has none.
    long = " ".join(["Wide of the apex cone in all of the laps."] * 9)
    full = replace(bo, findings=(*few, replace(first, kind=Kind.MIND, text=long, cue=long)))
    assert "Notes" not in {t.get_text() for t in rider_sheet(event, full).findobj(Text)}


@pytest.mark.parametrize("units", Units)
def test_neither_a_long_name_nor_a_long_cue_runs_into_the_cautions(event, units):
    bo = event.riders[1]
    work = replace(
        bo.findings[0],
        kind=Kind.WORK,
        text="It is wide of the line. " * 8,
        details=("That took more lean than the line would have. " * 3,) * 4,
        cue="Look at the exit cone. " * 20,
    )
    rider = replace(bo, rider="Anna Maria " * 20, findings=(work,))
    sheet = rider_sheet(event, rider, units=units)
    sheet.canvas.draw()
    foot = FOOT * sheet.dpi / 72.0
    said = [
        t
        for t in sheet.findobj(Text)
        if t.get_text() and t.get_text()[:20] not in " ".join(CAUTIONS)
    ]
    assert min(t.get_window_extent().y0 for t in said) >= foot
