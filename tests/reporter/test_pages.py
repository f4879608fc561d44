import base64
import hashlib
import html
import re
import warnings
from dataclasses import replace

import pandas as pd
import pytest

from lapkit.compare.results import Unusable, with_unusable
from lapkit.compare.standard import standards
from lapkit.findings import Finding, find
from lapkit.findings.finding import Kind
from lapkit.reporter.display import plain
from lapkit.reporter.event_page import event_page
from lapkit.reporter.pages import write_pages
from lapkit.reporter.rider_page import rider_page

html5lib = pytest.importorskip("html5lib")


@pytest.fixture(scope="module")
def nasty(event):
    return rider_page(event, event.riders[0], units="metric")


@pytest.fixture(scope="module")
def summary(event):
    links = {r.rider: f"rider-{i}.html" for i, r in enumerate(event.riders)}
    return event_page(event, units="metric", links=links)


@pytest.fixture(scope="module")
def found(found_event):
    return rider_page(found_event, found_event.riders[0], units="us").html


@pytest.fixture(scope="module", params=["nasty", "summary", "found"])
def page(request):
    made = request.getfixturevalue(request.param)
    return getattr(made, "html", made)


def test_it_is_html_without_an_error(page):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        html5lib.HTMLParser(strict=True).parse(page)


def test_ids_are_unique_and_links_inside_the_page_resolve(page):
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    inside = re.findall(r'href="#([^"]+)"', page)
    assert inside
    assert set(inside) <= set(ids)
    for names in re.findall(r'aria-labelledby="([^"]+)"', page):
        assert set(names.split()) <= set(ids)


def test_nothing_is_asked_of_a_network(page):
    assert "default-src 'none'" in html.unescape(page)
    assert not re.search(r'(?:src|href)="(?!#|data:,|rider-)', page)
    assert "url(" not in page
    assert "@import" not in page


def test_the_policy_allows_this_script_and_no_other(nasty):
    scripts = re.findall(r"<script>(.*?)</script>", nasty.html, re.DOTALL)
    assert len(scripts) == 1
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in html.unescape(nasty.html)


def test_a_page_without_a_script_allows_none(summary):
    assert "<script" not in summary
    assert "script-src 'none'" in html.unescape(summary)


def test_text_from_files_is_text(event, page):
    text = "".join(html5lib.parse(page, namespaceHTMLElements=False).itertext())
    if event.title in text:
        assert plain(event.riders[0].rider) in text
    for element in ("b", "i", "img"):
        assert f"<{element}>" not in page
        assert f"<{element} " not in page
    assert "document.title='run'" not in page
    assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e]", page)


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


def test_every_picture_has_a_title_and_a_description(page):
    svg = re.findall(r"<svg [^>]*role=.*?</svg>", page, re.DOTALL)
    assert svg
    for one in svg:
        assert 'role="img"' in one
        assert re.search(r"<title id=[^>]+>[^<]+</title><desc id=[^>]+>[^<]+</desc>", one)
        assert "<text" in one


def test_what_to_work_on_comes_first_and_the_cautions_stand_on_it(nasty):
    body = nasty.html.split("<main>")[1]
    order = [
        body.index(t) for t in ("Work on this first", "Keep in mind", "come first", 'id="corner-1"')
    ]
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
    us = rider_page(event, replace(event.riders[0], findings=()), units="us").html
    pattern = r"\b(km/h|mph|metres|feet)\b"
    assert set(re.findall(pattern, us)) == {"mph", "feet"}
    assert set(re.findall(pattern, nasty.html)) == {"km/h", "metres"}


def test_directions_are_words(nasty):
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", nasty.html)
    assert not [c for c in cells if c.startswith(("-", "−"))]
    assert any(c.endswith(" wide") for c in cells)
    assert any(c.endswith(" inside") for c in cells)


def test_a_found_course_has_no_cones_to_speak_of(found):
    assert "There is no track file" in found
    assert "Corner 1" in found
    assert "Lanes and seams, lap by lap" not in found
    assert "How far from the cones" not in found


