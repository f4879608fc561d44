from dataclasses import replace
from types import SimpleNamespace

import pytest

from lapkit.compare.quality import PassQuality
from lapkit.reporter.rider_at_corner import RiderAtCorner
from lapkit.units import Units


@pytest.fixture
def here(event):
    """A rider at the first corner, with a record for each of the laps that are drawn."""
    rider, corner = event.riders[0], event.course.corners[0]
    traces = [t for run in rider.runs for t in run.traces if t.corner == corner.name]
    laps = [
        SimpleNamespace(session=t.session, lap=t.lap, quality=str(PassQuality.GOOD)) for t in traces
    ]
    return RiderAtCorner(event.course, corner, 0, (), traces, laps, Units.METRIC)


def test_a_lap_that_a_log_cannot_carry_is_not_measured(here):
    assert here.measured == list(here.traces)
    here.laps[0].quality = str(PassQuality.POOR)
    here.laps[1].quality = str(PassQuality.FAIR)
    assert here.measured == list(here.traces)[1:]


def test_a_lap_without_a_record_is_not_measured(here):
    assert replace(here, laps=here.laps[:1]).measured == list(here.traces)[:1]


def test_the_lap_to_draw_thick_is_that_of_the_most_urgent_finding(here, event):
    assert here.thick is None
    first, second = event.riders[0].findings[:2]
    assert replace(here, findings=[second, first]).thick == (second.session, second.lap)


def test_the_corner_goes_by_its_name_and_is_held_against_its_own_standard(here):
    assert here.name == here.corner.name
    assert replace(here, corner=replace(here.corner, name="7")).name == "Corner 7"
    assert here.standard.corner is here.corner
