"""A rider's page."""

import re
from dataclasses import replace

import pytest

from lapkit.compare.results import Unusable
from lapkit.compare.standard import standards
from lapkit.findings import Code, Finding
from lapkit.findings.finding import Kind
from lapkit.reporter.display import unbroken
from lapkit.reporter.event_page import event_page
from lapkit.reporter.rider_page import rider_page
from lapkit.units import Units

html5lib = pytest.importorskip("html5lib")


def test_every_corner_has_its_section_with_three_pictures_and_their_tables(event, nasty):
    tree = html5lib.parse(nasty.html, namespaceHTMLElements=False)
    sections = [s for s in tree.iter("section") if s.get("class") == "corner"]
    assert len(sections) == len(event.course.corners)
    for section, corner in zip(sections, event.course.corners, strict=True):
        assert corner.name in "".join(section.find("h2").itertext())
        figures = list(section.iter("figure"))
        assert [f.get("class") for f in figures] == ["plan", "line", "bend"]
        for figure in figures:
            assert len(list(figure.find("details").iter("tr"))) == 1 + 6


def test_over_how_far_from_a_cone_he_was_stands_how_far_the_line_stays(event, nasty):
    told = [
        f"{held.marker.name}, m (the line {held.line_gap_m:.1f})"
        for standard in standards(event.course).values()
        for held in standard.markers
    ]
    assert len(set(told)) > 3  # and not one line's distance for all
    assert all(f">{head}</th>" in nasty.html for head in told)


def test_what_to_work_on_comes_first_and_the_cautions_stand_on_it(nasty):
    body = nasty.html.split("<main>")[1]
    said = (
        "Work on this first",
        "the coach’s cue",
        "<figure",
        "Keep in mind",
        "come first",
        'id="corner-1"',
    )
    order = [body.index(t) for t in said]
    assert order == sorted(order)
    for caution in (
        "not measured",
        "balance lean",
        "never what the tyre has left",
        "Nothing here is a target",
    ):
        assert caution in nasty.html


def test_units_are_the_reader_s(event, nasty):
    # Findings come in words, in the units that they were made in.
    us = rider_page(event, replace(event.riders[0], findings=()), units=Units.US).html
    pattern = r"\b(km/h|mph|metres|feet)\b"
    assert set(re.findall(pattern, us)) == {"mph", "feet"}
    assert set(re.findall(pattern, nasty.html)) == {"km/h", "metres"}


def test_a_found_course_has_no_cones_to_speak_of(found):
    assert "There is no track file" in found
    assert "Corner 1" in found
    assert "Lanes and seams, lap by lap" not in found
    assert "How far from the cones" not in found


def test_a_run_without_a_timed_lap_is_told_under_the_name(event):
    bo = event.riders[1]
    (run,) = bo.runs
    laps = run.tables["laps"].assign(kind="broken")
    empty = replace(run, session="2", tables=run.tables | {"laps": laps})
    for runs, told in (
        (bo.runs, ""),
        ((run, empty), ", none in run 2"),
        ((run, empty, replace(empty, session="3")), ", none in runs 2 and 3"),
        ((empty,), ""),
    ):
        page = rider_page(event, replace(bo, runs=runs), units=Units.METRIC).html
        assert told in page and (", none in run" in page) is bool(told)


def test_pictures_are_named_for_files(event, nasty):
    assert len(nasty.pictures) >= 1 + 3 * len(event.course.corners)
    assert all(re.fullmatch(r"[a-z0-9-]+", name) for name in nasty.pictures)


def test_what_was_mended_is_not_said_never_to_have_been_off(event):
    rider = event.riders[1]
    well = replace(event.riders[0].findings[0], rider=rider.rider, kind=Kind.WELL, habit=False)
    told = "In your last run nothing was off the coach’s line"
    was = replace(well, kind=Kind.OTHER, code=Code.APEX_MISSED, mended=True)
    lapse = replace(was, mended=False)
    mended, on_line = replace(well, code=Code.MENDED), replace(well, code=Code.ON_LINE)
    for found, said in ((mended, True), (was, True), (on_line, False), (lapse, False)):
        page = rider_page(event, replace(rider, findings=(found,)), units=Units.METRIC)
        assert (told in page.html) is said
        assert ("Nothing was off the coach’s line" in page.html) is not said


def test_what_was_mended_is_told_once_in_its_corner(event):
    rider = event.riders[1]
    well = replace(event.riders[0].findings[0], rider=rider.rider, kind=Kind.WELL, habit=False)
    was = replace(well, kind=Kind.OTHER, text="No longer a habit: it.", mended=True)
    mended = replace(well, code=Code.MENDED, text="Mended: it.")
    page = rider_page(event, replace(rider, findings=(was, mended)), units=Units.METRIC).html
    first, _, corners = page.partition('id="corner-1"')
    assert ("Mended: it." in first, "Mended: it." in corners) == (True, False)
    assert "No longer a habit: it." in corners
    # With nothing to work on the first picture of the page is this one: what its lines are stands below it.
    assert "Black dashes: the marker line." in first


def test_what_is_only_to_be_kept_in_mind_follows_nothing(event):
    mind = replace(event.riders[0].findings[0], kind=Kind.MIND, rider=event.riders[1].rider)
    riders = (event.riders[0], replace(event.riders[1], findings=(mind,)))
    talk = event_page(replace(event, riders=riders), units=Units.METRIC, links={})
    talk = talk.partition('id="talk"')[2].partition("</section>")[0]
    assert 'No habit to work on. <span class="more">Keep in mind: ' in talk


