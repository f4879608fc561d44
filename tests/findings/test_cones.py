"""What is looked for at a cone: passed too far away, on the wrong side, or in another lane than was set."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.lap_values import GAP
from lapkit.compare.standard import standards
from lapkit.course.course import CourseSeam
from lapkit.findings import Kind, find
from lapkit.findings.cones import lane_set, runs_wide, wrong_side
from lapkit.findings.evidence import gather


def faults(found):
    return [f for f in found if f.kind is not Kind.WELL]


def with_corner(course, name, **changes):
    """The course with one corner changed."""
    corners = [replace(c, **changes) if c.name == name else c for c in course.corners]
    return replace(course, corners=tuple(corners))


def lanes_of(course, result, name="Birch"):
    evidence = next(e for e in gather([result], course) if e.corner.name == name)
    return [lane_set(evidence, marker) for marker in evidence.corner.markers]


def test_in_another_lane_than_the_line_at_a_cone_that_was_not_missed(run, course):
    # Nearer to the apex cone than the line: no cone is missed, and the seam lies between.
    (fault,) = faults(find([run().moved("Weir", "apex", -2.6).result()], course))
    assert (fault.code, fault.marker, fault.habit) == ("wrong_lane", "apex", True)
    assert fault.text == (
        "In lane 1 at the apex cone in all 6 laps, where lane 2 is the one to be in."
    )
    assert fault.size == pytest.approx(2.6, abs=0.3)


def test_who_misses_the_cone_is_told_his_lane_along_with_it(run, course):
    (fault,) = faults(find([run().moved("Weir", "exit", -2.8).result()], course))
    assert fault.code == "exit_cone_missed"
    assert "At the exit cone you are in lane 1; lane 2 is the one to be in." in fault.details
    (fault,) = faults(find([run().moved("Weir", "exit", -1.2).result()], course))
    assert not any("lane" in d for d in fault.details)


def test_inside_the_seam_the_lane_at_the_exit_cone_is_told(run, course):
    told = "At the exit cone you are in lane 1; lane 2 is the one to be in."
    ride = run().inside_seam("Birch").moved("Birch", "exit", -2.8)
    found = faults(find([ride.result()], course))
    assert [f.code for f in found] == ["inside_seam", "exit_cone_missed"]
    assert [f.details.count(told) for f in found] == [1, 1]
    # Who has crossed the seam by the cone is in its lane there.
    crosses = run().inside_seam("Birch").moved("Birch", "exit", -1.2)
    found = faults(find([crosses.result()], course))
    assert found[0].code == "inside_seam"
    assert not any("lane" in d for f in found for d in f.details)


def test_a_lane_too_close_to_call_is_not_called(run, course):
    ride = run(scatter_m=0.05, sd_m=0.25).moved("Weir", "apex", -2.2)
    assert faults(find([ride.result()], course)) == []
    surely = run(scatter_m=0.05, sd_m=0.1).moved("Weir", "apex", -2.2)
    assert [f.code for f in faults(find([surely.result()], course))] == ["wrong_lane"]


def test_a_line_along_a_seam_sets_no_trap(run, course):
    # The seam 0.2 m inside of the line: who is 0.4 m inside of it is in another lane, and on the line.
    ends = np.array([220.0, 400.0])
    beside = with_corner(course, "Weir", seams=(CourseSeam("first seam", ends, np.full(2, -1.8)),))
    result = run(sd_m=0.05, scatter_m=0.02).moved("Weir", "apex", -0.4).result()
    markers = result.tables["markers"]
    at = (markers["corner"] == "Weir") & (markers["marker"] == "apex")
    markers.loc[at, ["lane", "p_lane"]] = 1.0, 1.0
    assert faults(find([result], beside)) == []


def test_the_lane_that_the_coach_named_counts_at_the_exit_where_his_line_runs_in_it(run, course):
    result = run().result()
    assert lanes_of(course, result) == [2, 2, 2]
    assert lanes_of(with_corner(course, "Birch", target_lane=2), result) == [2, 2, 2]
    # His cones ask for lane 2 there and his word for lane 1: nobody can be held to both.
    assert lanes_of(with_corner(course, "Birch", target_lane=1), result) == [2, 2, None]
    assert lanes_of(with_corner(course, "Birch", seams=()), result) == [None, None, None]
    # The line runs 2 m right of the reference, here inside of a seam that runs 3 m right of it.
    ends = np.array([0.0, 110.0])
    outer = with_corner(course, "Birch", seams=(CourseSeam("first seam", ends, np.full(2, -3.0)),))
    assert lanes_of(outer, result) == [1, 1, 1]


def test_the_line_is_in_the_lane_that_riders_on_it_are_called_in(run, course):
    standard = standards(course)["Barn"]
    assert all(held.line_offset_m < held.seam_offset_m[0] for held in standard.markers)
    assert faults(find([run().result()], course)) == []


@pytest.mark.parametrize(("gap_m", "faulty"), [(-0.6, False), (-0.8, True)])
def test_past_a_cone_on_the_wrong_side_he_is_a_metre_off_a_line_that_passes_close(
    run, course, gap_m, faulty
):
    e = gather([run(laps=4, sd_m=0.02).result()], course)[0]
    laps = e.cones["exit"]
    laps.line_gap_m[:], laps.gap_m.value[:] = 0.3, gap_m
    assert (wrong_side(e, e.marker("exit")) is not None) is faulty


@pytest.mark.parametrize(("beyond_m", "said"), [(1.5, False), (2.7, True)])
def test_past_a_cone_on_the_wrong_side_once_is_said_only_if_it_was_far(run, course, beyond_m, said):
    # The marker line passes the exit cone at 4 m.
    ride = run(sd_m=0.05, scatter_m=0.02).moved("Weir", "exit", 4.0 + beyond_m, laps=[2])
    e = next(e for e in gather([ride.result()], course) if e.corner.name == "Weir")
    assert (wrong_side(e, e.marker("exit")) is not None) is said


def past_exit_cone(run, beyond_m, sd_m=0.25, laps=8, session="1"):
    """Laps past Weir's exit cone, every fourth one 0.8 m further out; the marker line passes that cone at 4 m."""
    ride = run(session, laps, sd_m, scatter_m=0.02)
    for lap in range(1, laps + 1):
        by_m = -0.2 if lap % 4 else 0.6
        ride.moved("Weir", "exit", 4.0 + beyond_m + by_m, laps=[lap])
    return ride


