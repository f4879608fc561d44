import re
from dataclasses import replace

import pytest

from lapkit.compare.exits import ExitCalls
from lapkit.compare.tables import timed_laps
from lapkit.counting import corner_name
from lapkit.findings import Code, Finding, Kind
from lapkit.reporter import exit_grid
from lapkit.reporter.exit_grid import exit_summary


@pytest.fixture
def told(event, monkeypatch):
    """What is told of exits where every rider has these calls at each corner, and these habits."""

    def of(calls, habits=(), left_off=False):
        monkeypatch.setattr(exit_grid, "exit_calls", lambda runs: calls)
        course = event.course
        found = [
            Finding(
                who,
                c.name,
                Code.EXIT_TIGHTENED,
                6,
                8,
                0.99,
                0.2,
                "Tight.",
                kind=Kind.OTHER,
                habit=not left_off,
                mended=left_off,
            )
            for who, at in habits
            for c in course.corners[:at]
        ]
        riders = [
            replace(r, findings=tuple(f for f in found if f.rider == r.rider)) for r in event.riders
        ]
        return exit_summary(replace(event, riders=tuple(riders)), {"Bo": "bo.html"})

    return of


def text_of(cell):
    return cell.text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_cell_counts_what_is_called_and_of_a_habit_all_that_is_surely_tighter(told, event):
    first = event.course.corners[0].name
    calls = {first: ExitCalls(12, 4, 11, 2.2)}
    rows = {rider: cells for rider, _, cells in told(calls, [("Bo", 1)]).rows}
    other = next(name for name in rows if name != "Bo")
    assert text_of(rows["Bo"][0]) == "11 of 12, 2° more"
    assert rows["Bo"][0].much
    assert text_of(rows[other][0]) == "4 of 12, 2° more"
    assert not rows[other][0].much
    assert text_of(rows["Bo"][1]) == "not measured"


def test_a_habit_left_off_is_counted_as_its_page_counts_it_and_not_marked(told, event):
    first = event.course.corners[0].name
    cells = told({first: ExitCalls(16, 8, 9, 5.0)}, [("Bo", 1)], left_off=True).rows[1][2]
    assert text_of(cells[0]) == "9 of 16, 5° more"
    assert not cells[0].much


@pytest.mark.parametrize(
    ("calls", "said"),
    [
        (ExitCalls(8, 0, 3, float("nan")), "none of 8"),
        (ExitCalls(8, 2, 3, 0.6), "2 of 8"),
        (ExitCalls(8, 2, 3, -3.0), "2 of 8"),
    ],
)
def test_lean_that_a_lap_cannot_tell_is_left_out(told, event, calls, said):
    cells = told({event.course.corners[0].name: calls}).rows[0][2]
    assert text_of(cells[0]) == said


def test_the_gist_names_who_and_where(told, event):
    a, b = (c.name for c in event.course.corners[:2])
    assert told({a: ExitCalls(8, 6, 6, 3.0)}, [("Bo", 2)]).words == [
        f"Bo tightens the exit at {a} and {b}."
    ]
    count = len(event.course.corners)
    (all_of_them,) = told({}, [("Bo", count)]).words
    assert all_of_them == f"Bo tightens the exit at all {count} corners below."


def test_who_was_not_measured_is_not_cleared(told, event):
    some = {event.course.corners[0].name: ExitCalls(8, 0, 0, float("nan"))}
    assert told(some).words == ["Nobody tightens the exit as a habit at any corner."]
    assert told({}).words == [
        "Whether anybody tightens the exit as a habit cannot be told; why is said above."
    ]


def test_who_rode_too_few_laps_for_a_habit_is_not_cleared(told, event, monkeypatch):
    some = {event.course.corners[0].name: ExitCalls(1, 1, 1, 2.0)}
    few = event.riders[1].runs
    monkeypatch.setattr(exit_grid, "untold", lambda runs, _: "too few" * (runs is few))
    assert told(some).words == [
        "Of those of whom a habit can be told, nobody tightens the exit as one."
    ]


def test_without_a_marker_line_there_is_nothing_to_hold_exits_against(found_event):
    assert exit_summary(found_event, {}) is None


def test_the_page_has_a_row_for_every_rider_and_links_to_his_page(summary, event):
    section = summary[summary.index('id="exits"') : summary.index('id="corners"')]
    assert section.count("<tr>") == 1 + len(event.riders)
    assert 'href="#exits"' in summary
    assert re.search(r'href="rider-1.html"><bdi>Bo</bdi>', section)
    laps = timed_laps(event.tables["laps"])
    laps = len(laps[laps["rider"] == "Bo"])
    assert f"of\N{NO-BREAK SPACE}{laps}" in section[section.index("<bdi>Bo</bdi>") :]


def test_a_corner_whose_way_out_is_too_short_has_no_column_and_is_named(told, event, monkeypatch):
    held = exit_grid.standards(event.course)
    short = event.course.corners[1].name
    assert "too short" not in told({}).rule
    corner = replace(held[short].corner, exit_m=held[short].corner.last_apex_m + 10.0)
    held = {**held, short: replace(held[short], corner=corner)}
    monkeypatch.setattr(exit_grid, "standards", lambda course: held)
    exits = told({})
    assert corner_name(short) not in exits.head
    assert len(exits.head) == len(exits.rows[0][2]) == len(event.course.corners) - 1
    assert exits.rule.endswith(f"being too short: {corner_name(short)}.")
