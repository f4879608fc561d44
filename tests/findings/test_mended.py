"""What the last run shows, what was mended, and what an earlier run had."""

import re

import pytest

from lapkit.compare.changes import RunChanges
from lapkit.findings import Kind, find
from lapkit.findings.judgement import OF_ALL_RUNS
from lapkit.findings.sentences import Detail
from lapkit.path.summary import CALL_AT


def test_what_was_mended_is_praised_and_told_last(run, course, tight):
    first, last = run("1").corner("Barn", **tight), run("2", seed=1)
    found = find([first.result(), last.result()], course)
    assert [(f.code, f.kind) for f in found] == [
        ("exit_tightened", Kind.OTHER),
        ("mended", Kind.WELL),
    ]
    assert found[0].text == (
        "No longer a habit: an exit that tightens, in all 6 laps of run 1 and in none of 6 laps of run 2."
    )
    assert not any(d.startswith(("The exit takes", "How sure: ")) for d in found[0].details)
    assert any(d.startswith("The exit took 6° more lean") for d in found[0].details)
    # The picture shows how it is ridden now.
    assert (found[0].session, found[0].lap) == ("2", 6)
    assert found[1].text == (
        "Mended: an exit that tightens, in all 6 laps of run 1 and in none of 6 laps of run 2."
    )


def test_what_is_mended_is_held_against_the_run_that_showed_it(run, course, tight):
    # From run 2 to run 3 nothing changed: the run before the last would tell of no change.
    rides = [run("1").corner("Barn", **tight), run("2", seed=1), run("3", seed=2)]
    praised = find([ride.result() for ride in rides], course)[-1]
    assert praised.text.startswith("Mended: an exit that tightens, in all 6 laps of run 1")


def test_of_what_was_mended_at_a_corner_the_cause_is_praised_and_not_what_came_with_it(
    run, course, tight
):
    # The lean that a tight exit takes is gone; in one lap the exit was tight once more.
    first = run("1").corner("Birch", **tight, lean_max_deg=52.0, lean_max_lo_deg=51.2)
    last = run("2", seed=1).corner("Birch", [2], **tight)
    found = find([first.result(), last.result()], course)
    (praised,) = [f for f in found if f.code == "mended"]
    assert praised.text.startswith("Mended: an exit that tightens, in all 6 laps of run 1")


@pytest.mark.parametrize(("still", "first_kind"), [(1, Kind.OTHER), (2, Kind.WORK)])
def test_a_lapse_in_the_last_run_does_not_bring_a_mended_habit_back(
    run, course, still, first_kind, tight
):
    first = run("1").corner("Barn", **tight)
    last = run("2", seed=1).corner("Barn", range(1, still + 1), **tight)
    found = find([first.result(), last.result()], course)
    assert (found[0].code, found[0].kind) == ("exit_tightened", first_kind)
    if still == 1:
        assert "in all 6 laps of run 1 and in one of 6 laps of run 2" in found[0].text
        assert (found[0].session, found[0].lap) == ("2", 6)


def test_what_is_wholly_gone_is_praised_before_what_was_seen_once_more(run, course, tight):
    first = run("1").corner("Barn", **tight).corner("Weir", **tight)
    last = run("2", seed=1).corner("Barn", [1], **tight)
    praised = [f for f in find([first.result(), last.result()], course) if f.code == "mended"]
    assert [f.corner for f in praised] == ["Weir"]


def test_laps_that_lie_about_a_tolerance_are_counted_and_called_neither_mended_nor_left_off(
    run, course
):
    # Five laps beyond it, then two: the line itself moved by less than is sure.
    first = run("1", laps=7).moved("Weir", "apex", 0.4).moved("Weir", "apex", 1.1, range(1, 6))
    last = run("2", laps=7, seed=1).moved("Weir", "apex", 0.4).moved("Weir", "apex", 1.1, [1, 2])
    found = find([first.result(), last.result()], course)
    assert found[0].text == (
        "Wide of the apex cone: in 5 of 7 laps of run 1 and in 2 of 7 laps of run 2."
    )
    assert found[0].left_off
    assert found[-1].kind is Kind.WELL
    assert not any(f.code == "mended" for f in found)


@pytest.mark.parametrize(
    ("wide_m", "laps", "told"), [(1.1, 5, False), (1.1, 7, False), (1.6, 7, True), (2.8, 5, True)]
)
def test_a_cone_missed_in_the_last_run_alone_is_told_where_the_line_surely_moved(
    run, course, faults, wide_m, laps, told
):
    # The two runs' position offsets may differ by as much as makes most laps look wide.
    first = run("1", laps=7).moved("Weir", "apex", 0.4)
    last = run("2", laps=7, seed=1).moved("Weir", "apex", 0.4)
    last.moved("Weir", "apex", wide_m, range(1, laps + 1))
    found = faults(find([first.result(), last.result()], course))
    assert [f.code for f in found] == ["apex_missed"] * told
    # One run alone has nothing to be held against.
    assert [f.code for f in faults(find([last.result()], course))] == ["apex_missed"]


