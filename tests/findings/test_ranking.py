"""What a rider is told first, what is kept in mind and what counts."""

import pytest

from lapkit.findings import Code, Kind, find, findings_table
from lapkit.findings.sentences import Detail


def test_a_rider_on_the_line_is_told_what_he_does_well_and_nothing_else(run, course):
    found = find([run().result()], course)
    assert [f.kind for f in found] == [Kind.WELL]
    assert found[0].code == "on_line"
    assert "On the marker line" in found[0].text


@pytest.mark.parametrize("seed", range(8))
def test_ordinary_scatter_is_no_finding(run, course, seed, faults):
    # Half a metre from lap to lap, offsets of a quarter: two runs of six laps, four corners.
    runs = [run(str(i), scatter_m=0.5, seed=10 * seed + i).result() for i in (1, 2)]
    assert faults(find(runs, course)) == []


def test_a_habit_holds_in_more_than_half_of_the_laps(run, course, faults, tight):
    most = find([run(laps=6).corner("Birch", [1, 2, 4, 6], **tight).result()], course)
    assert [(f.code, f.laps_seen, f.laps_counted, f.habit) for f in faults(most)] == [
        ("exit_tightened", 4, 6, True)
    ]
    assert not faults(find([run(laps=6).corner("Birch", [1, 2, 4], **tight).result()], course))


def test_a_lapse_has_to_be_far_off_and_is_nothing_to_work_on(run, course, faults, tight):
    far = {**tight, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    (fault,) = faults(find([run().corner("Birch", [5], **far).result()], course))
    assert (fault.kind, fault.habit, fault.lap) == (Kind.MIND, False, 5)
    assert "in one of 6 laps" in fault.text
    assert Detail.LAPSE in fault.details


def test_of_what_every_one_of_too_few_laps_shows_it_is_not_said_that_it_is_a_lapse(
    run, course, faults, tight
):
    far = {**tight, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    (fault,) = faults(find([run(laps=2).corner("Birch", [1, 2], **far).result()], course))
    assert (fault.kind, fault.habit) == (Kind.MIND, False)
    assert "in both laps" in fault.text
    assert fault.details[-1] == Detail.FEW_LAPS
    assert not {Detail.LAPSE, Detail.LAPSES} & set(fault.details)


def test_poor_laps_are_not_counted(run, course, faults, tight):
    ride = (
        run(laps=6).corner("Birch", [1, 2, 3, 4], **tight).corner("Birch", [1, 2], quality="poor")
    )
    assert not faults(find([ride.result()], course))
    ride = run(laps=6).corner("Birch", **tight).corner("Birch", [1, 2], quality="poor")
    assert faults(find([ride.result()], course))[0].laps_counted == 4


def test_laps_that_were_not_timed_are_not_counted(run, course, faults, tight):
    result = run(laps=6).corner("Birch", [1, 2, 3, 4], **tight).result()
    result.tables["laps"].loc[:1, "kind"] = ["out", "broken"]
    assert faults(find([result], course)) == []


def test_without_a_judged_lap_nothing_is_said(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.corner(name, quality="poor")
    assert find([ride.result()], course) == ()


def test_faults_come_before_what_is_none_and_may_be_named_along_with_others():
    faults = [code for code in Code if code.means.short]
    assert faults == list(Code)[: len(faults)]
    assert [code.cause for code in faults] == list(range(len(faults)))
    assert all(code.means.short_at == "" for code in set(Code) - set(faults))
    assert [code for code in Code if code.means.text_all] == [c for c in Code if c.means.drift]


def test_the_lap_shown_is_a_middling_one_of_a_habit(run, course, faults, tight):
    ride = run(laps=5)
    for lap, ratio in zip(range(1, 6), (0.84, 0.6, 0.7, 0.82, 0.8), strict=True):
        ride.corner("Birch", [lap], **{**tight, "exit_radius_ratio": ratio})
    assert faults(find([ride.result()], course))[0].lap == 5


def test_the_table_has_the_published_columns(run, course, tight):
    table = findings_table(find([run().corner("Birch", **tight).result()], course))
    assert list(table.columns[:9]) == [
        "rider", "corner", "code", "laps_seen", "laps_counted", "p", "size", "text", "cue",
    ]  # fmt: skip
    assert table["kind"].tolist() == ["work", "well"]
    assert findings_table([]).dtypes.to_dict() == table.dtypes.to_dict()


def test_who_runs_off_the_road_is_told_that_and_nothing_of_his_line_on_that_lap(
    run, course, faults
):
    ridden = run().moved("Weir", "exit", 9.0, laps=[3])
    ridden.corner("Weir", laps=[3], turn_in_early_m=30.0, exit_radius_ratio=0.3, p_tightened=1.0)
    assert len(faults(find([ridden.result()], course))) > 1
    ridden.corner("Weir", laps=[3], left_road=1.0, off_road_m=8.2)
    (told,) = faults(find([ridden.result()], course))
    assert (told.code, told.corner, told.laps_seen, told.laps_counted) == (
        "left_road",
        "Weir",
        1,
        6,
    )
    assert told.text.startswith("Left the road in one of 6 laps (lap 3 of run 1), by 8.2 m.")
