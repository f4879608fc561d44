"""The page of a course: every corner a sheet, its tables those of line.csv, labelled as geometry."""

from html.parser import HTMLParser

import numpy as np
import pytest

from lapkit.course import line_table, place, read_track
from lapkit.course.line_table import ladder_kmh
from lapkit.course.marker_line import with_line
from lapkit.reporter.course_page import GEOMETRY, course_page
from lapkit.sample import sample_event
from lapkit.units import Units


class Rows(HTMLParser):
    """Sections by id, each with its text and the cells of its tables' rows."""

    def __init__(self, page):
        super().__init__()
        self.sections, self.rows, self.cell, self.ids = {}, {}, None, []
        self.here = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if "id" in attrs:
            self.ids.append(attrs["id"])
        if tag == "section":
            self.here = attrs.get("id", "")
            self.sections[self.here], self.rows[self.here] = "", []
        if tag == "tr":
            self.rows.setdefault(self.here, []).append([])
        if tag in ("td", "th"):
            self.cell = ""

    def handle_data(self, data):
        self.sections[self.here] = self.sections.get(self.here, "") + data
        if self.cell is not None:
            self.cell += data

    def handle_endtag(self, tag):
        if tag in ("td", "th"):
            self.rows[self.here][-1].append(self.cell)
            self.cell = None


@pytest.fixture(scope="module")
def course():
    return with_line(place(read_track(sample_event() / "track.geojson")))


@pytest.fixture(scope="module")
def table(course):
    return line_table(course)


@pytest.fixture(scope="module")
def read(course, table):
    return Rows(course_page(course, table, "Ring & <Co>", ["seam 1: it crosses"]))


def test_a_sheet_for_every_corner_with_its_cues_and_hazards(course, read):
    for number, corner in enumerate(course.corners, 1):
        text = read.sections[f"corner-{number}"]
        assert corner.name in text and corner.turn in text
        assert all(said in text for said in (*corner.cues, *corner.hazards))
        assert "Geometry, not advice" in text
    assert len(set(read.ids)) == len(read.ids)


def test_the_name_is_plain_text_and_problems_are_told(course, table):
    page = course_page(course, table, "Ring & <Co>", ["seam 1: it crosses"])
    assert "Ring &amp; &lt;Co&gt;" in page and "<Co>" not in page
    assert "seam 1: it crosses" in page and "Worth a look" in page
    assert "results.json" not in page and "http:" not in page
    assert GEOMETRY.split(",")[0] in page
    assert "Worth a look" not in course_page(course, table, "Ring", [])


def test_the_figures_are_those_of_the_table(course, table, read):
    rows = {row[0]: row for row in reversed(read.rows["corner-1"]) if len(row) == 5}
    mine = table[(table.corner == course.corners[0].name) & (table.line == "marker")].iloc[0]
    assert rows["marker line"][1] == f"{mine.radius_min_m:.0f}"
    assert rows["marker line"][3] == f"{mine.exit_radius_min_m:.0f}"
    leans = next(row for row in read.rows["corner-1"] if len(row) == 6 and "line" in row[0])
    assert leans[1] == f"{mine.lean_at_40_kmh_deg:.0f}°"


def test_feet_and_miles_for_those_who_read_them(course):
    table = line_table(course, ladder_kmh(Units.US))
    page = Rows(course_page(course, table, "Ring", [], units=Units.US))
    mine = table[(table.corner == course.corners[0].name) & (table.line == "marker")].iloc[0]
    rows = [row for row in page.rows["corner-1"] if row[0] == "marker line"]
    assert rows[0][1] == f"{mine.radius_min_m / 0.3048:.0f}"
    assert rows[2][1] == f"{mine.kmh_at_20_deg / 1.609344:.0f}"
    assert ["Line", "25", "35", "45", "60", "75"] in page.rows["corner-1"]


def test_a_corner_that_no_line_was_found_for_has_dashes(course, table):
    gone = table.copy()
    numbers = [c for c in gone.columns if c not in ("corner", "line")]
    gone.loc[(gone.corner == "Anvil") & (gone.line == "inside"), numbers] = np.nan
    page = Rows(course_page(course, gone, "Ring", []))
    rows = [row for row in page.rows["corner-5"] if row[0] == "inside the first seam"]
    assert rows and all(set(row[1:]) == {"–"} for row in rows)
