"""Corners that trouble riders, and riders who do the same all round the course."""

from dataclasses import replace

from lapkit.course.types import LineSource
from lapkit.findings import Code, Finding, Kind
from lapkit.findings.troubles import alike, all_round, cones_to_doubt, troubles, with_doubt


def faults(rider, code, corners, marker=""):
    """A habit of a rider at several corners."""
    return [
        Finding(rider, corner, Code(code), 6, 6, 1.0, 1.5, "", marker=marker, harm=1.0)
        for corner in corners
    ]


def test_who_does_the_same_at_most_corners_is_named_once(course):
    findings = {
        "Ada": faults("Ada", "apex_missed", ("Birch", "Weir", "Barn"), "apex"),
        "Ben": faults("Ben", "apex_missed", ("Birch", "Weir"), "apex"),
        "Cy": [*faults("Cy", "turn_in_early", ("Birch", "Quarry", "Barn")), *faults("Cy", "uneven", ("Weir",))],
    }  # fmt: skip
    everywhere = all_round(findings, course)
    assert {rider: f.in_short for rider, f in everywhere.items()} == {
        "Ada": "wide of the apex cone",
        "Cy": "turning in early",
    }
    by_corner = {each.corner: each for each in troubles(findings, course)}
    assert by_corner["Birch"].here_only == (("wide of the apex cone", ("Ben",)),)
    assert by_corner["Birch"].habits[0] == ("wide of the apex cone", ("Ada", "Ben"))
    assert by_corner["Barn"].here_only == ()
    assert [who for _, who in by_corner["Weir"].here_only] == [("Ben",), ("Cy",)]


def test_what_is_done_at_most_corners_is_told_in_its_commonest_words(course):
    missed = [
        *faults("Ada", "apex_missed", ("Birch",), "outer"),
        *faults("Ada", "apex_missed", ("Weir", "Barn"), "apex"),
        *faults("Ada", "uneven", ("Quarry",)),
    ]
    assert all_round({"Ada": missed}, course)["Ada"].in_short == "wide of the apex cone"


def test_three_corners_of_many_are_not_all_round(course):
    twice = [*course.corners, *(replace(c, name=f"{c.name} again") for c in course.corners)]
    longer = replace(course, corners=tuple(twice))
    at = [corner.name for corner in twice]
    assert not all_round({"Ada": faults("Ada", "apex_missed", at[:4], "apex")}, longer)
    assert all_round({"Ada": faults("Ada", "apex_missed", at[:5], "apex")}, longer)


def test_riders_who_miss_two_cones_of_a_corner_do_not_do_the_same(course):
    findings = {
        name: [Finding(name, "Weir", Code.APEX_MISSED, 6, 6, 1.0, 1.5, "", marker=cone, harm=harm)]
        for name, cone, harm in (("Ada", "one", 1.0), ("Ben", "two", 3.0), ("Cy", "one", 2.0))
    }
    (weir,) = troubles(findings, course)
    assert weir.habits == (
        ("wide of the one cone", ("Ada", "Cy")),
        ("wide of the two cone", ("Ben",)),
    )
    assert (weir.riders, weir.harm) == (("Ben", "Cy", "Ada"), 6.0)
    assert weir.is_the_cone
    findings["Cy"] = findings["Ben"]
    findings["Dot"] = findings["Ada"]
    assert not troubles(findings, course)[0].is_the_cone


def test_what_a_run_does_to_most_riders_does_not_point_at_the_cone(course):
    findings = {
        name: [Finding(name, "Weir", Code.DRIFTS_WIDE, 6, 6, 1.0, 1.5, "", marker="apex")]
        for name in ("Ada", "Ben", "Cy")
    }
    (weir,) = troubles(findings, course)
    assert weir.habits == (("drifting wide at the apex cone over a run", ("Ada", "Ben", "Cy")),)
    assert not weir.is_the_cone
    for name in ("Ada", "Ben"):
        findings[name] = [replace(findings[name][0], code=Code.APEX_MISSED)]
    assert troubles(findings, course)[0].is_the_cone


def test_where_most_of_many_riders_do_the_same_they_and_the_coach_are_told_first(course):
    findings = {name: faults(name, "turn_in_early", ("Barn", "Birch")) for name in "ABCD"}
    findings["A"] = faults("A", "turn_in_early", ("Birch",))
    findings |= {"E": faults("E", "uneven", ("Weir",)), "F": []}
    doubted = cones_to_doubt(findings, alike(findings, course), course)
    # At Barn, where three do it, half of the riders do not.
    assert doubted.text == (
        "More than half of the riders do the same at Birch: "
        "the cones or the marker line may be what is off there."
    )
    assert doubted.riders == ("A", "B", "C", "D")
    solved_course = replace(course, marker_line_from=LineSource.SOLVED)
    solved = cones_to_doubt(findings, alike(findings, course), solved_course)
    assert solved.text == (
        f"{doubted.text} The line is worked out from the cones and uses all of the road."
    )
    del findings["D"]
    assert troubles(findings, course)[0].is_the_cone
    assert cones_to_doubt(findings, alike(findings, course), course) is None


def test_who_is_to_work_on_what_most_riders_do_reads_so_right_there_and_once(course):
    def work(rider, code, corner):
        return replace(faults(rider, code, (corner,))[0], kind=Kind.WORK)

    findings = {name: [work(name, "turn_in_early", "Birch")] for name in "AB"}
    findings["B"] += faults("B", "uneven", ("Weir",))
    findings["C"] = [work("C", "uneven", "Weir"), *faults("C", "turn_in_early", ("Birch",))]
    findings["D"] = [work("D", "turn_in_early", "Birch"), *faults("D", "uneven", ("Quarry",))]
    findings |= {"E": [work("E", "uneven", "Birch")], "F": faults("F", "uneven", ("Weir",))}
    findings["G"] = faults("G", "turn_in_early", ("Birch",))
    doubted = alike(findings, course)
    assert doubted == {"Birch": ("A", "B", "C", "D", "G")}
    told = {name: with_doubt(of_rider, doubted) for name, of_rider in findings.items()}
    said = {name: [f.doubt for f in of_rider] for name, of_rider in told.items()}
    same = "More than half of the riders do the same here: the cones or the marker line may be what is off."
    assert [name for name, doubts in said.items() if any(doubts)] == ["A", "B", "D"]
    assert said["B"] == [same, ""]
    # At Birch, E does something else; C has to work on something else, and reads the remark.
    assert cones_to_doubt(findings, alike(findings, course), course).riders == ("C", "G")
