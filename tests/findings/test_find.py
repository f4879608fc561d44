import re
from dataclasses import replace

import pytest

from lapkit.compare.results import RunResult
from lapkit.compare.what_if import WhatIf
from lapkit.errors import OptionError
from lapkit.findings import Kind, find, findings_table
from lapkit.findings.sentences import DETAILS, SHORT, TEXTS
from lapkit.findings.stories import CAUSES
from lapkit.findings.telling import cue_for
from lapkit.path.summary import Summary

TIGHT = {"exit_radius_ratio": 0.75, "exit_radius_min_m": 37.5, "p_tightened": 1.0,
         "exit_lean_max_deg": 42.0}  # fmt: skip
EARLY = {"turn_in_early_m": 7.0, "turn_in_early_lo_m": 5.5, "turn_in_early_hi_m": 8.5}


def faults(found):
    return [f for f in found if f.kind not in (Kind.WELL, Kind.FACT)]


def test_a_rider_on_the_line_is_told_what_he_does_well_and_nothing_else(run, course):
    found = find([run().result()], course)
    assert [f.kind for f in found] == [Kind.WELL]
    assert found[0].code == "on_line"
    assert "On the marker line" in found[0].text


def test_what_the_usual_lap_does_well_is_shown_by_such_a_lap(run, course):
    # Of six laps at Weir the last is the furthest off.
    ride = run(scatter_m=0.0)
    for lap, wide_m in enumerate((0.1, 0.4, 0.2, 0.3, 0.15, 0.8), start=1):
        ride.moved("Weir", "apex", wide_m, [lap])
    for name in ("Birch", "Quarry", "Barn"):
        ride.moved(name, "apex", 0.45)
    (well,) = find([ride.result()], course)
    assert (well.corner, well.code) == ("Weir", "on_line")
    assert well.lap == 3


@pytest.mark.parametrize("seed", range(8))
def test_ordinary_scatter_is_no_finding(run, course, seed):
    # Half a metre from lap to lap, offsets of a quarter: two runs of six laps, four corners.
    runs = [run(str(i), scatter_m=0.5, seed=10 * seed + i).result() for i in (1, 2)]
    assert faults(find(runs, course)) == []


def test_a_habit_holds_in_more_than_half_of_the_laps(run, course):
    most = find([run(laps=6).corner("Birch", [1, 2, 4, 6], **TIGHT).result()], course)
    assert [(f.code, f.laps_seen, f.laps_counted, f.habit) for f in faults(most)] == [
        ("exit_tightened", 4, 6, True)
    ]
    assert not faults(find([run(laps=6).corner("Birch", [1, 2, 4], **TIGHT).result()], course))


