"""A rider's page where there are no laps, or too few to tell a habit."""

import re
from dataclasses import replace

from lapkit.reporter.display import unbroken
from lapkit.reporter.rider_page import rider_page
from lapkit.units import Units


def test_who_has_no_lap_reads_why_first_and_of_no_change(event):
    bo = event.riders[1]
    (run,) = bo.runs
    laps = run.tables["laps"].assign(kind="broken")
    logs = run.tables["logs"].assign(
        no_lap="no lap could be timed: 1 lap is broken (lap 1: 30 m short)"
    )
    first = replace(run, tables=run.tables | {"laps": laps, "logs": logs})
    second = replace(first, session="2", tables=first.tables | {"logs": logs.assign(session="2")})
    html = rider_page(event, replace(bo, runs=(first, second), findings=()), units=Units.US).html
    said = re.search('<p class="say">(.*?)</p>', html)[1]
    assert said == unbroken(
        "No lap could be timed from line to line. Runs 1 and 2: 1 lap is broken (lap 1: 98 ft short)."
    )
    assert 'href="#runs"' not in html and 'id="runs"' not in html
    assert "No habit can be told here" not in html and "Nothing stands out" not in html
    # Of no drawing is told how to read it.
    nothing = replace(first, traces=(), tables={**first.tables})
    html = rider_page(event, replace(bo, runs=(nothing,), findings=()), units=Units.US).html
    assert "<figure" not in html and "drawn as you meet it" not in html and "At it" not in html


def test_why_no_habit_can_be_told_is_not_said_again_beside_the_figures_of_each_corner(event):
    bo = event.riders[1]
    page = rider_page(event, replace(bo, findings=()), units=Units.METRIC).html
    assert "How to read this page" in page and "drawn as you meet it" in page
    few = replace(bo, runs=(_with_one_lap(bo.runs[0]),), findings=())
    page = rider_page(event, few, units=Units.METRIC).html
    assert "Fewer than 3 laps could be measured" in page and "Your only measured lap" in page
    assert "No habit can be told here" not in page
    # Where it is another one than on the whole course, it is said there.
    (run,), corner = bo.runs, event.course.corners[0].name
    rows = run.tables["corners"]
    coarse = rows.assign(quality=rows["quality"].where(rows["corner"] != corner, "poor"))
    partly = replace(run, tables=run.tables | {"corners": coarse})
    page = rider_page(event, replace(bo, runs=(partly,), findings=()), units=Units.METRIC).html
    assert page.count("No habit can be told here: no timed lap was logged finely enough") == 1


def _with_one_lap(run):
    """A run cut down to its first timed lap."""
    laps = run.tables["laps"]
    lap = laps.loc[laps["kind"] == "timed", "lap"].iloc[0]
    cut = {n: t[t["lap"] == lap] if "lap" in t else t for n, t in run.tables.items()}
    cut["usual"] = run.tables["usual"].assign(laps=1, scatter_sd=float("nan"))
    return replace(run, tables=cut)


def test_who_has_too_few_laps_for_a_run_too_coarse_is_led_to_what_would_help(event):
    bo = event.riders[1]
    (run,) = bo.runs
    poor = run.tables["corners"].assign(quality="poor")
    fine = _with_one_lap(run)
    coarse = replace(run, session="2", tables=run.tables | {"corners": poor})
    led = "said under “How good the logs are”"
    alone = rider_page(event, replace(bo, runs=(fine,), findings=()), units=Units.METRIC).html
    both = rider_page(event, replace(bo, runs=(fine, coarse), findings=()), units=Units.METRIC).html
    said = [re.search('<p class="say">(.*?)</p>', page)[1] for page in (alone, both)]
    assert [led in words for words in said] == [False, True]
    assert all(words.startswith(unbroken("Fewer than 3 laps")) for words in said)
    # One run alone tells a radius, so nothing can have changed from one to the other.
    assert 'id="runs"' not in both


def test_of_two_runs_alike_it_is_said_that_nothing_changed(event):
    bo = event.riders[1]
    runs = (bo.runs[0], replace(bo.runs[0], session="2"))
    page = rider_page(event, replace(bo, runs=runs, changed=()), units=Units.METRIC).html
    section = page.partition('<section id="runs"')[2].partition("</section>")[0]
    assert section.count("<p>") == 1 and "Nothing changed from one run to the next" in section