def test_the_page_says_when_an_exit_counts_as_tightened(nasty):
    meant = nasty.html.partition(">An exit that tightens</dt>")[2].partition("</dd>")[0]
    assert "more lean than the line would at that speed" in meant
    assert "Once it is a habit, every lap counts whose exit is surely below nine tenths" in meant


def test_a_log_of_no_use_is_named_on_its_rider_s_page(event):
    unusable = (Unusable("Bo", "2", "bo-2.gpx", "it is empty"), Unusable("Cy", "1", "cy.gpx", "no"))
    own = rider_page(replace(event, unusable=unusable), event.riders[1], units=Units.METRIC).html
    assert "Run 2 (bo-2.gpx) could not be used: it is empty." in own
    assert "cy.gpx" not in own


def test_inside_a_seam_is_no_fault_where_the_line_runs_inside_too(event):
    """Every lap's row of lanes and seams: beside each call whether the marker line is on that side too."""
    held, bo = standards(event.course), event.riders[1]
    sections = rider_page(event, bo, units=Units.METRIC).html.split('<section class="corner"')[1:]
    told = set()
    for corner, section in zip(event.course.corners, sections, strict=True):
        minded = [s.name for s in held[corner.name].seams_to_mind]
        for seam in corner.seams:
            cells = set(re.findall(rf'data-head="exit: {re.escape(seam.name)}">([^<]+)<', section))
            told |= {(seam.name in minded, cell) for cell in cells}
    assert (True, "outside") in told and (False, "inside, as the line is") in told
    assert (False, "inside") not in told and (True, "inside, as the line is") not in told


def test_a_fact_is_told_at_its_corner_with_what_to_make_of_it_and_nowhere_first(event):
    corner = event.course.corners[2].name
    fact = Finding(
        "Bo", corner, Code.INSIDE_OPENLY, 3, 3, 1.0, 0.2, "Inside, and open.", kind=Kind.FACT,
        marker="s", lap=1, session="1", details=("Nothing to work on: ask why.",),
    )  # fmt: skip
    fault = Finding("Bo", corner, Code.UNEVEN, 3, 3, 1.0, 1.0, "Uneven.", lap=1, session="1")
    bo = replace(event.riders[1], findings=(fault, fact))
    first, *sections = re.split(
        r'<section class="corner"', rider_page(event, bo, units=Units.US).html
    )
    assert "Inside, and open." not in first and "Nothing stands out" in first
    told = [section for section in sections if "Inside, and open." in section]
    assert len(told) == 1 and "Nothing to work on: ask why." in told[0]
    assert f"<bdi>{corner}</bdi>" in told[0]


def test_how_far_from_the_exit_cone_is_not_told_again_of_who_ran_inside_the_seam(event):
    corner = event.course.corners[2].name
    seam = Finding(
        "Bo", corner, Code.INSIDE_SEAM, 3, 3, 1.0, 5.6, "5.6 m inside.", lap=1, session="1"
    )
    cone = replace(seam, code=Code.EXIT_CONE_MISSED, marker="exit", text="5.5 m from the cone.")
    tight = replace(seam, code=Code.EXIT_TIGHTENED, text="It tightens.")

    def told(*findings):
        html = rider_page(event, replace(event.riders[1], findings=findings), units=Units.US).html
        (seen,) = re.findall(r'<ul class="seen">(.*?)</ul>', html, re.DOTALL)
        return [f.text for f in (seam, tight, cone) if unbroken(f.text) in seen]

    assert told(seam, tight, cone) == [seam.text, tight.text]
    assert told(tight, cone) == [tight.text, cone.text]
    # A lapse of other laps is another thing.
    assert told(seam, replace(cone, habit=False)) == [seam.text, cone.text]


def test_where_corners_were_found_from_logs_a_map_tells_which_is_which(found_event, event):
    page = rider_page(found_event, found_event.riders[0], units=Units.METRIC).html
    figure = page.partition('<figure class="map">')[2].partition("</figure>")[0]
    for corner in found_event.course.corners:
        assert f">{corner.name}</text>" in figure
    # A course found from logs may be ridden from end to end.
    assert "There is no track file: the course and its corners were found" in page
    assert "loop" not in figure
    assert "</span> Radius and lean only</h2>" in page  # on its sheet of paper nothing is below
    # Why nothing can be told is said once, on top, and not at every corner again.
    assert page.count("here is no marker line to hold the laps against") == 1
    assert '<figure class="map">' not in rider_page(event, event.riders[0], units=Units.METRIC).html


def test_the_lap_table_has_the_exit_s_lean_that_findings_are_about_beside_the_whole_corner_s(event):
    rider, corner = event.riders[0], event.course.corners[0]
    html = rider_page(event, replace(rider, findings=()), units=Units.METRIC).html
    section = html.split('id="corner-1"')[1].split('class="back"')[0]
    rows = rider.runs[0].tables["corners"].query("corner == @corner.name and lap == 1").iloc[0]
    for head, column in (
        (f"largest lean, {corner.turn}", "lean_max_deg"),
        ("the line’s lean at this speed", "lean_on_line_deg"),
        (f"exit: largest lean, {corner.turn}", "exit_lean_max_deg"),
        ("exit: the line’s lean at this speed", "exit_lean_on_line_deg"),
    ):
        cells = re.findall(rf'data-head="{head}">([^<]+)<', section)
        assert f"{rows[column]:.0f}°" in {
            cell.partition(" ")[0].partition("\xa0")[0] for cell in cells
        }
