from dataclasses import replace

import pytest

from lapkit.compare.results import Unusable
from lapkit.findings import Code, Finding
from lapkit.findings.finding import Kind
from lapkit.reporter.summary_riders import RiderLine, rider_lines, untold_riders


@pytest.fixture
def told(event):
    """The event with one rider, Bo, of whom these findings are told."""

    def of(*findings):
        return replace(event, riders=(replace(event.riders[1], findings=findings),))

    return of


def work(code=Code.TURN_IN_EARLY, corner="Larch", **more):
    more = {"kind": Kind.WORK, "harm": 1.0} | more
    return Finding("Bo", corner, code, 5, 6, 0.95, 9.0, "You turn in early.", **more)


def test_who_does_most_harm_comes_first_and_who_does_none_last(event):
    bo = event.riders[1]
    harms = {"Ann": (), "Bea": (work(harm=0.5),), "Cat": (), "Dee": (work(harm=2.0),)}
    riders = tuple(replace(bo, rider=name, findings=found) for name, found in harms.items())
    lines = rider_lines(replace(event, riders=riders), {"Bea": "rider-bea.html"})
    assert [line.name for line in lines] == ["Dee", "Bea", "Ann", "Cat"]
    assert [line.link for line in lines] == ["", "rider-bea.html", "", ""]


def test_a_line_has_the_corner_and_text_of_the_habit_to_work_on(told):
    (line,) = rider_lines(told(work()), {})
    assert (line.corner, line.text, line.remarked) == ("Larch", "You turn in early.", True)
    (line,) = rider_lines(told(), {})
    assert (line.corner, line.text, line.remarked) == ("", "No habit to work on.", False)


def test_a_habit_at_a_few_other_corners_names_them_at_many_counts_them(told):
    def text(*corners):
        others = [work(kind=Kind.OTHER, corner=corner) for corner in corners]
        (line,) = rider_lines(told(work(), *others), {})
        return line.text

    assert text("Anvil") == "You turn in early. Seen at Anvil too."
    assert text("Anvil", "Weir", "Wharf") == "You turn in early. Seen at Anvil, Weir and Wharf too."
    assert text("A", "B", "C", "D") == "You turn in early. Seen at 4 other corners too."
    # Another fault there is not the same habit, and a lapse is none.
    other = work(Code.APEX_MISSED, "Anvil", kind=Kind.OTHER, marker="apex")
    lapse = work(kind=Kind.OTHER, corner="Weir", habit=False)
    (line,) = rider_lines(told(work(), other, lapse), {})
    assert line.text == "You turn in early."


def test_what_to_keep_in_mind_is_named_with_its_corner_and_a_lapse_as_one(told):
    minds = (
        work(kind=Kind.MIND),
        work(Code.EXIT_TIGHTENED, "4", kind=Kind.MIND, habit=False),
        work(Code.UNEVEN, "", kind=Kind.MIND),
    )
    (line,) = rider_lines(told(*minds), {})
    assert line.remarked and not line.corner
    first, second, third = line.more
    assert first == "turning in early at Larch"
    assert second == "an exit that tightens at Corner 4, a lapse"
    assert " at " not in third


def test_a_fault_in_too_few_laps_to_be_called_a_lapse_is_told_with_its_count(told):
    few = replace(work(kind=Kind.MIND, habit=False), laps_seen=2, laps_counted=2)
    (line,) = rider_lines(told(few), {})
    assert line.more == ("turning in early at Larch, in both laps",)


def test_what_was_left_off_is_named_by_what_led_at_each_corner(told):
    was = {"kind": Kind.OTHER, "habit": False, "mended": True}
    gone = (
        work(Code.EXIT_TIGHTENED, "Larch", **was),
        work(Code.APEX_MISSED, "Larch", marker="apex", **was),
        work(Code.EXIT_TIGHTENED, "4", **was),
        work(Code.TURN_IN_EARLY, "Weir", **was),
        work(Code.MENDED, "Weir", kind=Kind.WELL, harm=0.0),
    )
    (line,) = rider_lines(told(*gone), {})
    assert line.left_off == (
        "in an earlier run it was an exit that tightens at Larch and Corner 4 and turning in early at Weir"
    )
    (line,) = rider_lines(told(work(kind=Kind.OTHER, habit=False)), {})
    assert line.left_off == ""


def test_why_nothing_can_be_told_is_shared_by_all_whom_it_holds_for(event):
    lines = [
        RiderLine("Ann", untold="too few laps"),
        RiderLine("Bea", untold="too few laps", remarked=True),
        RiderLine("Cat"),
        RiderLine("Dee", untold="too few laps"),
    ]
    bo = event.riders[1].rider
    unusable = (Unusable(bo, "2", "bo.csv", "empty"), Unusable("Eve", "1", "eve.csv", "empty"))
    reasons = untold_riders(lines, replace(event, unusable=(*unusable, unusable[1])))
    assert [(why, [line.name for line in whom]) for why, whom in reasons] == [
        ("too few laps", ["Ann", "Dee"]),
        ("no log could be used.", ["Eve"]),
    ]
