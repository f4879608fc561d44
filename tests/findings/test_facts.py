"""What is told at its corner and is no fault: inside the seam yet more open."""

import pytest

from lapkit.findings import Kind, find


def openly(ride, name="Barn"):
    """Inside the seam at the exit, far from its cone, and more open than the marker line."""
    ride.inside_seam(name).moved(name, "exit", -3.0)
    # The made-up course's line is a circle of 82 m.
    radii = {"exit_radius_min_m": 98.0, "line_exit_radius_min_m": 82.0, "exit_radius_ratio": 1.2}
    return ride.corner(name, **radii)


def test_inside_the_seam_with_a_longer_radius_is_a_fact_and_no_fault(run, course, faults):
    found = find([openly(run()).result()], course)
    assert not faults(found)
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert fact.text == (
        "Inside the first seam at the exit in all 6 laps, with a longer radius there all the same: "
        "98 m, give or take 1, where the marker line keeps 82 m."
    )
    assert fact.details[0].startswith("Nothing to work on: ask why")
    assert fact.harm == 0.0 and fact.size == pytest.approx(0.2)
    (well,) = [f for f in found if f.kind is Kind.WELL]
    assert well.corner != "Barn"


def test_it_is_a_fault_where_the_radius_is_not_surely_longer(run, course, faults):
    ride = openly(run()).corner("Barn", exit_radius_min_m=83.0, exit_radius_ratio=1.01)
    found = find([ride.result()], course)
    assert faults(found)[0].code == "inside_seam"
    assert not [f for f in found if f.kind is Kind.FACT]


def test_laps_longer_than_the_line_are_no_fact_where_the_usual_lap_is_not_surely(
    run, course, faults
):
    """The usual lap has to be surely 3 % longer than the line's 82 m, not only the median of single laps."""
    ride = openly(run()).corner("Barn", exit_radius_min_m=84.2, exit_radius_ratio=1.05)
    assert faults(find([ride.result()], course))[0].code == "inside_seam"


def test_another_fault_at_that_corner_leads_and_the_fact_is_told_all_the_same(run, course, faults):
    found = find([openly(run()).moved("Barn", "apex", 2.0).result()], course)
    assert [f.code for f in faults(found)] == ["apex_missed"]
    (fact,) = [f for f in found if f.kind is Kind.FACT]
    assert fact.details[0].startswith("That is no fault")


def test_who_keeps_outside_of_the_seam_or_does_so_again_is_not_told_of_it(run, course, faults):
    radii = {"exit_radius_min_m": 98.0, "line_exit_radius_min_m": 82.0, "exit_radius_ratio": 1.2}
    outside = run("2", seed=1).corner("Barn", **radii)
    for runs in ([outside], [openly(run("1")), outside]):
        found = find([each.result() for each in runs], course)
        assert "inside_openly" not in [f.code for f in found]
        # It was no fault, so nothing was mended.
        assert not faults(found) and found[-1].code != "mended"
