"""The summary after the event."""

import html
import re
from dataclasses import replace

import pandas as pd
import pytest
from markupsafe import escape

from lapkit.compare.results import Unusable, with_unusable
from lapkit.findings import Code, Finding
from lapkit.findings.finding import Kind
from lapkit.findings.untold import TOO_FEW
from lapkit.reporter.display import plain
from lapkit.reporter.event_page import event_page
from lapkit.reporter.pages import write_pages
from lapkit.reporter.rider_page import rider_page
from lapkit.units import Units

html5lib = pytest.importorskip("html5lib")


def test_the_event_page_calls_seams_in_words(event, summary):
    tree = html5lib.parse(summary, namespaceHTMLElements=False)
    grid = next(t for t in tree.iter("table") if t.get("class") == "grid")
    rows = [["".join(c.itertext()).replace("\xa0", " ") for c in row] for row in grid.iter("tr")]
    assert len(rows) == 1 + len(event.riders)
    assert len(rows[0]) == 1 + len(event.course.corners)
    for cell in (c for row in rows[1:] for c in row[1:]):
        assert re.fullmatch(r"(?:(?:inside|outside) \d of \d)?(?:, )?(?:unclear \d)?", cell)
        assert cell
    assert sum("inside" in c for c in rows[1][1:]) >= 6
    assert sum("inside" in c for c in rows[2][1:]) <= 1


def test_the_event_page_names_logs_that_could_not_be_used(summary):
    assert "1 fix a second &lt;b&gt;" in summary


def test_a_rider_without_a_usable_log_is_named_among_the_riders(event):
    more = (*event.unusable, Unusable("Bo", "2", "bo-2.csv", "empty"))
    page = event_page(replace(event, unusable=more), units=Units.METRIC, links={})
    assert "No habit can be told for <bdi>Cy</bdi>: no log could be used." in page


def test_the_event_page_shows_every_log_that_was_measured_and_no_other(event):
    used, unused = event.riders[1].runs[0], event.unusable[0]
    poor = used.tables["logs"].assign(verdict="laps only", note="A fix every 2 s.")
    run = replace(used, tables={**used.tables, "logs": poor})
    riders = (event.riders[0], replace(event.riders[1], runs=(run,)))
    logs = with_unusable(pd.concat([event.tables["logs"][:2], poor]), event.unusable)
    whole = replace(event, riders=riders, tables={**event.tables, "logs": logs})
    page = event_page(whole, units=Units.METRIC, links={})
    shown = page.partition('id="logs"')[2].partition("</section>")[0]
    not_used, _, others = shown.partition("How good the logs are that could be read")
    assert html.escape(unused.file) in not_used
    assert "(3)" in others
    assert "good enough for lap times only" in others
    assert "A fix every" in others
    assert html.escape(unused.reason) not in others


def test_the_event_page_says_what_findings_say_of_the_whole(event, summary):
    beside = summary.partition('id="beside"')[2].partition("</section>")[0]
    assert plain(event.findings[0].text) in html.unescape(beside)
    assert plain(event.findings[0].text) not in beside
    # Radii side by side say little without what the marker line keeps.
    assert re.search(r"<th[^>]*>exit radius, m \(the line \d+\)</th>", beside)
    assert "A &lt;cone&gt;." in summary.partition('id="corners"')[2].partition("</section>")[0]


def test_riders_come_in_the_order_of_harm(event):
    harms = {event.riders[0].rider: 1.0, event.riders[1].rider: 2.0}
    riders = []
    for rider in event.riders:
        lead = replace(event.riders[0].findings[0], rider=rider.rider, harm=harms[rider.rider])
        riders.append(replace(rider, findings=(lead,)))
    page = event_page(replace(event, riders=tuple(riders)), units=Units.METRIC, links={})
    talk = page.partition('id="talk"')[2].partition("</section>")[0]
    assert talk.index("<bdi>Bo</bdi>") < talk.index("script")


