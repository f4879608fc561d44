from dataclasses import replace

from lapkit.findings import Code, Finding
from lapkit.findings.finding import Kind
from lapkit.reporter.summary_corners import all_round_lines, nothing_else, trouble_lines


def early(rider, corner, code=Code.TURN_IN_EARLY):
    return Finding(rider, corner, code, 5, 6, 0.95, 9.0, "Early.", kind=Kind.OTHER, harm=1.0)


def crowded(event, at):
    """The event with riders of these names, each with a habit at the corners named."""
    bo = event.riders[1]
    return replace(
        event,
        riders=tuple(
            replace(bo, rider=name, findings=tuple(early(name, corner) for corner in corners))
            for name, corners in at.items()
        ),
    )


def test_a_corner_names_who_has_a_habit_there_and_what(event):
    lines = trouble_lines(crowded(event, {"Ann": ["Larch"], "Bea": ["Larch"], "Cat": ["Anvil"]}))
    assert [(line.corner, line.who, line.what) for line in lines] == [
        ("Larch", "2 of 3 riders", ["turning in early: Ann, Bea"]),
        ("Anvil", "1 of 3 riders", ["turning in early: Cat"]),
    ]


def test_more_riders_than_four_are_counted(event):
    (line,) = trouble_lines(crowded(event, {name: ["Larch"] for name in "ABCD"}))
    assert line.what == ["turning in early: A, B, C, D"]
    (line,) = trouble_lines(crowded(event, {name: ["Larch"] for name in "ABCDE"}))
    assert line.what == ["turning in early: 5 riders"]


def test_where_most_do_the_same_at_a_cone_the_cone_is_to_be_looked_at(event):
    whole = crowded(event, {"Ann": ["Larch"], "Bea": ["Larch"], "Cat": []})
    (line,) = trouble_lines(whole)
    assert line.look
    (line,) = trouble_lines(replace(whole, riders=whole.riders[:2]))
    assert not line.look


def test_what_a_rider_does_all_round_is_told_once(event):
    everywhere = [corner.name for corner in event.course.corners]
    whole = crowded(event, {"Ann": everywhere, "Bea": everywhere, "Cat": ["Larch"]})
    assert all_round_lines(whole) == ["turning in early: Ann, Bea"]
    larch = next(line for line in trouble_lines(whole) if line.corner == "Larch")
    assert larch.who == "3 of 3 riders, Ann and Bea as above"
    assert larch.what == ["turning in early: Cat"]
    many = dict.fromkeys("ABCDE", everywhere)
    assert trouble_lines(crowded(event, many))[0].who == "5 of 5 riders, 5 as above"


def test_corners_where_nobody_has_a_habit_of_that_corner_stand_in_one_sentence(event):
    names = [corner.name for corner in event.course.corners]
    whole = crowded(event, {"Ann": names, "Bea": names[:1], "Cat": [], "Dee": []})
    assert [line.corner for line in trouble_lines(whole)] == names[:1]
    said = nothing_else(whole)
    assert said.startswith(f"Nothing else at {names[1]}, ") and names[0] not in said
    assert nothing_else(crowded(event, {"Ann": names[:1]})) == ""
    # Where most do it, the cone is to be looked at all the same.
    most = crowded(event, {"Ann": names, "Bea": names, "Cat": []})
    assert [line.corner for line in trouble_lines(most)] == names and nothing_else(most) == ""
