"""What is said beside a finding: what the line would save, where the radius was lost."""

import re
from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.stats import MeanInterval
from lapkit.compare.what_if import WhatIf
from lapkit.findings import Code, find
from lapkit.findings.effects import would_have
from lapkit.findings.evidence import gather
from lapkit.findings.judgement import Observed, judge
from lapkit.findings.place import Place
from lapkit.findings.sentences import Detail
from lapkit.units import Units


def test_whoever_turns_in_late_and_so_passes_the_apex_wide_is_told_the_cause_and_not_to_wait(
    run, course, faults
):
    late = {"turn_in_early_m": -7.0, "turn_in_early_lo_m": -8.5, "turn_in_early_hi_m": -5.5}
    ride = run().corner("Weir", **late).moved("Weir", "apex", 1.6)
    first, second = faults(find([ride.result()], course))
    assert (first.code, second.code) == ("turn_in_late", "apex_missed")
    assert first.details[0] == "What comes with it: wide of the apex cone."
    assert first.cue == "Slow in."


def test_what_comes_with_it_names_the_cone_where_a_corner_has_several_of_a_kind(
    run, course, faults
):
    # Of two apexes, one that was said already would else seem to be said again.
    late = {"turn_in_early_m": -7.0, "turn_in_early_lo_m": -8.5, "turn_in_early_hi_m": -5.5}
    result = run().corner("Weir", **late).moved("Weir", "apex", 1.6).result()
    for table in ("markers", "usual"):
        of_apex = result.tables[table]["marker"] == "apex"
        result.tables[table].loc[of_apex, "marker"] = "apex 2"
    second = [
        replace(
            c, markers=tuple(replace(m, name=m.name.replace("apex", "apex 2")) for m in c.markers)
        )
        for c in course.corners
    ]
    first = faults(find([result], replace(course, corners=tuple(second))))[0]
    assert first.code == "turn_in_late"
    assert first.details[0] == "What comes with it: wide of the apex 2 cone."


@pytest.mark.parametrize(
    ("fault", "said"), [("tight", "to the left at the exit"), ("early", "to the left")]
)
def test_lean_that_the_line_saves_is_told_where_it_saves_it(
    run, course, monkeypatch, request, fault, said
):
    found = WhatIf(about(3.0, 5.0), about(3.0, 5.0), about(1.2, 1.4), about(0.1, 0.3))
    monkeypatch.setattr("lapkit.findings.effects.what_if", lambda *_: found)
    work = find([run().corner("Barn", **request.getfixturevalue(fault)).result()], course)[0]
    (told,) = [d for d in work.details if "less lean" in d]
    assert told.endswith(f"{said}: that is margin.")


@pytest.mark.parametrize(
    ("on_line_deg", "in_exit_deg", "said"),
    [(40.5, 36.0, False), (48.0, 36.0, True), (48.0, 48.0, False)],
)
def test_nobody_is_sent_to_a_later_turn_in_with_the_same_speed_and_more_lean(
    run, course, faults, early, on_line_deg, in_exit_deg, said
):
    """He leans 38° where he turns in early, and too far in at the turn-in cone."""
    leans = {"lean_on_line_deg": on_line_deg, "exit_lean_on_line_deg": in_exit_deg}
    ride = run().corner("Weir", **early, **leans).moved("Weir", "turn-in", -1.6)
    told = faults(find([ride.result()], course))
    assert [f.code for f in told] == ["turn_in_early", "turn_in_cone_missed"]
    warned = [d for f in told for d in f.details if "would have taken" in d]
    warning = (
        "On the marker line the same speeds would have taken 10° more lean to the left before the exit: it is ridden with "
        "less speed, not with more lean."
    )
    assert warned == [warning] * said


def test_an_exit_pulled_in_is_not_excused_by_lean_that_the_line_asks_for(run, course, tight):
    ride = run().corner("Barn", **tight, lean_on_line_deg=48.0)
    assert not any("not with more lean" in d for d in find([ride.result()], course)[0].details)


@pytest.mark.parametrize(("apex_m", "said"), [(41.0, False), (43.0, True), (55.0, True)])
def test_an_exit_tighter_by_a_tenth_than_the_apex_was_pulled_in_after_it(
    run, course, tight, apex_m, said
):
    """The exit's radius is 37.5 m."""
    result = run().corner("Birch", **tight).result()
    result.tables["markers"]["radius_m"] = apex_m
    told = [d for d in find([result], course)[0].details if d.startswith("At the apex the radius")]
    if not said:
        assert told == []
    else:
        assert told == [
            f"At the apex the radius was still {apex_m:.0f} m; the line was pulled in after that."
        ]


def test_the_cone_missed_most_is_named_among_several(run, course, faults):
    told = Detail.MOST_MISSED
    ride = run().moved("Weir", "apex", 1.6)
    assert told not in find([ride.result()], course)[0].details
    ride = ride.moved("Barn", "apex", 2.6)
    missed = {f.corner: f.details for f in faults(find([ride.result()], course))}
    assert told in missed["Barn"]
    assert told not in missed["Weir"]


