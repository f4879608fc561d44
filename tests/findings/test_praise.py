"""What is done well."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from lapkit.compare.results import RunResult
from lapkit.findings import Kind, find
from lapkit.findings.praise import _unevenness
from lapkit.findings.sentences import Detail


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


@pytest.mark.parametrize(("laps", "code"), [(2, "near_line"), (3, "on_line")])
def test_of_two_laps_nobody_is_said_to_ride_on_the_line(run, course, laps, code):
    (well,) = find([run(laps=laps, scatter_m=0.0).result()], course)
    assert well.code == code


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


@pytest.mark.parametrize(("wide_m", "near"), [(0.2, True), (0.8, False)])
def test_near_the_line_is_surely_within_a_metre_and_a_half_of_it(run, course, wide_m, near):
    # The offset is known to 0.6 m, so that 0.2 m surely lie within 1.4 m of the line, and 0.8 m within 2.0 m.
    ride = run(sd_m=0.6, scatter_m=0.0)
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        for marker in ("turn-in", "apex", "exit"):
            ride.moved(name, marker, wide_m)
    assert (find([ride.result()], course)[-1].code == "near_line") is near


def test_praise_for_a_cone_is_drawn_at_that_cone(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "turn-in", 0.05).moved(name, "apex", 4.0).moved(name, "exit", 4.0)
    praise = find([ride.result()], course)[-1]
    corner = next(c for c in course.corners if c.name == praise.corner)
    assert (praise.code, praise.marker) == ("at_cone", "turn-in")
    assert praise.station_m == corner.markers[0].station_m


@pytest.mark.parametrize(
    ("at_cones_m", "at_sight_m", "told"), [(3.2, 0.05, "steady"), (0.05, 4.0, "on_line")]
)
def test_praise_is_about_the_cones_that_are_ridden_past_and_not_about_a_sight_cone(
    run, course, at_cones_m, at_sight_m, told
):
    corners = [
        replace(
            corner,
            markers=(*corner.markers, replace(corner.markers[-1], name="sight", kind="sight")),
        )
        for corner in course.corners
    ]
    result = run(scatter_m=0.0).result()
    usual = result.tables["usual"].query("measure == 'wide_of_line_m' and marker == 'exit'")
    passed = result.tables["markers"].query("marker == 'exit'")
    result.tables["usual"].loc[lambda t: t["measure"] == "wide_of_line_m", "usual"] = at_cones_m
    for name, sighted in (
        ("usual", usual.assign(marker="sight", usual=at_sight_m)),
        ("markers", passed.assign(marker="sight", kind="sight", wide_of_line_m=at_sight_m)),
    ):
        result.tables[name] = pd.concat([result.tables[name], sighted], ignore_index=True)
    praise = find([result], replace(course, corners=tuple(corners)))[-1]
    assert praise.code == told


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


def test_where_some_exits_are_tight_it_is_not_praised_that_the_exit_stays_open(run, course):
    ride = run()
    for name in ("Birch", "Quarry", "Weir"):
        ride.moved(name, "exit", 1.2)
    assert find([ride.result()], course)[-1].corner == "Barn"
    lapse = {"exit_radius_ratio": 0.78, "exit_radius_min_m": 39.0, "p_tightened": 0.99}
    ride.corner("Barn", [2], exit_lean_max_deg=44.0, **lapse)
    *told, praise = find([ride.result()], course)
    assert any(f.corner == "Barn" and f.code == "exit_tightened" for f in told)
    assert (praise.corner, praise.code) != ("Barn", "on_line")


def test_the_most_even_corner_is_one_without_trouble_where_there_is_one(run, course, tight):
    ride = run(sd_m=2.5)
    for name in ("Birch", "Quarry", "Weir"):
        ride.corner(name, [1], radius_min_m=60.0)
    even = find([ride.result()], course)[-1]
    assert (even.code, even.corner) == ("steady", "Barn")
    ride.corner("Barn", **tight)
    elsewhere = find([ride.result()], course)[-1]
    assert elsewhere.code == "steady" and elsewhere.corner != "Barn"
    assert elsewhere.text.endswith(" in every lap.")


def test_a_corner_with_trouble_is_never_praised_as_near_the_line(run, course):
    ride = run(sd_m=0.1, scatter_m=0.05)
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "apex", 1.3)
    *faults, praise = find([ride.result()], course)
    assert {f.corner for f in faults if f.code == "apex_missed"} == {c.name for c in course.corners}
    assert praise.code == "at_cone" and praise.marker != "apex"
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "turn-in", -1.2).moved(name, "exit", -1.2)
    even = find([ride.result()], course)[-1]
    # It is evenly off the line.
    assert even.code == "steady"
    assert even.text.endswith(f" in every lap. {Detail.EVEN_ALONE}")


def test_a_cone_that_a_fault_is_about_is_not_praised(run, course, early):
    ride = run(sd_m=0.1, scatter_m=0.05)
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        ride.moved(name, "apex", 1.3).moved(name, "exit", 0.5).corner(name, **early)
    praise = find([ride.result()], course)[-1]
    assert (praise.code, praise.marker) == ("at_cone", "exit")


def test_of_several_runs_the_last_with_laps_enough_is_praised(run, course):
    one, two = run("1"), run("2", seed=1)
    for name in ("Birch", "Quarry", "Weir", "Barn"):
        one.moved(name, "exit", 0.9)
    runs = [one.result(), two.result()]
    assert ": the usual lap is within " in find(runs[1:], course)[-1].text
    praise = find(runs, course)[-1]
    assert ": the usual lap of run 2 is within " in praise.text
    assert praise.session == "2" and praise.size == find(runs[1:], course)[-1].size
    short = find([*runs, run("3", laps=2, seed=2).result()], course)[-1]
    assert ": the usual lap of run 2 is within " in short.text
    few = [run(name, laps=2, seed=seed).result() for seed, name in enumerate("12")]
    assert "the usual lap over all runs is within " in find(few, course)[-1].text


def test_evenness_is_in_shares_of_the_radius():
    """Laps that differ by a metre are as even at a radius of 40 m as laps that differ by two at 80 m."""
    tight, wide = (
        SimpleNamespace(laps=SimpleNamespace(radius_min_m=scale * np.array([40.0, 41.0, 39.0])))
        for scale in (1.0, 2.0)
    )
    assert _unevenness(tight) == pytest.approx(np.sqrt(2.0 / 3.0) / 40.0)
    assert _unevenness(wide) == pytest.approx(_unevenness(tight))