def test_the_event_page_calls_seams_in_words(event, summary):
    tree = html5lib.parse(summary, namespaceHTMLElements=False)
    grid = next(t for t in tree.iter("table") if t.get("class") == "grid")
    rows = [["".join(c.itertext()).replace("\xa0", " ") for c in row] for row in grid.iter("tr")]
    assert len(rows) == 1 + len(event.riders)
    assert len(rows[0]) == 1 + len(event.course.corners)
    for cell in (c for row in rows[1:] for c in row[1:]):
        assert re.fullmatch(
            r"(?:(?:inside|outside) \d of \d)?(?:, )?(?:too close to call \d)?", cell
        )
        assert cell
    assert sum("inside" in c for c in rows[1][1:]) >= 6
    assert sum("inside" in c for c in rows[2][1:]) <= 1


def test_the_event_page_names_logs_that_could_not_be_used(summary):
    assert "1 fix a second &lt;b&gt;" in summary


def test_the_event_page_shows_every_log_that_was_measured_and_no_other(event):
    used, unused = event.riders[1].runs[0], event.unusable[0]
    poor = used.tables["logs"].assign(verdict="laps only", note="A fix every 2 s.")
    run = replace(used, tables={**used.tables, "logs": poor})
    riders = (event.riders[0], replace(event.riders[1], runs=(run,)))
    logs = with_unusable(pd.concat([event.tables["logs"][:2], poor]), event.unusable)
    whole = replace(event, riders=riders, tables={**event.tables, "logs": logs})
    page = event_page(whole, units="metric", links={})
    shown = page.partition('id="logs"')[2].partition("</section>")[0]
    not_used, _, others = shown.partition("How good the others are")
    assert html.escape(unused.file) in not_used
    assert "(3)" in others
    assert "good enough for lap times only" in others
    assert "A fix every" in others
    assert html.escape(unused.reason) not in others


def test_the_event_page_says_what_findings_say_of_the_whole(event, summary):
    beside = summary.partition('id="beside"')[2].partition("</section>")[0]
    assert plain(event.findings[0].text) in html.unescape(beside)
    assert plain(event.findings[0].text) not in beside
    assert "A &lt;cone&gt;." in summary.partition('id="corners"')[2].partition("</section>")[0]


def test_riders_come_in_the_order_of_harm(event):
    harms = {event.riders[0].rider: 1.0, event.riders[1].rider: 2.0}
    riders = []
    for rider in event.riders:
        lead = replace(event.riders[0].findings[0], rider=rider.rider, harm=harms[rider.rider])
        riders.append(replace(rider, findings=(lead,)))
    page = event_page(replace(event, riders=tuple(riders)), units="metric", links={})
    talk = page.partition('id="talk"')[2].partition("</section>")[0]
    assert talk.index("<bdi>Bo</bdi>") < talk.index("script")


def test_a_corner_says_that_it_names_a_rider_once(summary, event):
    told = "At each corner a rider is named once"
    assert told in summary
    spotless = tuple(replace(r, findings=()) for r in event.riders)
    page = event_page(replace(event, riders=spotless), units="metric", links={})
    assert told not in page
    assert re.search(r"Nothing stands out for <bdi>[^,]*</bdi> and <bdi>[^,]*</bdi>\.", page)


def test_who_left_a_habit_off_is_told_apart_from_who_never_had_one(event):
    bo = event.riders[1]
    first, second = replace(bo, rider="Ann"), bo
    was = replace(event.riders[0].findings[0], kind=Kind.OTHER, habit=False, harm=0.0)
    riders = (replace(first, findings=(was,)), replace(second, findings=()))
    page = event_page(replace(event, riders=riders), units="metric", links={})
    talk = " ".join(re.sub("<[^>]+>", "", page.partition('id="talk"')[2]).split())
    assert "Nothing stands out for Bo." in talk
    assert "Nothing stands out any more for Ann: " in talk


def test_a_run_without_a_timed_lap_is_told_under_the_name(event):
    bo = event.riders[1]
    (run,) = bo.runs
    laps = run.tables["laps"].assign(kind="broken")
    empty = replace(run, session="2", tables=run.tables | {"laps": laps})
    for runs, told in ((bo.runs, False), ((run, empty), True), ((empty,), False)):
        page = rider_page(event, replace(bo, runs=runs), units="metric").html
        assert (", none in run 2" in page) is told


def test_nobody_is_ranked_by_time(event, summary):
    assert not re.search(r"\d:\d\d\.\d", summary)


