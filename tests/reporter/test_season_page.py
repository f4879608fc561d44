import re
from dataclasses import replace
from html import unescape

import pytest

from lapkit.errors import OutputError
from lapkit.reporter.season_page import season_page, write_page
from lapkit.reporter.season_terminal import season_text
from lapkit.season.answers import Event, Trouble
from lapkit.units import Units


def test_one_event_alone_is_not_said_to_have_changed_nothing(answers):
    both, once = answers.ridden, answers.ridden[:1]
    apart = (answers.events[0], replace(answers.events[1], course=2))
    for events, ridden, said in (
        (answers.events, both, "Nothing clearly changed."),
        (answers.events, (), "Nothing clearly changed."),
        (answers.events[:1], once, "One event so far: "),
        # Who is asked for was at one of them; or they were on different courses.
        (answers.events, once, "that takes two events on the same course."),
        (apart, (), "that takes two events on the same course."),
    ):
        quiet = replace(answers, events=events, ridden=ridden, changes=())
        assert said in season_text(quiet, units=Units.METRIC)
        assert said in season_page(quiet, units=Units.METRIC)


def test_the_page_has_the_head_of_the_others_and_names_every_cell(answers):
    page = season_page(answers, units=Units.US)
    assert "lapkit <span>· season</span>" in page
    assert "2 events" in page and "feet and mph" in page
    for head in ("laps", "tightest radius", "largest lean", "habit", "seams"):
        assert page.count(f'data-head="{head}"') == len(answers.ridden)


def test_corners_keep_the_order_in_which_they_are_ridden(answers):
    other = (Event(3, "autumn", "2031-10-01", 2, 1), *answers.events)
    ten = [replace(one, corner="10") for one in answers.ridden]
    away = replace(answers.ridden[0], corner="Abbey", place=3)
    ridden = (away, *answers.ridden, *ten)
    page = season_page(replace(answers, events=other, ridden=ridden), units=Units.METRIC)
    heads = ["Larch, left (course 1): Tove", "Corner 10, left (course 1): Tove"]
    assert re.findall("<h3>(.*?Tove)</h3>", page) == [*heads, "Abbey, left (course 2): Tove"]
    text = season_text(replace(answers, ridden=ridden[1:]), units=Units.METRIC)
    assert text.index("Larch, left: Tove") < text.index("Corner 10, left: Tove")


def test_who_has_trouble_stands_by_corner_and_of_one_rider_in_one_table(answers):
    anvil = Trouble("Anvil", 1, "Iska", 0, 6, 5, 6, 1, (), False)
    larch = Trouble("Larch", 1, "Iska", 4, 6, 0, 6, 1, (("turning in late", 1),), True)
    every = replace(answers, rider=None, ridden=(), trouble=(*answers.trouble, larch, anvil))

    def part(page):
        return page.partition('<section id="trouble"')[2].partition("</section>")[0]

    page = part(season_page(every, units=Units.METRIC))
    assert re.findall("<h3>(.*?)</h3>", page) == ["Larch"]
    assert page.count('<th scope="col">rider</th>') == 1 and "corner</th>" not in page
    assert page.count("still so") == 1
    # Who has none any more is no trouble, but worth a word.
    assert "So over the season, but no more at the last event: Iska at Anvil." in page
    # At the only event that he was at nothing is still so.
    assert re.search(r'data-head="at his last event">yes<', page)
    assert "turning in late (1 of 1)" in page.replace("\N{NO-BREAK SPACE}", " ")
    own = part(season_page(answers, units=Units.METRIC))
    assert "<h3>" not in own
    assert own.count('<th scope="col">corner</th>') == 1 and "rider</th>" not in own


def test_why_a_rider_s_page_may_count_more_tightened_exits_is_said(answers):
    for said in (
        season_page(answers, units=Units.METRIC),
        season_text(answers, units=Units.METRIC),
    ):
        told = " ".join(said.split())
        assert "clearly tighter than the marker line’s and takes more lean" in told
        assert "surely below nine tenths of it, so its number may be larger" in told


def test_nothing_from_a_file_rules_the_terminal_or_the_page(answers):
    text = season_text(answers, units=Units.METRIC)
    assert all(c.isprintable() or c == "\n" for c in text)
    page = season_page(answers, units=Units.METRIC)
    assert "<b>" not in page
    assert "&lt;b&gt;" in page


def test_the_page_needs_nothing_else(answers):
    page = season_page(answers, units=Units.METRIC)
    assert page.startswith("<!DOCTYPE html>")
    assert "default-src 'none'" in unescape(page)
    assert not re.search(r"<script|src=|https?:|url\(", page)
    assert "<li>Larch: tightest radius about 6\N{NO-BREAK SPACE}m larger" in page
    assert "Nothing here is a target" in page
    # What to know first stands before the tables.
    order = [page.index(f'<section id="{name}"') for name in ("changes", "trouble", "corners")]
    assert order == sorted(order)


def test_a_page_replaces_a_page_and_nothing_else(answers, tmp_path):
    page = season_page(answers, units=Units.METRIC)
    out = tmp_path / "season.html"
    write_page(page, out)
    write_page(page, out)
    assert out.read_text(encoding="utf-8") == page
    other = tmp_path / "season.sqlite"
    other.write_bytes(b"mine")
    for wrong in (other, tmp_path, other / "p.html"):
        with pytest.raises(OutputError):
            write_page(page, wrong)
    assert other.read_bytes() == b"mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["season.html", "season.sqlite"]
    write_page(page, tmp_path / "new" / "season.html")
    assert (tmp_path / "new" / "season.html").read_text(encoding="utf-8") == page
