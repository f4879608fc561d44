"""What is said first: by the harm it does, and the cause before what comes of it."""

from dataclasses import replace

import pytest

from lapkit.findings import Code, Kind, find
from lapkit.findings.evidence import gather
from lapkit.findings.judgement import Drift, of_all_laps
from lapkit.findings.place import Place
from lapkit.findings.rules import judgements
from lapkit.findings.stories import harm, most_missed


def test_what_can_hurt_comes_first(run, course, faults, tight):
    # The same exit tightened, but off camber; the first corner's only costs road.
    ride = run().moved("Birch", "exit", -1.5).corner("Weir", **tight).corner("Quarry", **tight)
    found = faults(find([ride.result()], course))
    assert [(f.corner, f.code) for f in found[:2]] == [
        ("Quarry", "exit_tightened"),
        ("Birch", "exit_cone_missed"),
    ]
    assert [f.kind for f in found] == [Kind.WORK, Kind.MIND, Kind.OTHER]
    assert "An exit that tightens at Weir too." in found[0].details
    assert any("falls away by 3°" in d for d in found[0].details)


def test_a_first_page_has_at_most_three_faults_and_one_thing_done_well(run, course, tight, early):
    ride = run().corner("Birch", **tight).corner("Quarry", **early).moved("Weir", "apex", 1.6)
    ride = ride.moved("Barn", "exit", -1.6).moved("Weir", "turn-in", -2.0)
    found = find([ride.result()], course)
    kinds = [f.kind for f in found]
    assert kinds.count(Kind.WORK) == 1
    assert kinds.count(Kind.MIND) == 2
    assert kinds.count(Kind.WELL) == 1
    assert kinds[:3] == [Kind.WORK, Kind.MIND, Kind.MIND]
    assert kinds[-1] is Kind.WELL


def test_the_cause_leads_and_what_came_with_it_follows(run, course, faults, tight):
    ride = run().inside_seam("Birch").moved("Birch", "exit", -2.5).corner("Birch", **tight)
    found = faults(find([ride.result()], course))
    assert [f.code for f in found] == ["inside_seam", "exit_tightened", "exit_cone_missed"]
    assert [f.kind for f in found] == [Kind.WORK, Kind.OTHER, Kind.OTHER]
    assert found[0].marker == "first seam"
    assert "Inside the first seam at the exit in all 6 laps" in found[0].text
    assert any(Code.EXIT_TIGHTENED.means.short in d for d in found[0].details)
    assert any("37 m" in d or "38 m" in d for d in found[0].details)


def test_one_lap_in_sixteen_is_never_the_thing_to_work_on(run, course, faults, tight):
    far = {**tight, "exit_radius_ratio": 0.3, "exit_radius_min_m": 15.0, "exit_lean_max_deg": 50.0}
    ride = run(laps=16).corner("Quarry", [9], **far).moved("Weir", "apex", 1.6)
    found = faults(find([ride.result()], course))
    assert [(f.corner, f.kind, f.habit) for f in found] == [
        ("Weir", Kind.WORK, True),
        ("Quarry", Kind.MIND, False),
    ]


def test_what_most_laps_surely_show_is_sure_whatever_the_others_are_like(run, course, faults):
    # Five laps surely; the mean of all seven, which two far ones pull away, is hardly beyond what is worth a word.
    early = {"turn_in_early_m": 5.0, "turn_in_early_lo_m": 4.0, "turn_in_early_hi_m": 6.0}
    late = {"turn_in_early_m": -1.0, "turn_in_early_lo_m": -2.0, "turn_in_early_hi_m": 0.0}
    ride = run(laps=7).corner("Quarry", range(1, 6), **early).corner("Quarry", [6, 7], **late)
    (fault,) = faults(find([ride.result()], course))
    assert (fault.code, fault.kind, fault.habit) == ("turn_in_early", Kind.WORK, True)
    assert "How sure: almost certain." in fault.details


def test_harm_grows_with_lean_speed_and_how_often(run, course, tight):
    def harm(laps=None, **more):
        found = find([run().corner("Birch", laps, **{**tight, **more}).result()], course)
        return found[0].harm

    usual = harm()
    assert harm(exit_lean_max_deg=46.0) > 1.5 * usual
    assert harm(slowest_mps=30.0) == pytest.approx(1.5 * usual)
    assert harm(laps=[1, 2, 3, 4]) == pytest.approx(usual * 4 / 6)
    assert find([run().result()], course)[-1].harm == 0.0