def test_every_size_of_text_is_sixteen_pixels_or_more(nasty):
    css = re.search(r"<style>(.*?)</style>", nasty.html, re.DOTALL)[1].split("@page")[0]
    sizes = [float(s) for s in re.findall(r"font(?:-size)?: *([0-9.]+)rem", css)]
    assert len(sizes) >= 6
    assert min(sizes) >= 1.0
    body = nasty.html.partition("</style>")[2]
    drawn = [float(s) for s in re.findall(r"font-size: ?([0-9.]+)px", body)]
    assert len(drawn) > 100
    assert set(drawn) == {16.0}


def luminance(color):
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_stands_out_seven_to_one(nasty):
    """Contrast as in WCAG 2.2, success criterion 1.4.6 (attribution from memory)."""
    css = re.search(r"<style>(.*?)</style>", nasty.html, re.DOTALL)[1]
    variables = dict(re.findall(r"--(\w+): (#\w+)", css))
    assert 1.05 / (luminance(variables["accent"]) + 0.05) >= 7.0
    colors = set(re.findall(r"(?<![-\w])color: ([^;}]+)", css))
    assert colors <= {"var(--ink)", "var(--accent)", "#fff", "inherit"}


def test_pictures_are_named_for_files(event, nasty):
    assert len(nasty.pictures) >= 1 + 3 * len(event.course.corners)
    assert all(re.fullmatch(r"[a-z0-9-]+", name) for name in nasty.pictures)


@pytest.fixture(scope="module")
def coarse(event):
    """The same day from logs that are good for lap times only."""
    riders = []
    for rider in event.riders:
        runs = tuple(
            replace(
                run, tables=run.tables | {"corners": run.tables["corners"].assign(quality="poor")}
            )
            for run in rider.runs
        )
        riders.append(replace(rider, runs=runs, findings=find(runs, event.course)))
    return replace(event, riders=tuple(riders), findings=())


def test_what_could_not_be_judged_is_not_called_well(coarse):
    page = event_page(coarse, units="metric", links={})
    assert "Nothing stands out for" not in page
    assert "No corner stands out" not in page
    assert "It cannot be told for" in page
    assert "no timed lap was logged finely enough for radius and lean" in page
    own = rider_page(coarse, coarse.riders[1], units="metric").html
    assert "Nothing stands out" not in own
    assert "No habit to work on" not in own
    assert own.count("cannot be told: no timed lap was logged finely enough") == len(
        coarse.course.corners
    )


def test_radius_and_lean_that_a_log_cannot_carry_are_neither_drawn_nor_read_out(coarse):
    made = rider_page(coarse, coarse.riders[1], units="metric")
    assert "Pulled straight" in made.html
    assert "Radius and lean through" not in made.html
    assert not any("radius-and-lean" in name for name in made.pictures)
    assert "lap by lap" not in made.html.partition('id="laps"')[0]
    assert 'type="application/json"' not in made.html


def test_a_pass_that_a_log_cannot_carry_is_left_out_of_the_pictures_of_its_corner(event):
    rider = event.riders[1]
    first, *rest = rider.runs
    corners = first.tables["corners"]
    here = (corners["corner"] == event.course.corners[0].name) & (corners["lap"] == 1)
    blurred = corners.assign(quality=corners["quality"].mask(here, "poor"))
    run = replace(first, tables=first.tables | {"corners": blurred})
    page = rider_page(event, replace(rider, runs=(run, *rest)), units="metric").html
    before = rider_page(event, rider, units="metric").html
    lap = f'"run":"{first.session}","lap":1'
    spaceless = [re.sub(r"[\s]", "", text) for text in (before, page)]
    assert spaceless[0].count(lap) - spaceless[1].count(lap) == 1


def test_what_was_mended_is_not_said_never_to_have_been_off(event):
    rider = event.riders[1]
    well = replace(event.riders[0].findings[0], rider=rider.rider, kind=Kind.WELL, habit=False)
    told = "In your last run nothing was off the coach’s line"
    was = replace(well, kind=Kind.OTHER, code="apex_missed", harm=0.0)
    lapse = replace(was, harm=0.1)
    mended, on_line = replace(well, code="mended"), replace(well, code="on_line")
    for found, said in ((mended, True), (was, True), (on_line, False), (lapse, False)):
        page = rider_page(event, replace(rider, findings=(found,)), units="metric")
        assert (told in page.html) is said
        assert ("Nothing was off the coach’s line" in page.html) is not said


