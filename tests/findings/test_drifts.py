"""What changes steadily over the laps of a run."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import t

from lapkit.findings import Kind, drifts, find
from lapkit.findings.drifts import _Measure, _slope


def faults(found):
    return [f for f in found if f.kind is not Kind.WELL]


def test_drifting_wide_over_a_run(run, course):
    ride = run(laps=8, scatter_m=0.1)
    for lap in range(1, 9):
        ride.moved("Weir", "apex", 0.25 * (lap - 1) - 0.6, [lap])
    found = [f for f in faults(find([ride.result()], course)) if f.code == "drifts_wide"]
    assert len(found) == 1
    assert found[0].size == pytest.approx(1.75, abs=0.2)
    assert found[0].text.endswith("wider at the apex cone, to 1.3 m wide of the marker line.")
    # The picture is of a lap that shows it.
    assert found[0].lap == 8


def over_laps(ride, name, laps, **columns):
    """Columns of a corner that go from one value to another, lap by lap, give or take a little."""
    for lap in range(1, laps + 1):
        share = (lap - 1) / (laps - 1) + 0.03 * (-1) ** lap
        ride.corner(name, [lap], **{c: a + share * (b - a) for c, (a, b) in columns.items()})
    return ride


@pytest.mark.parametrize(("sd_m", "told"), [(0.25, True), (1.0, False)])
def test_a_drift_may_end_on_the_line_where_the_offset_is_hardly_known(run, course, sd_m, told):
    ride = run(laps=8, scatter_m=0.05, sd_m=sd_m)
    for lap in range(1, 9):
        ride.moved("Weir", "apex", 0.25 * (lap - 1) - 0.6, [lap])
    found = faults(find([ride.result()], course))
    assert ("drifts_wide" in [f.code for f in found]) is told


def test_an_exit_that_closes_over_a_run(run, course):
    ride = over_laps(run(laps=8), "Weir", 8, exit_radius_min_m=(54.0, 42.0))
    (fault,) = faults(find([ride.result()], course))
    assert fault.code == "drifts_tight"
    assert fault.size == pytest.approx(12.0, abs=1.0)
    assert fault.text.endswith(
        "the exit closes: its tightest radius falls by 12 m, to 42 m where the marker line keeps 50 m."
    )
    assert fault.cue == "Let it run out to the exit cone."
    for radius in ((42.0, 54.0), (45.0, 42.0)):  # opens, hardly closes
        ride = over_laps(run(laps=8), "Weir", 8, exit_radius_min_m=radius)
        assert faults(find([ride.result()], course)) == []


def test_a_drift_that_ends_no_worse_than_the_marker_line_is_no_fault(run, course):
    rides = [
        over_laps(run(laps=8), "Weir", 8, exit_radius_min_m=(80.0, 50.0)),
        over_laps(run(laps=8), "Weir", 8, lean_max_deg=(31.0, 38.1)),
        run(laps=8, scatter_m=0.1),
    ]
    for lap in range(1, 9):
        rides[-1].moved("Weir", "apex", 0.25 * (lap - 8), [lap])
    for ride in rides:
        assert faults(find([ride.result()], course)) == []


def test_more_and_more_lean_over_a_run_counts_beyond_what_his_speed_asks_for(run, course):
    lean = {"lean_max_deg": (37.0, 42.0)}
    (fault,) = faults(find([over_laps(run(laps=8), "Weir", 8, **lean).result()], course))
    assert fault.code == "drifts_over"
    assert fault.text.endswith(
        "the lean grows by 5° against what the marker line asks for at the same speed, to 4° more than that."
    )
    # He got faster: on the line the same lean would have come of it.
    warm = over_laps(run(laps=8), "Weir", 8, **lean, lean_on_line_deg=(37.0, 42.0))
    assert faults(find([warm.result()], course)) == []


def test_a_corner_whose_radius_scatters_more_is_not_judged_by_the_scatter_of_others(run, course):
    def drifts(apart):
        ride = run(laps=6)
        for lap, radius in enumerate((46.0, 47.5, 37.5, 38.0, 37.0, 30.0), 1):
            ride.corner("Weir", [lap], exit_radius_min_m=radius if apart else 47.0 - 2.0 * lap)
            for name in ("Birch", "Quarry", "Barn"):
                ride.corner(name, [lap], exit_radius_min_m=50.0 + 1.5 * (-1) ** lap)
        return [f.code for f in find([ride.result()], course) if f.code.startswith("drifts")]

    assert drifts(apart=False) == ["drifts_tight"]
    assert drifts(apart=True) == []


def test_two_runs_that_differ_are_no_drift(run, course):
    runs = [
        run(name, laps=8, seed=i).corner("Weir", exit_radius_min_m=radius)
        for i, (name, radius) in enumerate((("1", 58.0), ("2", 46.0)))
    ]
    assert "drifts_tight" not in [f.code for f in find([r.result() for r in runs], course)]


def test_who_drifts_at_every_corner_is_believed_sooner_than_at_one(run, course):
    def told(names, seed):
        ride = run(laps=8, scatter_m=0.5, seed=seed)
        for name in names:
            for lap in range(1, 9):
                ride.moved(name, "apex", 0.28 * (lap - 4.5), [lap])
        found = {f.corner for f in find([ride.result()], course) if f.code == "drifts_wide"}
        return [name in found for name in names]

    alone = [t for seed in range(12) for t in told(("Weir",), seed)]
    everywhere = [t for seed in range(12) for t in told(("Birch", "Quarry", "Weir", "Barn"), seed)]
    assert sum(everywhere) / len(everywhere) > sum(alone) / len(alone) + 0.1


def test_scatter_is_taken_for_a_drift_in_hardly_any_run(run, course):
    rides = [run(laps=8, scatter_m=0.6, seed=100 + i).result() for i in range(60)]
    codes = [f.code for ride in rides for f in find([ride], course)]
    # Two in a thousand: in 60 runs one would be bad luck already.
    assert sum(code.startswith("drifts") for code in codes) <= 1


def tired(run, names):
    """A run in which the line moves wide by 2.1 m at the cones of some corners."""
    ride = run(laps=8, scatter_m=0.1)
    for name in names:
        for lap in range(1, 9):
            ride.moved(name, "apex", 0.3 * lap, [lap])
    return ride


def test_a_drift_at_most_corners_leads_and_is_one_story_of_the_rider(run, course):
    # In the later laps the apexes are missed because of it; Barn's turn-in is missed in all of them.
    ride = tired(run, ("Birch", "Quarry", "Weir")).moved("Barn", "turn-in", -1.5)
    found = faults(find([ride.result()], course))
    first, mind, *rest = found
    assert (first.kind, first.code) == (Kind.WORK, "drifts_wide")
    assert "the line moves wider at 3 of 4 corners: here by 2." in first.text
    elsewhere = {"Birch", "Quarry", "Weir"} - {first.corner}
    (also,) = [d for d in first.details if d.startswith("Drifting wide over a run at ")]
    assert all(name in also for name in elsewhere)
    assert any("comes with the run and not with one corner" in d for d in first.details)
    assert "What comes with it: wide of the apex cone." in first.details
    assert (mind.kind, mind.code) == (Kind.MIND, "turn_in_cone_missed")
    # Said of all corners once; at the others only what was theirs.
    assert {f.corner for f in rest if f.code == "drifts_wide"} == elsewhere
    assert not any("corners" in f.text for f in rest)


@pytest.mark.parametrize("fewest", [drifts.FEWEST_CORNERS, 1])
def test_a_drift_at_few_corners_or_at_no_more_than_half_does_not_lead(
    run, course, monkeypatch, fewest
):
    monkeypatch.setattr(drifts, "FEWEST_CORNERS", fewest)
    found = faults(find([tired(run, ("Birch", "Weir")).result()], course))
    assert found[0].code == "apex_missed"
    assert not any("of 4 corners" in f.text for f in found)


def test_what_can_hurt_leads_before_a_drift_at_most_corners(run, course):
    # Off camber and 8° further over than the line asks for.
    ride = tired(run, ("Birch", "Weir", "Barn")).corner(
        "Quarry", exit_radius_ratio=0.7, exit_radius_min_m=35.0, p_tightened=1.0,
        exit_lean_max_deg=44.0,
    )  # fmt: skip
    first, second = faults(find([ride.result()], course))[:2]
    assert (first.corner, first.code, first.kind) == ("Quarry", "exit_tightened", Kind.WORK)
    assert (second.code, second.kind) == ("drifts_wide", Kind.MIND)
    assert "at 3 of 4 corners" in second.text


def test_a_slope_and_its_doubt_are_those_of_least_squares_with_an_intercept_for_each_run():
    run = np.repeat([0, 1], [5, 6])
    lap = np.array([1.0, 2, 3, 4, 5, 2, 3, 4, 6, 7, 8])
    values = 0.3 * lap + run + np.random.default_rng(1).normal(0.0, 0.5, len(lap))
    laps = SimpleNamespace(run=run, number=lap, count=len(lap), last_run=run == 1)
    found = _slope(_Measure(laps, values, least=1.0, fault=0.5, place=None))
    design = np.stack([run == 0, run == 1, lap], axis=1).astype(float)
    unknown, squares, *_ = np.linalg.lstsq(design, values, rcond=None)
    assert found.free == len(lap) - 3
    assert found.variance == pytest.approx(squares[0] / found.free)
    covariance = found.variance * np.linalg.inv(design.T @ design)
    growth, end = np.array([0.0, 0.0, 8.0 - 2.0]), np.array([0.0, 1.0, 8.0])
    assert (found.over_run, found.end) == pytest.approx((growth @ unknown, end @ unknown))
    assert found.variance / found.growth_laps == pytest.approx(growth @ covariance @ growth)
    assert found.variance / found.end_laps == pytest.approx(end @ covariance @ end)
    # The end is a fault, and more surely so the better it is known.
    of_end = t(found.free, found.end, np.sqrt(end @ covariance @ end))
    assert found.p_faulty(found.variance, found.free) == pytest.approx(of_end.sf(0.5))
    of_growth = t(found.free, found.over_run, np.sqrt(growth @ covariance @ growth))
    assert found.p_by_chance(found.variance, found.free) == pytest.approx(of_growth.cdf(0.0))
