"""Which sentences are said of a judgement, and in which order: lapses, runs, and tighter exits that are no fault."""

import re
from dataclasses import replace

import numpy as np
import pytest

from lapkit.findings import Kind, find
from lapkit.findings.sentences import Detail
from lapkit.units import Units


def test_an_exit_far_off_once_is_not_told_as_if_it_had_tightened_in_no_other_lap(
    run, course, faults, tight
):
    """Page, event and season count the same laps; what is worth saying once is the worst of them."""
    far = {**tight, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    ride = run().corner("Birch", [2, 5], **tight).corner("Birch", [3], **far)
    (fault,) = faults(find([ride.result()], course))
    assert (fault.kind, fault.habit, fault.lap, fault.laps_seen) == (Kind.MIND, False, 3, 1)
    assert fault.text.startswith(
        "The exit tightens in 3 of 6 laps, in one of them to 25 m radius, give or take 1, where the marker line"
    )
    assert Detail.LAPSES in fault.details


def test_an_exit_that_is_tight_and_yet_opens_from_the_apex_is_not_said_to_tighten(
    run, course, faults, tight
):
    opens = {**tight, "exit_tightens_after_apex_m": np.nan}
    mostly_opens = run().corner("Birch", [1, 2], **tight).corner("Birch", [3, 4, 5, 6], **opens)
    (fault,) = faults(find([mostly_opens.result()], course))
    assert fault.code == "exit_tightened"
    assert fault.text.startswith(
        "The exit is tighter than the marker line’s in all 6 laps: 38 m radius, give or take 1, where"
    )
    mostly_tightens = run().corner("Birch", [1, 2], **opens).corner("Birch", [3, 4, 5, 6], **tight)
    (fault,) = faults(find([mostly_tightens.result()], course))
    assert fault.text.startswith("The exit tightens in all 6 laps: 38 m radius")


def test_what_to_do_where_the_coach_left_no_cue_is_asked_of_him_and_only_of_what_comes_first(
    run, course, faults, early, tight
):
    silent = replace(course, corners=tuple(replace(c, cues=()) for c in course.corners))
    ride = run().corner("Birch", **early).corner("Weir", **tight).result()
    first, *others = faults(find([ride], silent))
    assert first.kind is Kind.WORK and first.cue == ""
    assert first.details[-1] == Detail.NO_CUE
    assert others and all(Detail.NO_CUE not in other.details for other in others)
    assert all(Detail.NO_CUE not in fault.details for fault in faults(find([ride], course)))


def test_feet_are_read_where_feet_were_asked_for(run, course, faults, tight):
    found = faults(find([run().corner("Birch", **tight).result()], course, units=Units.US))
    assert "123 ft radius, give or take 4, where the marker line keeps 164 ft" in found[0].text
    assert " m " not in found[0].text


def test_no_sentence_carries_a_sign_or_a_bare_probability(run, course, tight, early):
    ride = run().inside_seam("Birch").moved("Birch", "exit", -2.5).corner("Birch", **tight)
    ride = ride.corner("Quarry", **{**early, **tight}).moved("Weir", "apex", 1.6)
    ride = ride.moved("Barn", "exit", 6.0)
    for units in Units:
        for found in find([ride.result()], course, units=units):
            for sentence in (found.text, *found.details):
                assert not re.search(r"[-−+]\s*\d|\d\s*%|0\.\d+ \w*probab|\bp =|nan|{|}", sentence)
                assert sentence[0].isupper() or sentence[0].isdigit()
                assert sentence.endswith(".")
                assert len(sentence) < 170


def test_an_exit_that_tightened_in_one_lap_is_told_at_its_corner_alone(run, course, faults, tight):
    ride = run("1").corner("Birch", [5], **tight)
    found = find(
        [ride.result(), run("2", seed=1).corner("Birch", [2, 3], **tight).result()], course
    )
    assert not faults(found)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert (fact.corner, fact.code, fact.habit, fact.harm) == (
        "Birch",
        "exit_tightened",
        False,
        0.0,
    )
    assert fact.text.startswith(
        "The exit is tighter than the marker line’s in 3 of 12 laps: 38 m radius, give or take 1, "
        "against 50 m, tightest "
    )
    told = "lap 5 of run 1 and laps 2 and 3 of run 2"
    assert fact.details == (
        f"Tighter in {told}.",
        "How sure: almost certain.",
        "Tight enough to mind in all 3 laps: too few for a habit.",
    )
    # What is not sure, or takes no more lean, is not told.
    for less in ({"p_tightened": 0.85}, {"exit_lean_max_deg": 36.0}):
        found = find([run().corner("Birch", [5], **{**tight, **less}).result()], course)
        assert [f.kind for f in found] == [Kind.WELL]


@pytest.mark.parametrize(("laps", "in_all"), [(1, "in the one lap"), (2, "in both laps")])
def test_of_exits_tighter_in_each_of_too_few_laps_none_is_named(run, course, tight, laps, in_all):
    ride = run(laps=laps).corner("Birch", range(1, laps + 1), **tight)
    (fact,) = [f for f in find([ride.result()], course) if f.kind is Kind.FACT]
    assert f"marker line’s {in_all}: 38 m radius" in fact.text
    assert not [detail for detail in fact.details if detail.startswith("Tighter in")]


def test_of_exits_tighter_in_some_laps_those_are_named_that_count_as_tightened(run, course, tight):
    """The season counts one lap here, and so does what is said beside the three."""
    ride = run().corner("Birch", [1, 2], **{**tight, "exit_lean_max_deg": 36.0})
    found = find([ride.corner("Birch", [5], **tight).result()], course)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert fact.text.startswith("The exit is tighter than the marker line’s in 3 of ")
    *tighter, called = fact.details
    assert tighter == [
        "Tighter in laps 1, 2 and 5 of run 1.",
        "How sure: almost certain.",
    ]
    assert called == "Tight enough to mind in lap 5 of run 1: one is too few for a habit."


def test_an_exit_called_for_its_radius_alone_is_not_said_to_take_more_lean(run, course, tight):
    slow = {**tight, "exit_lean_max_deg": 36.0}
    ride = run(laps=7).corner("Birch", range(1, 6), **slow)
    ride.corner("Birch", [2], exit_radius_ratio=0.62, exit_radius_min_m=31.0)
    (fact,) = [f for f in find([ride.result()], course) if f.kind is Kind.FACT]
    (called,) = [detail for detail in fact.details if "lap 2 of run 1" in detail]
    assert "lean" not in called


def test_an_exit_mostly_tighter_without_more_lean_is_counted_and_no_fault(
    run, course, faults, tight
):
    # Slow there, it asks for no more lean than the marker line in all but one of the laps.
    slow = {**tight, "exit_lean_max_deg": 36.0}
    ride = run(laps=7).corner("Birch", range(1, 6), **slow).corner("Birch", [2], **tight)
    found = find([ride.result()], course)
    assert not faults(found)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert (fact.code, fact.laps_seen, fact.laps_counted, fact.harm) == (
        "exit_tightened",
        5,
        7,
        0.0,
    )
    assert fact.text.startswith(
        "The exit is tighter than the marker line’s in 5 of 7 laps: 38 m radius, give or take 1, against "
        "50 m, tightest "
    )
    assert fact.details == (
        "It mostly takes no more lean than the marker line would at the same speed: no fault by itself.",
        "How sure: almost certain.",
        "Tight enough to mind in lap 2 of run 1: one is too few for a habit.",
    )


def test_how_often_an_exit_was_tighter_is_not_said_as_if_of_the_laps_called(run, course, tight):
    slow = {**tight, "exit_lean_max_deg": 36.0}
    runs = [
        run(name, seed=seed).corner("Birch", range(1, 6), **slow) for seed, name in enumerate("12")
    ]
    runs[1].corner("Birch", [2], **tight)
    (fact,) = [f for f in find([r.result() for r in runs], course) if f.kind is Kind.FACT]
    assert " in 5 of 6 laps of run 2 (in 5 of 6 laps of run 1): " in fact.text
    assert fact.details == (
        "It mostly takes no more lean than the marker line would at the same speed: no fault by itself.",
        "How sure: almost certain.",
        "Tight enough to mind in lap 2 of run 2: one is too few for a habit.",
    )


def test_an_exit_that_rides_along_the_limit_is_told_as_little_tighter(run, course, faults, tight):
    little = {**tight, "exit_radius_ratio": 0.88, "exit_radius_min_m": 44.0}
    found = find([run().corner("Birch", **little).result()], course)
    assert not faults(found)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert fact.details == (
        "It is only a little tighter: no fault by itself.",
        "How sure: almost certain.",
    )


def test_once_a_tightened_exit_is_a_habit_every_lap_that_is_surely_tighter_counts(
    run, course, faults, tight
):
    ride = run(laps=7).corner("Birch", range(1, 7), **tight)
    ride.corner("Birch", [5, 6], exit_lean_max_deg=36.0)
    (fault,) = faults(find([ride.result()], course))
    assert (fault.laps_seen, fault.laps_counted, fault.kind) == (6, 7, Kind.WORK)
    # Nor is it left off where the last run is as tight, with less lean.
    slow = run("2", seed=1).corner("Birch", **{**tight, "exit_lean_max_deg": 36.0})
    found = find([ride.result(), slow.result()], course)
    assert not any(f.code == "mended" or "No longer" in f.text for f in found)


def test_a_lapse_at_an_exit_is_told_once(run, course, tight):
    far = {**tight, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    for laps, fault in (([5], far), (range(1, 6), tight)):
        found = find([run().corner("Birch", laps, **fault).result()], course)
        assert [f.code for f in found].count("exit_tightened") == 1
        assert not [f for f in found if f.kind is Kind.FACT]


def test_many_tighter_exits_are_told_run_by_run_and_not_lap_by_lap(run, course, tight):
    """Two lists of lap numbers in one breath are read by nobody; the table has the laps."""
    runs = [
        run(name, seed=seed).corner("Birch", [1, 2, 4], **{**tight, "exit_lean_max_deg": 36.0})
        for seed, name in enumerate("123")
    ]
    runs[0].corner("Birch", [1], **tight)
    (fact,) = [f for f in find([r.result() for r in runs], course) if f.kind is Kind.FACT]
    assert " in 9 of 18 laps: " in fact.text
    assert fact.details[0] == Detail.TIGHTER_RUNS.format(
        runs="in 3 of 6 laps of run 1, in 3 of 6 laps of run 2 and in 3 of 6 laps of run 3"
    )
    assert not [detail for detail in fact.details if "laps 1, 2 and 4" in detail]
    assert fact.details[-1] == "Tight enough to mind in lap 1 of run 1: one is too few for a habit."


def test_a_run_that_could_not_be_judged_at_a_corner_is_none_to_be_counted_there(
    run, course, faults, tight
):
    """With laps of one run alone, or of the two that are named already, counts by run would say the same again."""
    ridden = [
        run(name, seed=seed).corner("Birch", [1, 2, 3, 4, 5], **tight)
        for seed, name in enumerate("123")
    ]
    ridden[1].corner("Birch", quality="poor")
    for runs, often in (
        (ridden[:2], "in 5 of 6 laps"),
        (ridden, "in 5 of 6 laps of run 3 (in 5 of 6 laps of run 1)"),
    ):
        (fault,) = faults(find([each.result() for each in runs], course))
        assert f"The exit tightens {often}: " in fault.text
        assert not [detail for detail in fault.details if "Run by run" in detail]