def test_who_runs_out_past_the_exit_cone_is_told_though_no_lap_is_sure(run, course):
    ride = past_exit_cone(run, 0.45)
    (fault,) = faults(find([ride.result()], course))
    assert (fault.code, fault.marker, fault.habit) == ("runs_wide", "exit", True)
    assert fault.text == (
        "The usual line runs out past the exit cone, by less than 1.0 m: nearer to the edge than was set."
    )
    assert (fault.laps_seen, fault.laps_counted) == (8, 8)


def test_running_out_past_the_exit_cone_leads_before_cones_missed_and_after_its_cause(run, course):
    early = {"turn_in_early_m": 7.0, "turn_in_early_lo_m": 5.5, "turn_in_early_hi_m": 8.5}
    ride = past_exit_cone(run, 0.45).moved("Weir", "apex", 1.5)
    assert [f.code for f in faults(find([ride.result()], course))] == ["runs_wide", "apex_missed"]
    (lead, *_) = faults(find([ride.corner("Weir", **early).result()], course))
    assert lead.code == "turn_in_early"
    assert any("running out past the exit cone" in detail for detail in lead.details)


@pytest.mark.parametrize(
    ("beyond_m", "sd_m", "laps"),
    [(0.45, 0.6, 8), (0.1, 0.25, 8), (-0.5, 0.05, 8), (1.0, 0.05, 2)],
    ids=["offset not known", "too little", "inside the cone", "two laps"],
)
def test_a_usual_line_that_is_not_surely_past_the_cone_is_no_fault(
    run, course, beyond_m, sd_m, laps
):
    assert faults(find([past_exit_cone(run, beyond_m, sd_m, laps).result()], course)) == []


def test_the_usual_line_is_off_a_marker_line_that_passes_close_to_the_cone(run, course):
    ride = past_exit_cone(run, 0.45).moved("Weir", "turn-in", 4.45)
    e = next(e for e in gather([ride.result()], course) if e.corner.name == "Weir")
    exit_cone = e.marker("exit")
    assert runs_wide(e, exit_cone) is not None
    close = [replace(m, line_gap_m=0.2) if m.marker is exit_cone else m for m in e.standard.markers]
    close_line = replace(e, standard=replace(e.standard, markers=tuple(close)))
    assert runs_wide(close_line, exit_cone) is None
    # Who passes a turn-in cone on its outer side does not run out there.
    assert e.usual_in_last_run(GAP, "turn-in").mean < -0.4
    assert runs_wide(e, e.marker("turn-in")) is None
    # Past a cone at the inner edge nobody runs out.
    assert runs_wide(e, replace(exit_cone, side=e.corner.turn)) is None


def test_a_lapse_past_the_cone_is_told_beside_the_usual_line(run, course):
    ride = past_exit_cone(run, 0.45).moved("Weir", "exit", 4.0 + 2.8, laps=[5])
    found = faults(find([ride.result()], course))
    assert {(f.code, f.habit) for f in found} == {("runs_wide", True), ("cone_wrong_side", False)}


def test_where_laps_show_the_wrong_side_one_by_one_that_is_said_instead(run, course):
    (fault,) = faults(find([past_exit_cone(run, 1.5).result()], course))
    assert fault.code == "cone_wrong_side"


def test_the_wrong_side_is_not_mended_where_the_usual_line_still_runs_past_the_cone(run, course):
    before = past_exit_cone(run, 1.8).result()
    found = find([before, past_exit_cone(run, 0.45, session="2").result()], course)
    assert [f.code for f in found if f.corner == "Weir"] == ["runs_wide"]
    mended = find([before, run(session="2", laps=8).result()], course)
    assert "runs_wide" not in [f.code for f in mended]
    assert any(f.mended for f in mended if f.corner == "Weir")
