import re
import zlib
from dataclasses import replace

import pandas as pd
import pytest
from matplotlib.text import Text

from lapkit.course import line_table
from lapkit.findings import Code, Finding, Kind
from lapkit.reporter.figures import style
from lapkit.reporter.figures.canvas import text_width
from lapkit.reporter.pdf import corner_sheet, corner_sheets, rider_pdf, rider_sheet
from lapkit.reporter.sheet import MARGIN, PAPERS
from lapkit.units import Units


def pages_of(path):
    raw = path.read_bytes()
    assert raw.startswith(b"%PDF")
    return len(re.findall(rb"/Type /Page\b", raw)), raw


@pytest.fixture
def lines(event):
    rows = [
        {
            "corner": c.name,
            "line": line,
            "radius_min_m": 60.0,
            "exit_radius_min_m": 70.0,
            "lean_at_60_kmh_deg": 24.0,
        }
        for c in event.course.corners
        for line in ("marker", "inside")
    ]
    return pd.DataFrame(rows)


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


def test_there_is_a_sheet_for_every_corner(event, lines, tmp_path):
    corner_sheets(event.course, lines, tmp_path / "corners.pdf")
    assert pages_of(tmp_path / "corners.pdf")[0] == len(event.course.corners)


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