def test_a_lapse_has_to_be_far_off_and_is_nothing_to_work_on(run, course):
    far = {**TIGHT, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    (fault,) = faults(find([run().corner("Birch", [5], **far).result()], course))
    assert (fault.kind, fault.habit, fault.lap) == (Kind.MIND, False, 5)
    assert "in one of 6 laps" in fault.text
    assert DETAILS["lapse"] in fault.details


def test_what_can_hurt_comes_first(run, course):
    # The same exit tightened, but off camber; the first corner's only costs road.
    ride = run().moved("Birch", "exit", -1.5).corner("Weir", **TIGHT).corner("Quarry", **TIGHT)
    found = faults(find([ride.result()], course))
    assert [(f.corner, f.code) for f in found[:2]] == [
        ("Quarry", "exit_tightened"),
        ("Birch", "exit_cone_missed"),
    ]
    assert [f.kind for f in found] == [Kind.WORK, Kind.MIND, Kind.OTHER]
    assert "The same at Weir." in found[0].details
    assert any("falls away by 3°" in d for d in found[0].details)


def test_a_first_page_has_at_most_three_faults_and_one_thing_done_well(run, course):
    ride = run().corner("Birch", **TIGHT).corner("Quarry", **EARLY).moved("Weir", "apex", 1.6)
    ride = ride.moved("Barn", "exit", -1.6).moved("Weir", "turn-in", -2.0)
    found = find([ride.result()], course)
    kinds = [f.kind for f in found]
    assert kinds.count(Kind.WORK) == 1
    assert kinds.count(Kind.MIND) == 2
    assert kinds.count(Kind.WELL) == 1
    assert kinds[:3] == [Kind.WORK, Kind.MIND, Kind.MIND]
    assert kinds[-1] is Kind.WELL


def test_the_cause_leads_and_what_came_with_it_follows(run, course):
    ride = run().inside_seam("Birch").moved("Birch", "exit", -2.5).corner("Birch", **TIGHT)
    found = faults(find([ride.result()], course))
    assert [f.code for f in found] == ["inside_seam", "exit_tightened", "exit_cone_missed"]
    assert [f.kind for f in found] == [Kind.WORK, Kind.OTHER, Kind.OTHER]
    assert found[0].marker == "first seam"
    assert "Inside the first seam at the exit in all 6 laps" in found[0].text
    assert any(SHORT["exit_tightened"] in d for d in found[0].details)
    assert any("37 m" in d or "38 m" in d for d in found[0].details)


def test_too_close_to_call_is_not_called(run, course):
    ride = run().inside_seam("Birch", p_inside=0.85).moved("Birch", "exit", -0.6)
    assert faults(find([ride.result()], course)) == []


def test_a_wide_offset_hides_a_miss_that_a_narrow_one_shows(run, course):
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
def test_cones(run, course, marker, wide_m, code):
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
def test_turn_in(run, course, early_m, code, cue):
    columns = {"turn_in_early_m": early_m, "turn_in_early_lo_m": early_m - 1.5,
               "turn_in_early_hi_m": early_m + 1.5}  # fmt: skip
    (fault,) = faults(find([run().corner("Weir", **columns).result()], course))
    assert fault.code == code
    assert "7.0 m" in fault.text
    assert fault.cue == cue


@pytest.mark.parametrize(
    ("code", "cues", "cue"),
    [
        ("turn_in_late", ("Patience: wait, then turn.",), ""),
        ("turn_in_early", ("Turn in early here.", "Look far."), "Look far."),
        ("turn_in_early", ("Look far.", "Patience before you turn."), "Patience before you turn."),
        (
            "turn_in_late",
            ("Wait.", "Brake later than you look.", "Brake, then turn."),
            "Brake, then turn.",
        ),
        # Words count from their beginning: a plate is not late.
        ("turn_in_late", ("Turn at the plate.",), "Turn at the plate."),
        ("apex_missed", ("Wait.", "Close to the inside."), "Close to the inside."),
        ("uneven", (), ""),
    ],
)
def test_the_cue_is_of_that_part_of_the_corner_and_never_for_more_of_the_same(code, cues, cue):
    assert cue_for(code, cues) == cue


@pytest.mark.parametrize(("name", "code"), [("Weir", "lean_added"), ("Quarry", "lean_off_camber")])
def test_more_lean_than_the_line_asks_for(run, course, name, code):
    columns = {"lean_max_deg": 44.0, "lean_max_lo_deg": 43.2, "lean_max_hi_deg": 44.8}
    (fault,) = faults(find([run().corner(name, **columns).result()], course))
    assert fault.code == code
    assert fault.text.startswith("6° more lean")


def test_what_was_mended_is_praised_and_told_last(run, course):
    first, last = run("1").corner("Barn", **TIGHT), run("2", seed=1)
    found = find([first.result(), last.result()], course)
    assert [(f.code, f.kind) for f in found] == [
        ("exit_tightened", Kind.OTHER),
        ("mended", Kind.WELL),
    ]
    assert found[0].text == (
        "No longer a habit: an exit that tightens, in all 6 laps of run 1 and in none of 6 laps of run 2."
    )
    assert not any(d.startswith(("At the exit it takes", "How sure: ")) for d in found[0].details)
    assert any(d.startswith("At the exit it took 6° more lean") for d in found[0].details)
    # The picture shows how it is ridden now.
    assert (found[0].session, found[0].lap) == ("2", 6)
    assert found[1].text == (
        "Mended: an exit that tightens, in all 6 laps of run 1 and in none of 6 laps of run 2."
    )


@pytest.mark.parametrize(("still", "first_kind"), [(1, Kind.OTHER), (2, Kind.WORK)])
def test_a_lapse_in_the_last_run_does_not_bring_a_mended_habit_back(run, course, still, first_kind):
    first = run("1").corner("Barn", **TIGHT)
    last = run("2", seed=1).corner("Barn", range(1, still + 1), **TIGHT)
    found = find([first.result(), last.result()], course)
    assert (found[0].code, found[0].kind) == ("exit_tightened", first_kind)
    if still == 1:
        assert "in all 6 laps of run 1 and in one of 6 laps of run 2" in found[0].text
        assert (found[0].session, found[0].lap) == ("2", 6)


def test_what_is_wholly_gone_is_praised_before_what_was_seen_once_more(run, course):
    first = run("1").corner("Barn", **TIGHT).corner("Weir", **TIGHT)
    last = run("2", seed=1).corner("Barn", [1], **TIGHT)
    praised = [f for f in find([first.result(), last.result()], course) if f.code == "mended"]
    assert [f.corner for f in praised] == ["Weir"]


@pytest.mark.parametrize(
    ("fault", "said"), [(TIGHT, "to the left at the exit."), (EARLY, "to the left.")]
)
def test_lean_that_the_line_saves_is_told_where_it_saves_it(run, course, monkeypatch, fault, said):
    found = WhatIf(about(3.0, 5.0), about(3.0, 5.0), about(1.2, 1.4), about(0.1, 0.3))
    monkeypatch.setattr("lapkit.findings.telling.what_if", lambda *_: found)
    work = find([run().corner("Barn", **fault).result()], course)[0]
    (told,) = [d for d in work.details if "less lean" in d]
    assert told.endswith(said)


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


@pytest.mark.parametrize(("run_2_m", "praised"), [(0.0, True), (4.0, False)])
def test_a_cone_is_mended_where_the_line_surely_came_nearer(run, course, run_2_m, praised):
    # Outside of the seam again and on the line, or as far beyond it.
    first = run("1").moved("Weir", "exit", -2.0)
    last = run("2", seed=1).moved("Weir", "exit", run_2_m)
    found = find([first.result(), last.result()], course)
    assert any(f.code == "mended" for f in found) is praised


def test_a_lapse_of_several_laps_says_in_which_run_they_were(run, course):
    for seen, told in ((2, True), (1, False)):
        far = {**TIGHT, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
        early = run("1", laps=8).corner("Barn", range(1, seen + 1), **far)
        (lapse,) = faults(find([early.result(), run("2", seed=1).result()], course))
        assert DETAILS["lapse"] in lapse.details
        said = "It was so in 2 of 8 laps of run 1 and in none of 6 laps of run 2."
        assert (said in lapse.details) is told


def test_a_new_habit_is_a_habit_though_the_day_began_well(run, course):
    found = find([run("1", laps=8).result(), run("2").corner("Barn", **TIGHT).result()], course)
    assert (found[0].kind, found[0].laps_seen, found[0].laps_counted) == (Kind.WORK, 6, 14)
    assert any(
        "in none of 8 laps of run 1 and in all 6 laps of run 2" in d for d in found[0].details
    )
    assert found[0].session == "2"


def test_a_habit_is_shown_by_the_last_run_that_has_it(run, course):
    first = run("1").moved("Weir", "apex", 3.0)
    last = run("2", seed=1).moved("Weir", "apex", 1.4, range(1, 5))
    found = find([first.result(), last.result()], course)
    assert (found[0].code, found[0].session) == ("apex_missed", "2")


def test_an_exit_that_opened_is_praised(run, course):
    narrow = {"exit_radius_min_m": 44.0, "exit_radius_ratio": 0.88}
    first, last = run("1"), run("2")
    for name in ("Barn",):
        for lap in range(1, 7):
            first.corner(name, [lap], **{**narrow, "exit_radius_min_m": 43.0 + 0.3 * lap})
            last.corner(name, [lap], exit_radius_min_m=51.0 + 0.3 * lap)
    found = find([first.result(), last.result()], course)
    assert found[-1].code == "opened"
    assert found[-1].text == "The exit has opened from 44 m to 52 m radius since run 1."


def test_poor_laps_are_not_counted(run, course):
    ride = (
        run(laps=6).corner("Birch", [1, 2, 3, 4], **TIGHT).corner("Birch", [1, 2], quality="poor")
    )
    (fault,) = faults(find([ride.result()], course)) or [None]
    assert fault is None
    ride = run(laps=6).corner("Birch", **TIGHT).corner("Birch", [1, 2], quality="poor")
    assert faults(find([ride.result()], course))[0].laps_counted == 4


def test_laps_that_were_not_timed_are_not_counted(run, course):
    result = run(laps=6).corner("Birch", [1, 2, 3, 4], **TIGHT).result()
    result.tables["laps"].loc[:1, "kind"] = ["out", "broken"]
    assert faults(find([result], course)) == []


def test_without_a_judged_lap_nothing_is_said(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.corner(name, quality="poor")
    assert find([ride.result()], course) == ()


def test_without_a_marker_line_the_most_even_corner_is_praised(run, course):
    bare = replace(course, marker_line=None)
    result = run().corner("Weir", [1], radius_min_m=60.0).result()
    for column in ("wide_of_line_m", "line_gap_m"):
        result.tables["markers"][column] = float("nan")
    usual = result.tables["usual"]
    result.tables["usual"] = usual[usual["measure"] != "wide_of_line_m"]
    (found,) = find([result], bare)
    assert (found.kind, found.code) == (Kind.WELL, "steady")
    assert found.text == "The most even corner: tightest radius between 52 m and 52 m in every lap."


def test_feet_are_read_where_feet_were_asked_for(run, course):
    found = faults(find([run().corner("Birch", **TIGHT).result()], course, units="us"))
    assert "123 ft radius where the marker line keeps 164 ft" in found[0].text
    assert " m " not in found[0].text


def test_other_units_are_refused(run, course):
    with pytest.raises(OptionError, match="metric, us"):
        find([run().result()], course, units="furlongs")


def test_no_sentence_carries_a_sign_or_a_bare_probability(run, course):
    ride = run().inside_seam("Birch").moved("Birch", "exit", -2.5).corner("Birch", **TIGHT)
    ride = ride.corner("Quarry", **{**EARLY, **TIGHT}).moved("Weir", "apex", 1.6)
    ride = ride.moved("Barn", "exit", 6.0)
    for units in ("metric", "us"):
        for found in find([ride.result()], course, units=units):
            for sentence in (found.text, *found.details):
                assert not re.search(r"[-−+]\s*\d|\d\s*%|0\.\d+ \w*probab|\bp =|nan|{|}", sentence)
                assert sentence[0].isupper() or sentence[0].isdigit()
                assert sentence.endswith(".")
                assert len(sentence) < 170


def test_every_code_has_its_words():
    assert set(CAUSES) == set(SHORT)
    assert set(CAUSES) <= set(TEXTS)


def test_the_lap_shown_is_a_middling_one_of_a_habit(run, course):
    ride = run(laps=5)
    for lap, ratio in zip(range(1, 6), (0.84, 0.6, 0.7, 0.82, 0.8), strict=True):
        ride.corner("Birch", [lap], **{**TIGHT, "exit_radius_ratio": ratio})
    assert faults(find([ride.result()], course))[0].lap == 5


def test_the_table_has_the_contracts_columns(run, course):
    table = findings_table(find([run().corner("Birch", **TIGHT).result()], course))
    assert list(table.columns[:9]) == [
        "rider", "corner", "code", "laps_seen", "laps_counted", "p", "size", "text", "cue",
    ]  # fmt: skip
    assert table["kind"].tolist() == ["work", "well"]
    assert findings_table([]).dtypes.to_dict() == table.dtypes.to_dict()


def test_far_from_the_line_is_never_praised_as_near(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "turn-in", -2.0).moved(name, "exit", -3.2)
    praise = find([ride.result()], course)[-1]
    assert (praise.kind, praise.code, praise.marker) == (Kind.WELL, "at_cone", "apex")
    assert praise.text.startswith("Well placed at the apex cone: the usual lap is within ")
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "apex", 1.8)
    assert find([ride.result()], course)[-1].code == "steady"


def test_praise_for_a_cone_is_drawn_at_that_cone(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "turn-in", 0.05).moved(name, "apex", 4.0).moved(name, "exit", 4.0)
    praise = find([ride.result()], course)[-1]
    corner = next(c for c in course.corners if c.name == praise.corner)
    assert (praise.code, praise.marker) == ("at_cone", "turn-in")
    assert praise.station_m == corner.markers[0].station_m


def test_a_corner_whose_exit_is_mostly_tight_is_not_praised_as_near_the_line(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir"):
        ride.moved(name, "exit", 3.0)
    assert (find([ride.result()], course)[-1].corner) == "Barn"
    # Tighter than the line's in four laps of six, by too little to be called.
    ride.corner("Barn", [1, 2, 3, 4], exit_radius_ratio=0.88)
    praise = find([ride.result()], course)[-1]
    assert praise.code == "at_cone"


def test_one_lap_is_not_called_even(run, course):
    bare = replace(course, marker_line=None, marker_line_from="none")
    single = run(laps=1).result()
    unlined = single.tables["usual"].query("measure != 'wide_of_line_m'")
    single = RunResult("Bea", "1", single.tables | {"usual": unlined}, ())
    assert find([single], bare) == ()


def test_an_offset_that_is_not_known_is_counted_in_praise(run, course):
    sure, unsure = (find([run(sd_m=sd).result()], course)[-1] for sd in (0.1, 0.4))
    assert (sure.code, unsure.code) == ("on_line", "on_line")
    assert unsure.size > sure.size + 0.4
    assert find([run(sd_m=2.5).result()], course)[-1].code == "steady"


def test_one_lap_in_sixteen_is_never_the_thing_to_work_on(run, course):
    far = {**TIGHT, "exit_radius_ratio": 0.3, "exit_radius_min_m": 15.0, "exit_lean_max_deg": 50.0}
    ride = run(laps=16).corner("Quarry", [9], **far).moved("Weir", "apex", 1.6)
    found = faults(find([ride.result()], course))
    assert [(f.corner, f.kind, f.habit) for f in found] == [
        ("Weir", Kind.WORK, True),
        ("Quarry", Kind.MIND, False),
    ]


def test_harm_grows_with_lean_speed_and_how_often(run, course):
    def harm(laps=None, **more):
        found = find([run().corner("Birch", laps, **{**TIGHT, **more}).result()], course)
        return found[0].harm

    usual = harm()
    assert harm(exit_lean_max_deg=46.0) > 1.5 * usual
    assert harm(slowest_mps=30.0) == pytest.approx(1.5 * usual)
    assert harm(laps=[1, 2, 3, 4]) == pytest.approx(usual * 4 / 6)
    assert find([run().result()], course)[-1].harm == 0.0


def test_an_exit_pulled_in_after_the_apex_says_so(run, course):
    result = run().corner("Birch", **TIGHT).result()
    markers = result.tables["markers"]
    markers["radius_m"] = 38.0
    told = "At the apex the radius was still 55 m; the line was pulled in after that."
    assert told not in find([result], course)[0].details
    markers["radius_m"] = 55.0
    assert told in find([result], course)[0].details


def test_the_cone_missed_most_is_named_among_several(run, course):
    told = DETAILS["most_missed"]
    ride = run().moved("Weir", "apex", 1.6)
    assert told not in find([ride.result()], course)[0].details
    ride = ride.moved("Barn", "apex", 2.6)
    missed = {f.corner: f.details for f in faults(find([ride.result()], course))}
    assert told in missed["Barn"]
    assert told not in missed["Weir"]


def openly(ride, name="Barn"):
    """Inside the seam at the exit, far from its cone, and more open than the marker line."""
    ride.inside_seam(name).moved(name, "exit", -3.0)
    # The made-up course's line is a circle of 82 m.
    radii = {"exit_radius_min_m": 98.0, "line_exit_radius_min_m": 82.0, "exit_radius_ratio": 1.2}
    return ride.corner(name, **radii)


def test_inside_the_seam_with_a_longer_radius_is_a_fact_and_no_fault(run, course):
    found = find([openly(run()).result()], course)
    assert not faults(found)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert fact.text == (
        "Inside the first seam at the exit in all 6 laps, with a longer radius there all the same: "
        "98 m where the marker line keeps 82 m."
    )
    assert fact.details[0].startswith("Nothing to work on: ask why")
    assert fact.harm == 0.0
    (well,) = [f for f in found if f.kind is Kind.WELL]
    assert well.corner != "Barn"


def test_it_is_a_fault_where_the_radius_is_not_surely_longer(run, course):
    ride = openly(run()).corner("Barn", exit_radius_min_m=83.0, exit_radius_ratio=1.01)
    found = find([ride.result()], course)
    assert faults(found)[0].code == "inside_seam"
    assert not [f for f in found if f.kind is Kind.FACT]


def test_another_fault_at_that_corner_leads_and_the_fact_is_told_all_the_same(run, course):
    found = find([openly(run()).moved("Barn", "apex", 2.0).result()], course)
    assert [f.code for f in faults(found)] == ["apex_missed"]
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert fact.details[0].startswith("That is no fault")


def test_the_cone_missed_in_most_laps_comes_before_the_one_missed_by_most(run, course):
    told = DETAILS["most_missed"]
    ride = run().moved("Weir", "apex", 1.6).moved("Barn", "apex", 3.0, laps=range(1, 6))
    missed = {f.corner: f.details for f in faults(find([ride.result()], course))}
    assert told in missed["Weir"] and told not in missed["Barn"]
    assert "by laps and then by metres" in told


def about(low, high):
    return Summary(0.5 * (low + high), low, high)


@pytest.mark.parametrize(
    ("saved", "gain", "group", "told"),
    [
        ((3.0, 5.0), (1.2, 1.4), "", True),
        ((3.0, 5.0), (1.2, 1.4), "Novices", False),
        ((0.2, 0.9), (1.2, 1.4), "", False),
        ((3.0, 5.0), (-0.1, 1.4), "", False),
    ],
)
def test_speed_that_was_not_carried_is_told_beside_the_tables_and_after_the_lean(
    run, course, monkeypatch, saved, gain, group, told
):
    found = WhatIf(about(*saved), about(*saved), about(*gain), about(0.1, 0.3))
    monkeypatch.setattr("lapkit.findings.telling.what_if", lambda *_: found)
    work = find([run().corner("Barn", **TIGHT).result()], course, group)[0]
    promised = re.compile(r"km/h|\d s\b|carried|faster|worth")
    assert not any(promised.search(d) for d in (work.text, *work.details))
    if not told:
        assert work.would_have == ""
        return
    assert work.would_have.startswith(
        "On the marker line the same speeds would have taken 3 to 5° less lean to the left at the exit: "
        "that is margin."
    )
    assert "it would have been 4 to 5 km/h more" in work.would_have
    assert "0.1 to 0.3 s less" in work.would_have
    assert work.would_have.endswith("no advice.")


@pytest.mark.parametrize(
    ("at_exit_m", "apex_laps", "first"),
    [
        (0.3, range(1, 7), "apex_missed"),
        # Inside the line at the exit cone he pulled it in.
        (-0.4, range(1, 7), "exit_tightened"),
        # The apex is missed in other laps than those that tighten.
        (0.3, (5, 6), "exit_tightened"),
    ],
)
def test_an_exit_that_tightens_of_itself_after_an_apex_passed_wide_comes_second(
    run, course, at_exit_m, apex_laps, first
):
    ride = run(scatter_m=0.05).corner("Birch", range(1, 5), **TIGHT)
    ride.moved("Birch", "apex", 1.6, apex_laps).moved("Birch", "exit", at_exit_m)
    found = faults(find([ride.result()], course))
    assert found[0].code == first
    (told,) = [d for d in found[0].details if d.startswith("What comes with it")] or [""]
    assert (SHORT["exit_tightened"] in told) is (first == "apex_missed")


@pytest.mark.parametrize(("after_m", "first"), [(14.0, "apex_missed"), (16.0, "exit_tightened")])
def test_an_exit_tightest_nearer_to_its_cone_than_to_the_apex_does_not_come_of_the_apex(
    run, course, after_m, first
):
    ride = run(scatter_m=0.05).corner("Birch", **TIGHT, exit_tightest_after_apex_m=after_m)
    ride.moved("Birch", "apex", 1.6).moved("Birch", "exit", 0.3)
    assert faults(find([ride.result()], course))[0].code == first


@pytest.mark.parametrize(("elsewhere", "first"), [(3, "apex_missed"), (2, "exit_tightened")])
def test_who_passes_apexes_wide_everywhere_is_told_so_where_an_exit_tightens_too(
    run, course, elsewhere, first
):
    # Inside the line at the exit cone, which at one corner alone means that he pulled it in.
    ride = run(scatter_m=0.05).corner("Birch", **TIGHT)
    ride.moved("Birch", "apex", 1.6).moved("Birch", "exit", -0.4)
    for name in ("Quarry", "Weir", "Barn")[:elsewhere]:
        ride.moved(name, "apex", 1.6)
    found = faults(find([ride.result()], course))
    assert next(f for f in found if f.corner == "Birch").code == first


def three_runs(run, counts, fault):
    """Three runs of five laps; the fault is in so many laps of each."""
    rides = [run(str(i), laps=5, scatter_m=0.05, seed=i) for i in (1, 2, 3)]
    for ride, count in zip(rides, counts, strict=True):
        if count:
            fault(ride, range(1, count + 1))
    return rides


def test_what_the_last_run_does_not_surely_show_comes_after_what_it_shows(run, course):
    # At one corner the earlier habit would be the cause, and did more.
    def stale(ride, laps):
        ride.corner("Birch", laps, **{**TIGHT, "exit_lean_max_deg": 48.0})

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


def test_a_habit_is_told_as_the_last_run_shows_it_and_then_as_it_was(run, course):
    def wide(ride, laps):
        ride.moved("Weir", "apex", 3.0 if ride.session == "1" else 1.5, laps)

    rides = [ride.result() for ride in three_runs(run, (5, 2, 3), wide)]
    (fault,) = faults(find(rides, course))
    assert (
        fault.text == "1.5 m wider of the apex cone than the marker line in 3 of 5 laps of run 3."
    )
    assert (fault.laps_seen, fault.laps_counted) == (10, 15)
    assert (
        "It was so in all 5 laps of run 1, in 2 of 5 laps of run 2 and in 3 of 5 laps of run 3."
        in fault.details
    )
    # The usual lap of the last run is wide of it by 0.9 m, known to a quarter of one and scattering.
    assert "How sure: almost certain." not in fault.details
    (alone,) = faults(find(rides[2:], course))
    assert fault.p == pytest.approx(alone.p)
    assert fault.harm == pytest.approx(alone.harm)


def test_a_last_run_of_a_lap_does_not_tell_what_he_does_now(run, course):
    rides = [run("1").corner("Barn", **TIGHT), run("2", seed=1), run("3", laps=1, seed=2)]
    found = find([ride.result() for ride in rides], course)
    assert found[0].kind is Kind.OTHER
    assert found[0].text == (
        "No longer a habit: an exit that tightens, in all 6 laps of run 1, in none of 6 laps of run 2 and "
        "not in the one lap of run 3."
    )


def test_an_exit_that_tightened_in_one_lap_is_told_at_its_corner_alone(run, course):
    ride = run("1").corner("Birch", [5], **TIGHT)
    found = find(
        [ride.result(), run("2", seed=1).corner("Birch", [2, 3], **TIGHT).result()], course
    )
    assert not faults(found)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert (fact.corner, fact.code, fact.habit, fact.harm) == (
        "Birch",
        "exit_tightened",
        False,
        0.0,
    )
    assert fact.text.startswith("The exit tightens in 3 of 12 laps: 38 m radius where")
    assert fact.details[0] == "It was so in lap 5 of run 1 and laps 2 and 3 of run 2."
    assert fact.details[1:] == ("How sure: almost certain.", DETAILS["lapse"])
    # What is not sure, or takes no more lean, is not told.
    for less in ({"p_tightened": 0.85}, {"exit_lean_max_deg": 36.0}):
        found = find([run().corner("Birch", [5], **{**TIGHT, **less}).result()], course)
        assert [f.kind for f in found] == [Kind.WELL]


def test_a_lapse_at_an_exit_is_told_once(run, course):
    far = {**TIGHT, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    for laps, fault in (([5], far), (range(1, 6), TIGHT)):
        found = find([run().corner("Birch", laps, **fault).result()], course)
        assert [f.code for f in found].count("exit_tightened") == 1
        assert not [f for f in found if f.kind is Kind.FACT]
