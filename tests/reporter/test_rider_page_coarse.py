"""A rider's page where logs are too coarse for radius and lean, in all laps or at one corner."""

import re
from dataclasses import replace

import numpy as np
import pytest

from lapkit.findings import find
from lapkit.reporter.event_page import event_page
from lapkit.reporter.rider_page import rider_page
from lapkit.units import Units

html5lib = pytest.importorskip("html5lib")


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
    page = event_page(coarse, units=Units.METRIC, links={})
    assert "Nothing stands out for" not in page
    assert "No corner stands out" not in page
    assert "No habit can be told for" in page
    assert "no timed lap was logged finely enough for radius and lean" in page
    own = rider_page(coarse, coarse.riders[1], units=Units.METRIC).html
    assert "Nothing stands out" not in own
    assert "No habit to work on" not in own
    assert own.casefold().count("no timed lap was logged finely enough") == 1
    assert "what would help, is said under “How good the logs are”" in own
    for shown in (page, own):
        # The log by itself is fair or better.
        assert "good enough for lap times only" in shown
        assert "radius and lean are known less well" not in shown


def test_where_lap_times_are_all_there_is_they_come_first(coarse, event):
    for shown, first in ((coarse, "laps"), (event, "corner-1")):
        page = rider_page(shown, shown.riders[1], units=Units.METRIC).html
        order = sorted(("laps", "corner-1"), key=lambda name: page.index(f'id="{name}"'))
        assert order[0] == first
        assert page.count('id="laps"') == 1


def test_radius_and_lean_that_a_log_cannot_carry_are_neither_drawn_nor_read_out(coarse):
    made = rider_page(coarse, coarse.riders[1], units=Units.METRIC)
    assert "Pulled straight" in made.html
    assert "Radius and lean through" not in made.html
    assert not any("radius-and-lean" in name for name in made.pictures)
    assert "lap by lap" not in made.html.partition('id="laps"')[0]
    assert 'type="application/json"' not in made.html


def test_a_lap_that_may_have_run_anywhere_is_not_drawn(coarse):
    rider = coarse.riders[1]
    for sd_m, drawn in ((2.4, True), (2.6, False)):
        runs = tuple(
            replace(
                run,
                traces=[
                    replace(t, offset_sd_m=np.full(len(t.offset_sd_m), sd_m)) for t in run.traces
                ],
            )
            for run in rider.runs
        )
        page = rider_page(coarse, replace(rider, runs=runs), units=Units.METRIC).html
        assert ("Pulled straight" in page) is drawn


def test_a_pass_that_a_log_cannot_carry_is_left_out_of_the_pictures_of_its_corner(event):
    rider = event.riders[1]
    first, *rest = rider.runs
    corners = first.tables["corners"]
    here = (corners["corner"] == event.course.corners[0].name) & (corners["lap"] == 1)
    blurred = corners.assign(quality=corners["quality"].mask(here, "poor"))
    run = replace(first, tables=first.tables | {"corners": blurred})
    page = rider_page(event, replace(rider, runs=(run, *rest)), units=Units.METRIC).html
    before = rider_page(event, rider, units=Units.METRIC).html
    lap = f'"run":"{first.session}","lap":1'
    spaceless = [re.sub(r"[\s]", "", text) for text in (before, page)]
    assert spaceless[0].count(lap) - spaceless[1].count(lap) == 1
