"""What is looked for at a corner, and how far off it has to be."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lapkit.findings import Code, find
from lapkit.findings.evidence import gather
from lapkit.findings.rules import exit_aside, judgements, left_road


def test_too_close_to_call_is_not_called(run, course, faults):
    ride = run().inside_seam("Birch", p_inside=0.85).moved("Birch", "exit", -0.6)
    assert faults(find([ride.result()], course)) == []


def test_a_wide_offset_hides_a_miss_that_a_narrow_one_shows(run, course, faults):
    sure = run(sd_m=0.2).moved("Barn", "apex", 1.2).result()
    unsure = run(sd_m=1.2).moved("Barn", "apex", 1.2).result()
    assert [f.code for f in faults(find([sure], course))] == ["apex_missed"]
    assert faults(find([unsure], course)) == []


@pytest.mark.parametrize(
    ("marker", "wide_m", "code"),
    [
        ("turn-in", -1.5, "turn_in_cone_missed"),
        ("apex", 1.5, "apex_missed"),
        ("exit", -1.5, "exit_cone_missed"),
        ("exit", 5.5, "cone_wrong_side"),
        ("apex", -4.5, "cone_wrong_side"),
    ],
)
def test_a_line_moved_at_one_cone_is_the_one_fault_there_with_its_size(
    run, course, marker, wide_m, code, faults
):
    found = faults(find([run().moved("Weir", marker, wide_m).result()], course))
    assert [(f.code, f.marker) for f in found] == [(code, marker)]
    assert f"{marker} cone" in found[0].text
    assert found[0].size == pytest.approx(1.5, abs=0.25)


@pytest.mark.parametrize(
    ("early_m", "code", "cue"),
    [
        (7.0, "turn_in_early", "Wait for the turn-in cone."),
        # Whoever turns in late is not told to wait.
        (-7.0, "turn_in_late", "Slow in."),
    ],
)
def test_an_early_or_late_turn_in_is_told_in_metres_with_the_coach_s_cue(
    run, course, early_m, code, cue, faults
):
    columns = {"turn_in_early_m": early_m, "turn_in_early_lo_m": early_m - 1.5,
               "turn_in_early_hi_m": early_m + 1.5}  # fmt: skip
    (fault,) = faults(find([run().corner("Weir", **columns).result()], course))
    assert fault.code == code
    assert fault.text.endswith(" in all 6 laps.")
    assert " 7 m early, give or take 2," in fault.text or " 7 m late, give or take 2," in fault.text
    assert fault.cue == cue


@pytest.mark.parametrize(("name", "code"), [("Weir", "lean_added"), ("Quarry", "lean_off_camber")])
def test_more_lean_than_the_line_asks_for(run, course, name, code, faults):
    columns = {"lean_max_deg": 44.0, "lean_max_lo_deg": 43.2, "lean_max_hi_deg": 44.8}
    (fault,) = faults(find([run().corner(name, **columns).result()], course))
    assert fault.code == code
    assert fault.text.startswith("6° more lean")


@pytest.mark.parametrize(
    ("added_deg", "camber_deg", "code"),
    [(2.6, 0.0, None), (3.4, -0.9, Code.LEAN_ADDED), (3.4, -1.1, Code.LEAN_OFF_CAMBER)],
)
def test_three_degrees_of_lean_are_worth_saying_and_off_camber_begins_at_one(
    run, course, added_deg, camber_deg, code
):
    weir = course.corners[2]
    cones = tuple(replace(cone, camber_deg=camber_deg) for cone in weir.markers)
    falls = replace(weir, markers=cones, camber_deg=camber_deg)
    cambered = replace(course, corners=(*course.corners[:2], falls, course.corners[3]))
    lean = 38.0 + added_deg
    columns = {"lean_max_deg": lean, "lean_max_lo_deg": lean - 0.4, "lean_max_hi_deg": lean + 0.4}
    found = codes(run(scatter_m=0.05).corner("Weir", **columns), cambered, "Weir")
    assert found == ([] if code is None else [code])


def evidence_of(ride, course, name, *, off_road=False):
    (e,) = [e for e in gather([ride.result()], course, off_road=off_road) if e.corner.name == name]
    return e


def codes(ride, course, name, *, openly=False):
    return [j.code for j in judgements(evidence_of(ride, course, name), openly=openly)]


def turned_in(early_m):
    return {"turn_in_early_m": early_m, "turn_in_early_lo_m": early_m - 0.5,
            "turn_in_early_hi_m": early_m + 0.5}  # fmt: skip


@pytest.mark.parametrize(
    ("early_m", "code"),
    [(2.5, None), (3.5, Code.TURN_IN_EARLY), (-2.5, None), (-3.5, Code.TURN_IN_LATE)],
)
def test_three_metres_early_or_late_are_worth_saying_of_a_habit(run, course, early_m, code):
    ride = run().corner("Weir", **turned_in(early_m))
    assert codes(ride, course, "Weir") == ([] if code is None else [code])


@pytest.mark.parametrize(("early_m", "said"), [(11.0, False), (13.0, True)])
def test_of_a_single_lap_it_takes_twelve(run, course, early_m, said):
    ride = run().corner("Weir", [2], **turned_in(early_m))
    assert (Code.TURN_IN_EARLY in codes(ride, course, "Weir")) is said


@pytest.mark.parametrize(("added_deg", "said"), [(9.0, False), (11.0, True)])
def test_of_a_single_lap_lean_has_to_be_ten_degrees_over(run, course, added_deg, said):
    lean = 38.0 + added_deg
    columns = {"lean_max_deg": lean, "lean_max_lo_deg": lean - 0.8, "lean_max_hi_deg": lean + 0.8}
    assert (codes(run().corner("Weir", [2], **columns), course, "Weir") != []) is said


@pytest.mark.parametrize(("further_in_m", "said"), [(0.2, False), (1.4, True)])
def test_inside_the_seam_has_to_be_off_the_line_too(run, course, further_in_m, said):
    ride = run(scatter_m=0.05).inside_seam("Birch").moved("Birch", "exit", -further_in_m)
    assert (Code.INSIDE_SEAM in codes(ride, course, "Birch")) is said


@pytest.mark.parametrize(("further_in_m", "said"), [(1.5, False), (2.8, True)])
def test_inside_the_seam_once_is_said_only_if_it_was_far(run, course, further_in_m, said):
    ride = run(scatter_m=0.05).inside_seam("Birch", laps=[2])
    ride.moved("Birch", "exit", -further_in_m, laps=[2])
    assert (Code.INSIDE_SEAM in codes(ride, course, "Birch")) is said


def test_who_keeps_outside_of_the_inner_seam_is_told_of_the_outer_one_that_he_crosses(run, course):
    birch = course.corners[0]
    seams = tuple(replace(birch.seams[0], name=name) for name in ("first seam", "second seam"))
    both = replace(course, corners=(replace(birch, seams=seams), *course.corners[1:]))
    result = run(scatter_m=0.05).inside_seam("Birch").moved("Birch", "exit", -1.4).result()
    outer = result.tables["seams"]
    inner = outer.assign(p_inside=0.0)
    result.tables["seams"] = pd.concat([inner, outer.assign(seam="second seam")])
    evidence = gather([result], both)[0]
    told = [j for j in judgements(evidence, openly=False) if j.code is Code.INSIDE_SEAM]
    assert [j.place.name for j in told] == ["second seam"]
    assert told[0].typical(told[0].size) == pytest.approx(1.4, abs=0.1)


def test_without_a_marker_line_only_cones_and_evenness_are_judged(run, course, tight):
    bare = replace(course, marker_line=None, marker_line_from="none")
    ride = run().corner("Birch", **tight).inside_seam("Birch").moved("Birch", "apex", -4.5)
    assert codes(ride, bare, "Birch") == [Code.CONE_WRONG_SIDE]
    assert exit_aside(evidence_of(ride, bare, "Birch")) is None


def test_who_runs_inside_openly_is_not_told_of_the_seam_nor_of_the_exit_cone(run, course):
    ride = run().inside_seam("Birch").moved("Birch", "exit", -2.8)
    assert codes(ride, course, "Birch") == [Code.INSIDE_SEAM, Code.EXIT_CONE_MISSED]
    assert codes(ride, course, "Birch", openly=True) == []


def test_exits_called_tightened_decide_and_those_surely_below_the_limit_count(run, course, tight):
    below = {**tight, "exit_lean_max_deg": 36.0}
    ride = run(laps=7).corner("Birch", [1, 2, 3, 4, 5], **tight).corner("Birch", [6], **below)
    (found,) = judgements(evidence_of(ride, course, "Birch"), openly=False)
    assert (found.code, np.count_nonzero(found.seen)) == (Code.EXIT_TIGHTENED, 6)
    assert found.typical(found.size) == pytest.approx(0.25)
    assert found.typical(found.added_deg) == pytest.approx(6.0)
    alone = run(laps=7).corner("Birch", **below)
    assert codes(alone, course, "Birch") == []


@pytest.mark.parametrize(
    ("laps", "lean_deg", "told"),
    [([2], 42.0, True), ([2], 36.0, False), (range(1, 6), 36.0, True)],
    ids=["one lap, called", "one lap, not called", "most laps, not called"],
)
def test_exits_that_are_no_fault_are_told_aside(run, course, tight, laps, lean_deg, told):
    ride = run().corner("Birch", laps, **{**tight, "exit_lean_max_deg": lean_deg})
    assert (exit_aside(evidence_of(ride, course, "Birch")) is not None) is told


def test_who_left_the_road_is_judged_by_the_lap_on_which_he_did(run, course):
    ride = run().corner("Weir", [4], left_road=1.0, off_road_m=8.0)
    found = left_road(evidence_of(ride, course, "Weir", off_road=True))
    assert (np.flatnonzero(found.seen).tolist(), found.habit, found.p) == ([3], False, 1.0)
    assert left_road(evidence_of(ride, course, "Weir")) is None