def test_an_exit_pulled_in_to_half_its_radius_comes_first_though_he_slowed_down_for_it(
    run, course, tight, faults
):
    # At Weir he leans no further than the line would ask at his speeds, at Birch 6°.
    slowed = {"exit_radius_ratio": 0.54, "exit_radius_min_m": 27.0, "p_tightened": 1.0}
    slowed |= {"exit_tightest_speed_mps": 15.0, "slowest_mps": 15.0, "exit_lean_max_deg": 35.0}
    ride = run().corner("Birch", range(1, 6), **tight).corner("Weir", **slowed)
    assert [f.corner for f in faults(find([ride.result()], course))] == ["Weir", "Birch"]


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
    run, course, at_exit_m, apex_laps, first, faults, tight
):
    ride = run(scatter_m=0.05).corner("Birch", range(1, 5), **tight)
    ride.moved("Birch", "apex", 1.6, apex_laps).moved("Birch", "exit", at_exit_m)
    found = faults(find([ride.result()], course))
    assert found[0].code == first
    (told,) = [d for d in found[0].details if d.startswith("What comes with it")] or [""]
    assert (Code.EXIT_TIGHTENED.means.short in told) is (first == "apex_missed")


@pytest.mark.parametrize(
    ("ratio", "lean_deg", "first"),
    [(0.8, 38.0, "apex_missed"), (0.7, 38.0, "exit_tightened"), (0.8, 39.0, "exit_tightened")],
    ids=["a little", "much radius", "much lean"],
)
def test_an_exit_that_tightens_a_little_comes_of_the_apex_also_in_laps_that_did_not_miss_it(
    run, course, ratio, lean_deg, first, faults, tight
):
    little = {**tight, "exit_radius_ratio": ratio, "exit_radius_min_m": 50.0 * ratio}
    little |= {"exit_lean_max_deg": lean_deg}
    ride = run(scatter_m=0.05, laps=7).corner("Birch", range(1, 6), **little)
    ride.moved("Birch", "apex", 1.6, range(4, 8))
    assert faults(find([ride.result()], course))[0].code == first


@pytest.mark.parametrize(("after_m", "first"), [(14.0, "apex_missed"), (16.0, "exit_tightened")])
def test_an_exit_tightest_nearer_to_its_cone_than_to_the_apex_does_not_come_of_the_apex(
    run, course, after_m, first, faults, tight
):
    ride = run(scatter_m=0.05).corner("Birch", **tight, exit_tightest_after_apex_m=after_m)
    ride.moved("Birch", "apex", 1.6).moved("Birch", "exit", 0.3)
    assert faults(find([ride.result()], course))[0].code == first


@pytest.mark.parametrize(("elsewhere", "first"), [(3, "apex_missed"), (2, "exit_tightened")])
def test_who_passes_apexes_wide_everywhere_is_told_so_where_an_exit_tightens_too(
    run, course, elsewhere, first, faults, tight
):
    # Inside the line at the exit cone, which at one corner alone means that he pulled it in.
    ride = run(scatter_m=0.05).corner("Birch", **tight)
    ride.moved("Birch", "apex", 1.6).moved("Birch", "exit", -0.4)
    for name in ("Quarry", "Weir", "Barn")[:elsewhere]:
        ride.moved(name, "apex", 1.6)
    found = faults(find([ride.result()], course))
    assert next(f for f in found if f.corner == "Birch").code == first


def test_who_turns_in_early_everywhere_does_not_pass_apexes_wide_everywhere(
    run, course, faults, tight, early
):
    ride = run(scatter_m=0.05).corner("Birch", **tight)
    ride.moved("Birch", "apex", 1.6).moved("Birch", "exit", -0.4)
    for name in ("Quarry", "Weir", "Barn"):
        ride.corner(name, **early)
    found = faults(find([ride.result()], course))
    assert next(f for f in found if f.corner == "Birch").code == "exit_tightened"


@pytest.mark.parametrize(
    "as_tight",
    [{}, {"exit_radius_ratio": 0.8, "exit_radius_min_m": 40.0, "exit_lean_max_deg": 38.0}],
)
def test_an_exit_does_not_come_of_a_late_turn_in_as_it_may_of_a_wide_apex(
    run, course, faults, tight, as_tight
):
    late = {"turn_in_early_m": -7.0, "turn_in_early_lo_m": -8.5, "turn_in_early_hi_m": -5.5}
    ride = (
        run(scatter_m=0.05)
        .corner("Birch", **{**tight, **as_tight}, **late)
        .moved("Birch", "exit", 0.3)
    )
    found = faults(find([ride.result()], course))
    assert [f.code for f in found] == ["exit_tightened", "turn_in_late"]


def test_one_fault_at_many_corners_comes_first_where_it_harms_most_and_the_others_by_harm(
    run, course, faults, tight
):
    # Harm is 1.2 at Birch and no more than 0.8 at any other corner, but 2.0 at these together. At Quarry the road
    # falls away, and Barn is quicker than Weir.
    ride = run(scatter_m=0.05).corner("Birch", **{**tight, "exit_lean_max_deg": 37.2})
    for name in ("Quarry", "Weir", "Barn"):
        ride.moved(name, "apex", 1.6)
    found = faults(find([ride.corner("Barn", slowest_mps=22.0).result()], course))
    assert [f.corner for f in found] == ["Quarry", "Birch", "Barn", "Weir"]


