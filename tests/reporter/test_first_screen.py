from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text

from lapkit.findings import Code, Finding, Kind
from lapkit.reporter.figures.overhead import MARGIN_M
from lapkit.reporter.first_screen import CLOSE_UP_M, FirstScreen, close_up, first_caption
from lapkit.reporter.rider_page import rider_page
from lapkit.reporter.rider_sheet import rider_sheet
from lapkit.units import Units


@pytest.fixture
def finding(event):
    corner = event.course.corners[0]
    return Finding(
        "Bo", corner.name, Code.TURN_IN_EARLY, 3, 3, 0.95, 9.0, "You turn in early.", cue="Wait.",
        kind=Kind.WORK, station_m=corner.turn_in_m, lap=1, session="1", details=("One.", "", "Two."),
    )  # fmt: skip


def traces_of(event, finding):
    rider = event.riders[0]
    return [t for run in rider.runs for t in run.traces if t.corner == finding.corner]


def test_a_close_up_lies_about_the_place_and_within_what_is_drawn(event, finding):
    corner = event.course.corners[0]
    low, high = corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M
    (first, last), ring = close_up(corner, finding)
    assert ring == corner.turn_in_m
    assert (first, last) == (max(low, ring - CLOSE_UP_M), min(high, ring + CLOSE_UP_M))
    # A place beyond the corner is brought to its end.
    (first, last), ring = close_up(corner, replace(finding, station_m=high + 500.0))
    assert ring == last == high and first == high - CLOSE_UP_M


def test_what_has_no_one_place_shows_the_whole_corner(event, finding):
    corner = event.course.corners[0]
    whole = (corner.turn_in_m - MARGIN_M, corner.exit_m + MARGIN_M)
    assert close_up(corner, replace(finding, station_m=np.nan)) == (whole, None)


def test_a_picture_is_explained_in_full_once(event, finding):
    laps = traces_of(event, finding)
    full = first_caption(event.course, finding, laps, close=True, full=True)
    assert (
        "Black dashes" in full and "Dots: seams" in full and full.endswith("Ring: where to look.")
    )
    short = first_caption(event.course, finding, laps, close=False, full=False)
    assert short == "Thick line: run 1, lap 1."


def test_a_finding_has_its_corner_its_sentences_and_a_picture(event, finding):
    traces = traces_of(event, finding)
    told = FirstScreen(event.course, traces, {}, Units.METRIC).finding(finding, 0)
    corner = event.course.corners[0]
    assert (told.kind, told.corner, told.turn) == ("work", corner.name, str(corner.turn))
    assert (told.text, told.cue, told.details) == ("You turn in early.", "Wait.", ["One.", "Two."])
    assert told.link == ""
    assert "<svg" in told.picture.svg and told.picture.caption.startswith("Thick line")


def test_that_cones_may_be_what_is_off_is_read_with_the_fault_on_page_and_paper(event, finding):
    bo = replace(event.riders[1], findings=(replace(finding, doubt="Look at the cones."),))
    page = rider_page(event, bo, units=Units.METRIC).html
    fault, doubt = page.index("You turn in early."), page.index("Look at the cones.")
    assert fault < doubt < page.index("<figure")
    assert page.count("Look at the cones.") == 1
    words = [t.get_text() for t in rider_sheet(event, bo).findobj(Text)]
    assert words.index("You turn in early.") + 1 == words.index("Look at the cones.")


def test_what_is_about_no_one_corner_has_no_picture(event, finding):
    told = FirstScreen(event.course, traces_of(event, finding), {}, Units.METRIC).finding(
        replace(finding, corner=""), 0
    )
    assert (told.corner, told.turn, told.picture) == ("", "", None)


@pytest.mark.parametrize("width", [768, 1280])
@pytest.mark.parametrize("kinds", ["well", "mind mind well", "work mind mind well"])
def test_a_card_has_room_for_four_cones(browser, event, tmp_path, width, kinds, see):
    bo = event.riders[1]
    corner = next(c for c in event.course.corners if len(c.markers) == 4)
    well = next(f for f in bo.findings if f.kind is Kind.WELL)
    findings = [replace(well, corner=corner.name, kind=Kind(kind)) for kind in kinds.split()]
    made = rider_page(event, replace(bo, findings=tuple(findings)), units=Units.METRIC)
    (tmp_path / "four.html").write_text(made.html, encoding="utf-8")
    see(browser, tmp_path / "four.html", width)
    boxes = (
        "const boxes = [...document.querySelectorAll('.told .scroll')];"
        "for (const c of boxes.flatMap(b => [...b.querySelectorAll('tbody td')])) c.textContent = 'at\\u00a0it\\u00a0±\\u00a00.9';"
        "return boxes.map(b => [[...b.querySelector('tr').cells].filter(c => c.offsetParent).length, b.scrollWidth > b.clientWidth])"
    )
    opened = "document.querySelectorAll('.told details{}').forEach(d => d.open = true)"
    browser.execute_script(opened.format(":not(.every)"))
    first = [6 if kind == "work" and width > 1120 else 5 for kind in kinds.split()]
    assert browser.execute_script(boxes) == [[columns, False] for columns in first]
    browser.execute_script(opened.format(".every"))
    assert browser.execute_script(boxes) == [[6, False]] * len(findings)