def test_the_cone_missed_in_most_laps_comes_before_the_one_missed_by_most(run, course, faults):
    told = Detail.MOST_MISSED
    ride = run().moved("Weir", "apex", 1.6).moved("Barn", "apex", 3.0, laps=range(1, 6))
    missed = {f.corner: f.details for f in faults(find([ride.result()], course))}
    assert told in missed["Weir"] and told not in missed["Barn"]


def test_laps_that_the_log_cannot_tell_are_not_left_to_read_as_outside(run, course):
    """Of six laps four are inside and one outside; of the last the log does not tell."""
    ride = run().inside_seam("Barn").moved("Barn", "exit", -4.0)
    said = "the log cannot tell which side of the seam it was."
    assert not any(d.endswith(said) for d in find([ride.result()], course)[0].details)
    ride.inside_seam("Barn", 0.6, laps=[5])
    assert f"In the other lap {said}" in find([ride.result()], course)[0].details
    ride.inside_seam("Barn", 0.0, laps=[6])
    first = find([ride.result()], course)[0]
    assert (first.code, first.laps_seen) == ("inside_seam", 4)
    assert f"In one of the other 2 laps {said}" in first.details


def about(low, high):
    return MeanInterval(0.5 * (low + high), low, high)


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
    run, course, monkeypatch, saved, gain, group, told, tight
):
    found = WhatIf(about(*saved), about(*saved), about(*gain), about(0.1, 0.3))
    monkeypatch.setattr("lapkit.findings.effects.what_if", lambda *_: found)
    work = find([run().corner("Barn", **tight).result()], course, group)[0]
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


def test_a_cone_surely_passed_on_the_wrong_side_is_not_told_as_if_it_might_not_have_been(
    run, course, faults
):
    """Half the interval beyond the size itself would be heard as "or on the right side"."""
    near, far = (run(scatter_m=0.0).moved("Barn", "exit", wide) for wide in (4.4, 5.4))
    (told,) = [f for f in faults(find([near.result()], course)) if f.code == "cone_wrong_side"]
    assert told.text == "Past the exit cone on the wrong side in all 6 laps, by less than 0.9 m."
    (told,) = [f for f in faults(find([far.result()], course)) if f.code == "cone_wrong_side"]
    assert told.text.endswith("by 1.4 m, give or take 0.5.")


@pytest.mark.parametrize(
    ("changed", "group", "told"),
    [
        ({}, "fast", True),
        ({}, "Novices", False),
        # More than a fifth of his slowest speed, 20 m/s.
        ({"slowest_gain_mps": MeanInterval(3.0, 2.0, 4.1)}, "fast", False),
        ({"slowest_gain_mps": MeanInterval(2.0, -0.1, 4.1)}, "fast", False),
        ({"seconds": MeanInterval(0.1, -0.1, 0.3)}, "fast", False),
        ({"exit_lean_saved_deg": MeanInterval(2.0, 0.9, 3.1)}, "fast", False),
        # Over the whole corner the line saves nothing, at the exit it does.
        ({"lean_saved_deg": MeanInterval(0.0, -1.0, 1.0)}, "fast", True),
    ],
)
def test_what_would_have_been_is_told_only_where_it_is_clear_and_never_to_novices(
    run, course, changed, group, told
):
    e = gather([run().result()], course)[0]
    observed = Observed(p=np.ones(e.count), size=np.ones(e.count))
    tightened = judge(Code.EXIT_TIGHTENED, e, Place(50.0), observed)
    on_line = WhatIf(
        lean_saved_deg=MeanInterval(4.0, 3.0, 5.0),
        exit_lean_saved_deg=MeanInterval(3.0, 2.0, 4.0),
        slowest_gain_mps=MeanInterval(2.0, 1.0, 3.9),
        seconds=MeanInterval(0.3, 0.2, 0.4),
    )
    said = would_have(tightened, replace(on_line, **changed), group, Units.METRIC)
    assert said.startswith("On the marker line the same speeds would have taken 2 to 4°") is told
    assert bool(said) is told


@pytest.mark.parametrize(
    ("name", "lean_deg", "told"),
    [("Quarry", 42.0, True), ("Quarry", 36.5, False), ("Barn", 42.0, False)],
)
def test_that_the_road_falls_away_is_told_where_it_does_and_more_lean_was_taken(
    run, course, tight, name, lean_deg, told
):
    # Below half of the line's radius an exit is told of whatever its lean.
    far = {
        **tight,
        "exit_radius_ratio": 0.5,
        "exit_radius_min_m": 25.0,
        "exit_lean_max_deg": lean_deg,
    }
    first = find([run().corner(name, **far).result()], course)[0]
    assert (first.code, first.corner) == ("exit_tightened", name)
    assert any("The road falls away by 3° there" in said for said in first.details) is told