@pytest.mark.parametrize(("run_2_m", "praised"), [(0.0, True), (4.0, False)])
def test_a_cone_is_mended_where_the_line_surely_came_nearer(run, course, run_2_m, praised):
    # Outside of the seam again and on the line, or as far beyond it.
    first = run("1").moved("Weir", "exit", -2.0)
    last = run("2", seed=1).moved("Weir", "exit", run_2_m)
    found = find([first.result(), last.result()], course)
    assert any(f.code == "mended" for f in found) is praised


def test_a_lapse_of_several_laps_says_in_which_run_they_were(run, course, faults, tight):
    for seen, told in ((2, True), (1, False)):
        far = {**tight, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
        early = run("1", laps=8).corner("Barn", range(1, seen + 1), **far)
        (lapse,) = faults(find([early.result(), run("2", seed=1).result()], course))
        assert (Detail.LAPSES if told else Detail.LAPSE) in lapse.details
        said = "Run by run: in 2 of 8 laps of run 1 and in none of 6 laps of run 2."
        assert (said in lapse.details) is told


def test_a_new_habit_is_a_habit_though_the_day_began_well(run, course, tight):
    found = find([run("1", laps=8).result(), run("2").corner("Barn", **tight).result()], course)
    assert (found[0].kind, found[0].laps_seen, found[0].laps_counted) == (Kind.WORK, 6, 14)
    assert " in all 6 laps of run 2 (in none of 8 laps of run 1): " in found[0].text
    assert not any("of run 1" in detail for detail in found[0].details)
    assert found[0].session == "2"


def test_a_habit_is_shown_by_the_last_run_that_has_it(run, course):
    first = run("1").moved("Weir", "apex", 3.0)
    last = run("2", seed=1).moved("Weir", "apex", 1.4, range(1, 5))
    found = find([first.result(), last.result()], course)
    assert (found[0].code, found[0].session) == ("apex_missed", "2")


def test_an_exit_that_opened_is_praised(run, course):
    narrow = {"exit_radius_min_m": 44.0, "exit_radius_ratio": 0.88}
    first, last = run("1"), run("2")
    for lap in range(1, 7):
        first.corner("Barn", [lap], **{**narrow, "exit_radius_min_m": 43.0 + 0.3 * lap})
        last.corner("Barn", [lap], exit_radius_min_m=51.0 + 0.3 * lap)
    found = find([first.result(), last.result()], course)
    assert found[-1].code == "opened"
    assert found[-1].text == "The exit has opened from 44 m to 52 m radius since run 1."


def test_an_exit_that_closed_is_not_praised_as_opened(run, course):
    first, last = run("1"), run("2")
    for lap in range(1, 7):
        first.corner("Barn", [lap], exit_radius_min_m=43.0 + 0.3 * lap, exit_radius_ratio=0.88)
        last.corner("Barn", [lap], exit_radius_min_m=33.0 + 0.3 * lap, exit_radius_ratio=0.68)
    between = RunChanges([first.result(), last.result()])
    assert any(change.found and change.change < 0.0 for change in between.every())
    assert find(between.runs, course, between=between)[-1].code != "opened"


def test_a_habit_of_the_last_run_is_held_against_the_run_that_showed_it_least(run, course, faults):
    # Half of the second run's laps passed the cone as far out; the first run's did not.
    first = run("1", scatter_m=0.05)
    second = run("2", scatter_m=0.05, seed=1).moved("Weir", "apex", 0.3, [1, 2, 3])
    second.moved("Weir", "apex", 2.0, [4, 5, 6])
    last = run("3", scatter_m=0.05, seed=2).moved("Weir", "apex", 1.6)
    found = faults(find([ride.result() for ride in (first, second, last)], course))
    assert [(f.code, f.corner) for f in found] == [("apex_missed", "Weir")]


def three_runs(run, counts, fault):
    """Three runs of five laps; the fault is in so many laps of each."""
    rides = [run(str(i), laps=5, scatter_m=0.05, seed=i) for i in (1, 2, 3)]
    for ride, count in zip(rides, counts, strict=True):
        if count:
            fault(ride, range(1, count + 1))
    return rides


def test_what_the_last_run_does_not_surely_show_comes_after_what_it_shows(
    run, course, faults, tight
):
    # At one corner the earlier habit would be the cause, and did more.
    def stale(ride, laps):
        ride.corner("Birch", laps, **{**tight, "exit_lean_max_deg": 48.0})

    rides = three_runs(run, (5, 5, 2), stale)
    for ride in rides:
        ride.moved("Birch", "exit", -1.6)
    found = faults(find([ride.result() for ride in rides], course))
    assert [f.code for f in found] == ["exit_cone_missed", "exit_tightened"]
    # At two corners as well.
    rides = three_runs(run, (5, 5, 2), stale)
    for ride in rides:
        ride.moved("Weir", "exit", -1.6)
    found = faults(find([ride.result() for ride in rides], course))
    assert [(f.corner, f.kind) for f in found] == [("Weir", Kind.WORK), ("Birch", Kind.MIND)]


def test_a_habit_is_told_as_the_last_run_shows_it_and_then_as_it_was(run, course, faults):
    def wide(ride, laps):
        ride.moved("Weir", "apex", 3.0 if ride.session == "1" else 1.5, laps)

    rides = [ride.result() for ride in three_runs(run, (5, 2, 3), wide)]
    (fault,) = faults(find(rides, course))
    assert fault.text == (
        "1.5 m wider at the apex cone than the marker line, give or take 0.5, in 3 of 5 laps of run 3 "
        "(10 of 15 over all runs): road is left unused on the inside."
    )
    assert (fault.laps_seen, fault.laps_counted) == (10, 15)
    assert (
        "Run by run: in all 5 laps of run 1, in 2 of 5 laps of run 2 and in 3 of 5 laps of run 3."
        in fault.details
    )
    (alone,) = faults(find(rides[2:], course))
    assert fault.p == pytest.approx(alone.p)
    assert fault.harm == pytest.approx(alone.harm)


def test_a_habit_that_half_of_the_last_run_shows_is_told_by_all_runs(run, course, faults):
    def wide(ride, laps):
        ride.moved("Weir", "apex", 1.5, laps)

    rides = three_runs(run, (5, 4, 2), wide)
    (fault,) = faults(find([ride.result() for ride in rides], course))
    assert fault.text == (
        "1.5 m wider at the apex cone than the marker line, give or take 0.5, in 11 of 15 laps: road is "
        "left unused on the inside."
    )
    assert (fault.laps_seen, fault.laps_counted, fault.habit) == (11, 15, True)
    assert fault.p > CALL_AT


@pytest.mark.parametrize("seed", range(6))
def test_no_habit_is_in_doubt(run, course, seed):
    # Cones passed about as far off as is worth a word: some of it is a habit, some in half of the laps.
    rides = [
        run(name, laps=7, scatter_m=0.6, sd_m=0.3, seed=10 * seed + i)
        for i, name in enumerate("12")
    ]
    for ride in rides:
        for lap in range(1, 8):
            for corner in ("Birch", "Quarry", "Weir", "Barn"):
                ride.moved(corner, "apex", 1.0, [lap]).moved(corner, "exit", -1.0, [lap])
    habits = [f for f in find([ride.result() for ride in rides], course) if f.harm and f.habit]
    assert habits
    for habit in habits:
        assert habit.p >= CALL_AT
        (seen, of), *_ = re.findall(r"in (\d+) of (\d+) laps", habit.text) or [(1, 1)]
        assert int(seen) > OF_ALL_RUNS * int(of)


def test_a_last_run_of_a_lap_does_not_tell_what_he_does_now(run, course, tight):
    rides = [run("1").corner("Barn", **tight), run("2", seed=1), run("3", laps=1, seed=2)]
    found = find([ride.result() for ride in rides], course)
    assert found[0].kind is Kind.OTHER
    assert found[0].text == (
        "No longer a habit: an exit that tightens, in all 6 laps of run 1, in none of 6 laps of run 2 and "
        "not in the one lap of run 3."
    )


@pytest.mark.parametrize(("again", "kind"), [(False, Kind.OTHER), (True, Kind.MIND)])
def test_a_lapse_that_the_last_run_is_without_is_not_to_be_kept_in_mind(
    run, course, faults, tight, again, kind
):
    # Three laps of five are not enough for a habit that could be mended.
    runs = [run(laps=5), run("2", laps=5, seed=1)]
    runs[0].moved("Weir", "exit", -4.0, (1, 3, 4))
    if again:
        runs[1].moved("Weir", "exit", -4.0, (2,))
    (lapse,) = faults(find([r.result() for r in runs], course))
    assert (lapse.code, lapse.habit, lapse.kind) == ("exit_cone_missed", False, kind)
    # What was a habit and is mended leads at the same corner.
    runs[0].corner("Weir", **tight)
    told = faults(find([r.result() for r in runs], course))
    codes = ["exit_cone_missed", "exit_tightened"]
    assert [f.code for f in told] == (codes if again else codes[::-1])