def test_a_habit_that_is_fading_comes_after_one_that_is_not(run, course, faults, tight):
    before, now = (run(name).moved("Weir", "apex", 1.6) for name in ("1", "2"))
    before.corner("Birch", **tight)
    now.corner("Birch", [1, 2, 3], **tight)
    found = faults(find([before.result(), now.result()], course))
    assert [f.corner for f in found] == ["Weir", "Birch"]


def test_what_is_told_at_a_corner_alone_says_nothing_that_stands_beside_it(run, course, tight):
    ride = run()
    for name in ("Birch", "Weir"):
        ride.inside_seam(name).moved(name, "exit", -3.0).corner(name, **tight)
    first, *rest = find([ride.result()], course)
    assert (first.kind, first.code) == (Kind.WORK, "inside_seam")
    assert any(d.endswith(" too.") for d in first.details)
    assert any(d.startswith("What comes with it: ") for d in first.details)
    assert any(d.startswith("The exit’s tightest radius is ") for d in first.details)
    other = next(f for f in rest if f.corner != first.corner and f.code == "inside_seam")
    assert other.kind is Kind.OTHER
    assert any(f.corner == other.corner and f.code == "exit_tightened" for f in rest)
    assert not any(d.endswith(" too.") for d in other.details)
    for said in ("What comes with it: ", "The exit’s tightest radius is "):
        assert not any(d.startswith(said) for d in other.details)


def test_an_exit_s_radius_is_not_told_twice_at_a_corner(run, course, tight):
    slow = {**tight, "exit_lean_max_deg": 36.0}
    ride = run().moved("Birch", "apex", 3.0).moved("Weir", "apex", 1.6).corner("Weir", **slow)
    found = [f for f in find([ride.result()], course) if f.corner == "Weir"]
    wide, fact = found[0], next(f for f in found if f.kind is Kind.FACT)
    assert (wide.kind, wide.code) == (Kind.OTHER, "apex_missed")
    assert "38 m radius" in fact.text
    assert not any("38 m" in detail for detail in wide.details)


def exits(ride, course, name):
    """The judgement of a corner's exits."""
    (e,) = [e for e in gather([ride.result()], course) if e.corner.name == name]
    (found,) = [j for j in judgements(e, openly=False) if j.code is Code.EXIT_TIGHTENED]
    return found


@pytest.mark.parametrize(("name", "camber"), [("Birch", 1.0), ("Quarry", 1.5)])
def test_harm_is_lean_added_at_25_metres_a_second_more_where_the_road_falls_away(
    run, course, tight, name, camber
):
    # Six degrees at 20 m/s, in all laps or in five of six.
    assert harm(exits(run().corner(name, **tight), course, name)) == pytest.approx(
        6.0 * 20.0 / 25.0 * camber
    )
    most = run().corner(name, range(1, 6), **tight)
    assert harm(exits(most, course, name)) == pytest.approx(4.8 * camber * 5.0 / 6.0)


def test_a_lapse_does_less_harm_than_a_habit_would_in_that_one_lap(run, course, tight):
    far = {**tight, "exit_radius_ratio": 0.5, "exit_radius_min_m": 25.0}
    once = exits(run().corner("Birch", [2], **far), course, "Birch")
    assert harm(once) == pytest.approx(4.8 * 0.3 / 6.0)


@pytest.mark.parametrize(("everywhere", "deg"), [(False, 0.3), (True, 0.7)])
def test_a_drift_at_most_corners_weighs_as_any_fault_does(run, course, everywhere, deg):
    evidence = gather([run().result()], course)[0]
    drift = Drift(end=2.0, shown_at=3, looked_at=4, everywhere=everywhere)
    found = of_all_laps(Code.DRIFTS_WIDE, evidence, Place(50.0), 1.5, 1.0)
    assert harm(replace(found, drift=drift)) == pytest.approx(deg * 20.0 / 25.0)


def test_of_cones_missed_as_a_habit_it_is_the_one_missed_in_most_laps(run, course):
    def judged(ride):
        result = ride.result()
        return [
            j for e in gather([result], course) for j in judgements(e, openly=False)
            if j.code is Code.APEX_MISSED
        ]  # fmt: skip

    ride = run(scatter_m=0.05).moved("Weir", "apex", 2.0, laps=range(1, 6))
    lapse = ride.moved("Birch", "apex", 3.5, laps=[2])
    assert len(judged(lapse)) == 2 and most_missed(judged(lapse)) is None
    several = lapse.moved("Barn", "apex", 1.4)
    assert most_missed(judged(several)).evidence.corner.name == "Barn"