def test_what_is_only_to_be_kept_in_mind_follows_nothing(event):
    mind = replace(event.riders[0].findings[0], kind=Kind.MIND, rider=event.riders[1].rider)
    riders = (event.riders[0], replace(event.riders[1], findings=(mind,)))
    talk = event_page(replace(event, riders=riders), units="metric", links={})
    talk = talk.partition('id="talk"')[2].partition("</section>")[0]
    assert 'No habit to work on. <span class="more">Keep in mind: ' in talk


def test_the_page_says_when_an_exit_counts_as_tightened(nasty):
    meant = nasty.html.partition(">An exit that tightens</dt>")[2].partition("</dd>")[0]
    assert "more lean than the line would at that speed" in meant


def test_one_of_a_thing_is_told_in_the_singular(event):
    rider = replace(event.riders[1], runs=event.riders[1].runs[:1])
    laps = rider.runs[0].tables["laps"]
    first = laps["kind"].astype(str).eq("timed") & laps["lap"].eq(1)
    one = replace(rider.runs[0], tables=rider.runs[0].tables | {"laps": laps[first]})
    alone = replace(rider, runs=(one,))
    own = rider_page(event, alone, units="metric").html
    assert "1 run, 1 timed lap<" in own
    tables = event.tables | {"laps": laps[first]}
    summary = event_page(replace(event, riders=(alone,), tables=tables), units="metric", links={})
    assert "1 rider<" in summary
    assert "1 timed lap<" in summary


def test_a_seam_goes_by_one_name_in_the_summary(event):
    corner = event.course.corners[0].name
    work = Finding("Bo", corner, "inside_seam", 3, 3, 1.0, 1.0, "Inside.", marker="seam 1")
    rider = replace(event.riders[1], findings=(work,))
    page = event_page(replace(event, riders=(rider,)), units="metric", links={})
    assert "inside the first seam at the exit: Bo" in page
    assert "seam 1" not in page.partition('id="corners"')[2].partition("</section>")[0]


def test_a_log_of_no_use_is_named_on_its_rider_s_page(event):
    unusable = (Unusable("Bo", "2", "bo-2.gpx", "it is empty"), Unusable("Cy", "1", "cy.gpx", "no"))
    own = rider_page(replace(event, unusable=unusable), event.riders[1], units="metric").html
    assert "Run 2 (bo-2.gpx) could not be used: it is empty." in own
    assert "cy.gpx" not in own


@pytest.mark.parametrize(("whose", "pages"), [("Bo", 1), ("Cy", 2)])
def test_a_rider_without_a_page_is_named_in_a_summary(event, tmp_path, whose, pages):
    alone = replace(
        event, riders=event.riders[1:], unusable=(Unusable(whose, "2", "a.gpx", "it is empty"),)
    )
    assert len(write_pages(alone, tmp_path, units="metric")) == pages


def test_inside_a_seam_is_no_fault_where_the_line_runs_inside_too(event):
    """Every lap's row of lanes and seams: beside each call whether the marker line is on that side too."""
    held, bo = standards(event.course), event.riders[1]
    sections = rider_page(event, bo, units="metric").html.split('<section class="corner"')[1:]
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
        "Bo", corner, "inside_openly", 3, 3, 1.0, 0.2, "Inside, and open.", kind=Kind.FACT,
        marker="s", lap=1, session="1", details=("Nothing to work on: ask why.",),
    )  # fmt: skip
    fault = Finding("Bo", corner, "uneven", 3, 3, 1.0, 1.0, "Uneven.", lap=1, session="1")
    bo = replace(event.riders[1], findings=(fault, fact))
    first, *sections = re.split(r'<section class="corner"', rider_page(event, bo, units="us").html)
    assert "Inside, and open." not in first and "Nothing stands out" in first
    told = [section for section in sections if "Inside, and open." in section]
    assert len(told) == 1 and "Nothing to work on: ask why." in told[0]
    assert f"<bdi>{corner}</bdi>" in told[0]
