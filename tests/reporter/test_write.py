import json
from dataclasses import replace

import pytest

from lapkit.errors import OutputError
from lapkit.reporter import write
from lapkit.reporter.formats import Formats


def test_everything_of_an_event_is_written(event, tmp_path):
    pages = write(event, tmp_path / "out", Formats(pdf=True))
    names = {p.relative_to(tmp_path / "out").as_posix() for p in (tmp_path / "out").rglob("*")}
    tables = {f"{t}.csv" for t in ("laps", "corners", "markers", "seams", "findings", "logs")}
    made = {"event.html", "event.pdf", "rider-bo.html", "rider-bo.pdf", "results.json", "figures"}
    assert tables | made <= names
    assert [p.name for p in pages[:1]] == ["event.html"]
    assert all(p.is_file() for p in pages)
    assert "figures/bo-02-kiln-square-above.svg" in names


def test_two_riders_with_one_slug_have_a_page_each(event, tmp_path):
    riders = tuple(replace(event.riders[1], rider=name) for name in ("Bo", "bo!", "BO"))
    pages = write(replace(event, riders=riders), tmp_path / "out")
    assert [p.name for p in pages] == [
        "event.html",
        "rider-bo.html",
        "rider-bo-2.html",
        "rider-bo-3.html",
    ]
    for page, rider in zip(pages[1:], riders, strict=True):
        assert f"<h1><bdi>{rider.rider}</bdi></h1>" in page.read_text(encoding="utf-8")


def test_one_rider_has_no_summary(event, tmp_path):
    one = replace(event, riders=event.riders[1:], unusable=())
    pages = write(one, tmp_path / "out", Formats(pdf=True))
    assert [p.name for p in pages] == ["rider-bo.html"]
    assert [p.name for p in (tmp_path / "out").glob("*.pdf")] == ["rider-bo.pdf"]


def test_one_rider_does_not_take_an_events_place(event, tmp_path):
    write(event, tmp_path / "out", Formats(pages=False))
    before = (tmp_path / "out" / "results.json").read_bytes()
    one = replace(event, riders=event.riders[1:], unusable=())
    with pytest.raises(OutputError, match="holds an event's results"):
        write(one, tmp_path / "out", Formats(pages=False))
    assert (tmp_path / "out" / "results.json").read_bytes() == before
    write(event, tmp_path / "out", Formats(pages=False))


def test_printed_sheets_can_be_written_without_pages(event, tmp_path):
    assert write(event, tmp_path / "out", Formats(pages=False, pdf=True)) == []
    assert {"event.pdf", "rider-bo.pdf"} <= {p.name for p in (tmp_path / "out").iterdir()}
    assert not list((tmp_path / "out").glob("*.html"))


def test_tables_can_be_written_without_pages(event, tmp_path):
    assert write(event, tmp_path / "out", Formats(pages=False)) == []
    assert not list((tmp_path / "out").glob("*.html"))


def test_pages_made_in_workers_are_the_same(event, tmp_path):
    write(event, tmp_path / "one", workers=1)
    write(event, tmp_path / "two", workers=2)
    for page in (tmp_path / "one").rglob("*.*"):
        other = tmp_path / "two" / page.relative_to(tmp_path / "one")
        assert page.read_bytes() == other.read_bytes(), page.name


def test_results_say_where_they_came_from(event, tmp_path):
    write(event, tmp_path / "out", Formats(pages=False))
    whole = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert whole["provenance"] == event.provenance
    assert whole["unusable"][0]["file"] == "<img src=x>.csv"