def test_a_corner_says_that_it_names_a_rider_once(summary, event):
    told = "At each corner a rider is named at most once"
    assert told in summary
    spotless = tuple(replace(r, findings=()) for r in event.riders)
    page = event_page(replace(event, riders=spotless), units=Units.METRIC, links={})
    assert told not in page
    assert re.search(r"Nothing stands out for <bdi>[^,]*</bdi> and <bdi>[^,]*</bdi>\.", page)


def test_what_a_rider_does_at_most_corners_is_told_once_and_not_at_each_corner_again(event):
    def does(rider, corners):
        lead = replace(
            event.riders[0].findings[0], rider=rider.rider, code=Code.TURN_IN_EARLY, marker=""
        )
        return replace(rider, findings=tuple(replace(lead, corner=c.name) for c in corners))

    corners = event.course.corners
    first, second = event.riders
    told = replace(event, riders=(does(first, corners[:1]), does(second, corners)))
    page = event_page(told, units=Units.METRIC, links={})
    part = page.partition('id="corners"')[2].partition("</section>")[0]
    part = " ".join(re.sub("<[^>]+>", " ", html.unescape(part)).split())
    assert "so it is the rider’s and not the corner’s: turning in early: Bo Larch" in part
    assert "Bo as above" not in part.replace("2 of 2 riders, Bo as above", "")
    assert f"Nothing else at {corners[1].name}, {corners[2].name}, " in part
    assert "Larch , 2 of 2 riders, Bo as above turning in early: " in part
    # Who is named above, with something else at one corner, is named there: not as one of the others.
    early, late = (does(rider, corners).findings for rider in (first, second))
    other = (replace(late[0], code=Code.UNEVEN), *late[1:])
    riders = (replace(first, findings=early), replace(second, findings=other))
    page = event_page(replace(event, riders=riders), units=Units.METRIC, links={})
    assert f"2 of 2 riders, {escape(plain(first.rider))} as above</bdi><ul>" in page


def test_who_does_it_at_other_corners_too_is_said_to_in_the_first_lines(event):
    bo, names = event.riders[1], [c.name for c in event.course.corners]
    lead = replace(
        event.riders[0].findings[0], kind=Kind.WORK, code=Code.TURN_IN_EARLY, corner="Larch"
    )

    def talk(others):
        rest = (replace(lead, kind=Kind.OTHER, corner=name) for name in others)
        riders = (replace(bo, findings=(lead, *rest)),)
        page = event_page(replace(event, riders=riders), units=Units.METRIC, links={})
        return page.partition('id="talk"')[2].partition("</ol>")[0]

    assert " too." not in talk([])
    assert "Seen at Anvil and Weir too.</p>" in talk(["Anvil", "Weir"])
    assert f"Seen at {len(names) - 1} other corners too.</p>" in talk(names)


def test_what_else_is_to_be_minded_is_told_with_its_corner_and_a_lapse_as_one(event):
    lead = replace(event.riders[0].findings[0], code=Code.TURN_IN_EARLY, marker="", corner="Larch")
    habit = replace(lead, kind=Kind.MIND, code=Code.EXIT_TIGHTENED, corner="Wharf")
    lapse = replace(habit, code=Code.APEX_MISSED, marker="apex", corner="Anvil", habit=False)
    minded = replace(event.riders[0], findings=(lead, habit, lapse))
    page = event_page(replace(event, riders=(minded,)), units=Units.METRIC, links={})
    told = "an exit that tightens at Wharf; wide of the apex cone at Anvil, a lapse"
    assert f"Then: <bdi>{told}</bdi>." in page


def test_who_left_a_habit_off_is_told_apart_from_who_never_had_one(event):
    bo = event.riders[1]
    first, second = replace(bo, rider="Ann"), bo
    was = replace(event.riders[0].findings[0], kind=Kind.OTHER, habit=False, mended=True)
    riders = (replace(first, findings=(was,)), replace(second, findings=()))
    page = event_page(replace(event, riders=riders), units=Units.METRIC, links={})
    talk = " ".join(re.sub("<[^>]+>", "", page.partition('id="talk"')[2]).split())
    assert "Nothing stands out for Bo." in talk
    habit = was.in_short
    assert f"Nothing stands out any more for Ann: in an earlier run it was {habit} at" in talk


