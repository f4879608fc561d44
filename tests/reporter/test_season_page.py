import re
from dataclasses import replace
from html import unescape

import pytest

from lapkit.errors import OutputError
from lapkit.reporter.season_page import season_page, season_text, write_page
from lapkit.season.answers import Answers, Change, Event, Ridden, SeamCalls, Trouble
from lapkit.units import Units

EVENTS = (
    Event(1, "spring", "2031-04-01T09:00:00.000Z", 1, 2),
    Event(2, "<b>\x1b[2Jsummer", None, 1, 2),
)


@pytest.fixture
def answers():
    radius, unknown = (60.2, 58.3, 62.1), (None, None, None)
    return Answers(
        rider="Tove",
        corner=None,
        events=EVENTS,
        ridden=(
            Ridden(
                "Tove",
                "Larch",
                "left",
                1,
                6,
                radius,
                (40.1, 39.0, 41.2),
                5,
                6,
                "turning in early",
                (SeamCalls("s", 4, 1, 1, True), SeamCalls("t", 6, 0, 0, False)),
            ),
            Ridden("Tove", "Larch", "left", 2, 6, unknown, unknown, 0, 0, "", ()),
        ),
        changes=(
            Change("Tove", "Larch", 1, 2, "radius", 60.2, 66.4),
            Change("Tove", "Larch", 1, 2, "lean", 40.1, 36.7),
            Change("Tove", "Larch", 1, 2, "tightened", 5, 1, 6, 12),
            Change("Tove", "Larch", 1, 2, "inside", 1, 9, 6, 10, "s"),
        ),
        trouble=(Trouble("Larch", 1, "Tove", 5, 6, 0, 0, 3, (("turning in early", 2),), True),),
    )


def test_terminal_tells_values_changes_and_trouble(answers):
    text = season_text(answers, units=Units.METRIC)
    assert "60 ± 2 m" in text
    assert "40° ± 1°" in text
    assert re.search(r"s: inside 4 of 6, unclear 1\n", text)
    heading, line = text.partition("What changed after which event\n")[2].splitlines()[:2]
    assert heading.startswith("  From 1 April 2031, spring to no date, ")
    assert line == (
        "    Larch: tightest radius about 6 m larger; largest lean about 3° less; exit tightened less often, "
        "5 of 6 laps before and 1 of 12 after; inside seam s more often, 1 of 6 laps before and 9 of 10 after."
    )
    assert re.search(r"Larch +Tove +5 of 6 +– +still so +turning in early \(2 of 3\)", text)
    assert re.search(r"40° ± 1° +5 of 6 +turning in early +s: ", text)
    assert "no date" in text


def test_where_the_marker_line_is_inside_being_inside_is_no_fault(answers):
    ridden = replace(
        answers.ridden[0], seams=(SeamCalls("s", 6, 0, 0, False), SeamCalls("t", 5, 1, 0, False))
    )
    text = season_text(replace(answers, ridden=(ridden,)), units=Units.METRIC)
    assert (
        "s (the marker line is inside): inside 6 of 6; t (the marker line is inside): inside 5 of 6"
        in text
    )


def test_one_event_alone_is_not_said_to_have_changed_nothing(answers):
    both, once = answers.ridden, answers.ridden[:1]
    apart = (EVENTS[0], replace(EVENTS[1], course=2))
    for events, ridden, said in (
        (EVENTS, both, "Nothing clearly changed."),
        (EVENTS, (), "Nothing clearly changed."),
        (EVENTS[:1], once, "One event so far: "),
        # Who is asked for was at one of them; or they were on different courses.
        (EVENTS, once, "that takes two events on the same course."),
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
    other = (Event(3, "autumn", "2031-10-01T09:00:00.000Z", 2, 1), *EVENTS)
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


def test_what_the_last_event_cannot_tell_is_not_said_to_be_over(answers):
    trouble = replace(answers.trouble[0], lately=None)
    text = season_text(replace(answers, trouble=(trouble,)), units=Units.METRIC)
    assert re.search(r"Larch +Tove +5 of 6 +– +cannot be told +turning in early", text)
    assert "no more" not in text


def test_why_a_rider_s_page_may_count_more_tightened_exits_is_said(answers):
    for said in (
        season_page(answers, units=Units.METRIC),
        season_text(answers, units=Units.METRIC),
    ):
        told = " ".join(said.split())
        assert "clearly tighter than the marker line’s and takes more lean" in told
        assert "surely below nine tenths of it, so its number may be larger" in told


def test_feet_when_asked(answers):
    assert "198 ± 7 ft" in season_text(answers, units=Units.US)


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


@pytest.mark.parametrize("many", [1, 3])
def test_without_a_name_few_changes_are_told_and_many_counted_by_event(answers, many):
    changes = answers.changes * many
    text = season_text(Answers(None, None, EVENTS, (), changes, ()), units=Units.METRIC)
    counted = "".join(
        f"    {what} in {many}\n"
        for what in (
            "exit tightened: less often", "inside a seam: more often", "tightest radius: larger",
            "largest lean: less",
        )
    )  # fmt: skip
    assert (counted in text) is (many == 3)
    assert ("Tove, Larch: tightest radius about 6 m larger" in text) is (many == 1)
    assert "No corner stands out" in text


def test_a_page_replaces_a_page_and_nothing_else(answers, tmp_path):
    page = season_page(answers, units=Units.METRIC)
    out = tmp_path / "season.html"
    write_page(page, out)
    write_page(page, out)
    assert out.read_text(encoding="utf-8") == page
    other = tmp_path / "season.sqlite"
    other.write_bytes(b"mine")
    for wrong in (other, tmp_path, tmp_path / "none" / "p.html", other / "p.html"):
        with pytest.raises(OutputError):
            write_page(page, wrong)
    assert other.read_bytes() == b"mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["season.html", "season.sqlite"]


@pytest.mark.parametrize(
    ("seam", "told"),
    [("first seam", "the first seam"), ("Seam 2", "Seam 2"), ("A", "seam A")],
)
def test_a_seam_is_named_as_one_says_it(answers, seam, told):
    change = replace(answers.changes[-1], seam=seam)
    text = season_text(replace(answers, changes=(change,)), units=Units.METRIC)
    assert f"Larch: inside {told} more often" in text


def test_a_corner_asked_for_is_not_repeated_in_every_line(answers):
    text = season_text(replace(answers, rider=None, corner="Larch"), units=Units.METRIC)
    assert "\n    Tove: tightest radius" in text
    both = season_text(replace(answers, corner="Larch"), units=Units.METRIC)
    assert "\n    Larch: tightest radius" in both
