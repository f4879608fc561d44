import re

import pytest

from lapkit.compare.run import measure_run
from lapkit.findings import find
from lapkit.findings.finding import Finding, Kind
from lapkit.importer.event_folder import Entry
from lapkit.importer.quality import assess
from lapkit.path.ridden import ride_path
from lapkit.pipeline import _joined
from lapkit.reporter.event_page import event_page
from lapkit.reporter.review_types import EventReview, RiderReview
from lapkit.reporter.rider_page import rider_page
from lapkit.runs import log_table
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES
from lapkit.splitter import split

NASTY = "<script>alert(1)</script> $x^2$ \u202e"


@pytest.fixture(scope="module")
def event(tmp_path_factory):
    course = built_in("sample")
    ridden = ride(course, STYLES["smooth"], laps=3, seed=4, epoch_s=1.78e9)
    log = observe(ridden, Receiver(), seed=5)
    path = ride_path(log, course.plane, course=course)
    run = measure_run(path, split(path, course), course, rider=NASTY, session="1")
    entry = Entry(rider=NASTY, session="1", file="x.gpx", path=tmp_path_factory.getbasetemp())
    run.tables["logs"] = log_table(path, assess(log), entry, "1")
    said = Finding(
        NASTY, "Larch", "inside_seam", 3, 3, 0.99, 1.0, NASTY, NASTY, Kind.WORK, lap=1, session="1"
    )
    rider = RiderReview(NASTY, "novice", (run,), (said, *find((run,), course)))
    return EventReview(course, (rider,), (), _joined([rider]), {"version": "0"}, (), "Day")


@pytest.fixture(scope="module")
def page(event):
    return rider_page(event, event.riders[0], units="metric")


def test_every_corner_and_the_cautions_are_there(event, page):
    for corner in event.course.corners:
        assert f">{corner.name}, {corner.turn}<" in page
    assert "own judgement come first" in page


def test_text_from_files_is_never_markup(page):
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def test_ids_are_unique_and_links_inside_the_page_resolve(page):
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'href="#([^"]+)"', page):
        assert target in ids


def test_nothing_comes_from_the_network(page):
    assert "default-src 'none'" in page
    assert not re.search(r'(src|href)="(https?:)?//', page.replace("http://www.w3.org", ""))


def test_units_are_the_reader_s(event):
    page = rider_page(event, event.riders[0], units="us")
    assert " mph" in page
    # The log note of the importer is in SI words whatever the reader chose.
    assert " km/h" not in page.split('id="logs"')[0]


def test_size_of_a_page(page):
    assert len(page.encode()) < 1_500_000


def test_the_event_page_calls_seams_in_words(event):
    page = event_page(event, units="metric", links={NASTY: "rider-x.html"})
    assert "Who ran inside the seam" in page
    assert re.search(r"(inside|outside, )\s?\d of 3|too close to call", page)
    assert "<script" not in page