def test_nobody_is_ranked_by_time(event, summary):
    assert not re.search(r"\d:\d\d\.\d", summary)


def test_one_of_a_thing_is_told_in_the_singular(event):
    rider = replace(event.riders[1], runs=event.riders[1].runs[:1])
    laps = rider.runs[0].tables["laps"]
    first = laps["kind"].astype(str).eq("timed") & laps["lap"].eq(1)
    one = replace(rider.runs[0], tables=rider.runs[0].tables | {"laps": laps[first]})
    alone = replace(rider, runs=(one,))
    own = rider_page(event, alone, units=Units.METRIC).html
    assert "1 run, 1 timed lap<" in own
    tables = event.tables | {"laps": laps[first]}
    summary = event_page(
        replace(event, riders=(alone,), tables=tables), units=Units.METRIC, links={}
    )
    assert "1 rider<" in summary
    assert "1 timed lap<" in summary


def test_of_one_lap_it_is_not_said_that_nothing_stands_out(event):
    rider = replace(event.riders[1], findings=(), runs=event.riders[1].runs[:1])
    run = rider.runs[0]
    laps = run.tables["laps"]
    one = laps[laps["kind"].astype(str).eq("timed") & laps["lap"].eq(1)]
    alone = replace(rider, runs=(replace(run, tables=run.tables | {"laps": one}),))
    own = rider_page(event, alone, units=Units.METRIC).html
    assert "Too few laps" in own and "Nothing stands out" not in own
    page = event_page(replace(event, riders=(alone,)), units=Units.METRIC, links={})
    assert f"No habit can be told for <bdi>{rider.rider}</bdi>: {TOO_FEW}." in page
    assert "Nothing stands out" not in page
    # What his one lap does show is said on both first screens, not at its corner alone.
    corner = event.course.corners[1].name
    tight = Finding("Bo", corner, Code.EXIT_TIGHTENED, 1, 1, 1.0, 0.3, "Tight.", kind=Kind.FACT)
    alone = replace(alone, findings=(tight,))
    own = rider_page(event, alone, units=Units.METRIC).html
    page = event_page(replace(event, riders=(alone,)), units=Units.METRIC, links={})
    for told in (own[: own.index("<nav")], page[: page.index("<nav")]):
        assert f"{TOO_FEW[1:]}. The exit at {corner} was tighter than the marker line’s" in told


def test_a_seam_goes_by_one_name_in_the_summary(event):
    corner = event.course.corners[0].name
    work = Finding("Bo", corner, Code.INSIDE_SEAM, 3, 3, 1.0, 1.0, "Inside.", marker="seam 1")
    rider = replace(event.riders[1], findings=(work,))
    page = event_page(replace(event, riders=(rider,)), units=Units.METRIC, links={})
    assert "inside the first seam at the exit: Bo" in page
    assert "seam 1" not in page.partition('id="corners"')[2].partition("</section>")[0]


@pytest.mark.parametrize(("whose", "pages"), [("Bo", 1), ("Cy", 2)])
def test_a_rider_without_a_page_is_named_in_a_summary(event, tmp_path, whose, pages):
    alone = replace(
        event, riders=event.riders[1:], unusable=(Unusable(whose, "2", "a.gpx", "it is empty"),)
    )
    assert len(write_pages(alone, tmp_path)) == pages


def test_whom_to_talk_to_stands_before_the_way_through_the_page(summary):
    assert summary.index('<section id="talk"') < summary.index("<nav ")
    assert summary.index("<nav ") < summary.index('<section id="seams"')


def test_a_log_that_was_not_used_is_named_by_rider_and_run_with_room_for_its_file(event):
    page = event_page(event, units=Units.METRIC, links={})
    row = page.partition("<h3>Not used</h3>")[2].partition("</tbody>")[0]
    assert event.unusable and row.count('<th scope="row"') == 2 * len(event.unusable)
    assert row.count('<td class="words" data-head="File">') == len(event.unusable)
