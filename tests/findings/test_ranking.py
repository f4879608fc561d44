import re

import pytest

from lapkit.findings import Code, Kind, find, findings_table
from lapkit.findings.sentences import Detail
from lapkit.units import Units


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
def test_cones(run, course, marker, wide_m, code, faults):
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
def test_turn_in(run, course, early_m, code, cue, faults):
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
    assert told.text.startswith("Left the road in one of 6 laps, by 8.2 m.")
