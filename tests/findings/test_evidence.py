"""A rider's laps at a corner, gathered from the tables of his runs."""

import numpy as np
import pytest

from lapkit.findings.evidence import gather, p_above


@pytest.fixture
def weir(course):
    """The evidence at one corner of some runs."""

    def made(*rides):
        found = gather([ride.result() for ride in rides], course)
        return next(e for e in found if e.corner.name == "Weir")

    return made


def test_laps_of_all_runs_stand_in_time_order(run, weir):
    e = weir(run("am", laps=2), run("pm", laps=3))
    assert e.count == 5
    assert (e.run.tolist(), e.number.tolist()) == ([0, 0, 1, 1, 1], [1, 2, 1, 2, 3])
    assert [e.session(lap) for lap in range(5)] == ["am", "am", "pm", "pm", "pm"]


def test_poor_laps_and_those_not_timed_are_no_evidence(run, weir):
    ride = run(laps=4).corner("Weir", laps=[2], quality="poor")
    assert weir(ride).number.tolist() == [1, 3, 4]


def test_cones_and_seams_have_the_measures_of_the_same_laps(run, weir):
    ride = run(laps=4, scatter_m=0.0).corner("Weir", laps=[1], quality="poor")
    e = weir(ride.moved("Weir", "exit", 2.0, laps=[3]).inside_seam("Weir", 0.7, laps=[4]))
    assert e.cones["exit"].wide_of_line_m.value.tolist() == [0.0, 2.0, 0.0]
    assert e.seams["first seam"].p_inside.tolist() == [0.0, 0.0, 0.7]


def test_a_lap_without_a_line_at_a_cone_has_no_measure_there(run, course):
    result = run(laps=3).result()
    markers = result.markers
    lost = (markers["lap"] == 2) & (markers["corner"] == "Weir") & (markers["marker"] == "exit")
    result.tables["markers"] = markers[~lost]
    e = next(e for e in gather([result], course) if e.corner.name == "Weir")
    assert np.isnan(e.cones["exit"].gap_m.value).tolist() == [False, True, False]
    assert not np.isnan(e.cones["apex"].gap_m.value).any()


def test_the_last_run_is_the_last_one_with_enough_laps(run, weir):
    e = weir(run("1", laps=3), run("2", laps=4), run("3", laps=2))
    assert e.last_run.tolist() == [False] * 3 + [True] * 4 + [False] * 2
    assert weir(run("1", laps=2), run("2", laps=1)).last_run.all()


def test_the_usual_value_weighs_runs_by_their_laps(run, weir):
    few = run("1", laps=3, scatter_m=0.0).moved("Weir", "exit", 1.0)
    many = run("2", laps=6, scatter_m=0.0).moved("Weir", "exit", 4.0)
    mean, sd = weir(few, many).usual("wide_of_line_m", "exit")
    assert mean == pytest.approx(3.0)
    # Without scatter each run is off by its own 0.25 m.
    assert sd == pytest.approx(0.25 * np.hypot(1 / 3, 2 / 3))
    mean, sd = weir(few, many).usual_in_last_run("wide_of_line_m", "exit")
    assert (mean, sd) == pytest.approx((4.0, 0.25))


def test_the_error_that_laps_share_is_that_of_now(run, weir):
    e = weir(run("1", laps=3, sd_m=0.5), run("2", laps=3, sd_m=0.2), run("3", laps=1, sd_m=0.9))
    assert e.shared_sd("wide_of_line_m", "exit") == pytest.approx(0.2)


def test_what_no_run_measured_is_not_known(run, weir):
    e = weir(run())
    assert np.isnan(e.usual("nothing")).all()
    assert np.isnan(e.usual_in_last_run("nothing")).all()
    assert np.isnan(e.shared_sd("nothing"))


def test_markers_are_found_by_name_and_the_last_of_a_kind(run, weir):
    e = weir(run())
    exit_cone = e.corner.markers[-1]
    assert e.marker("exit") is exit_cone
    assert e.last_marker(exit_cone.kind) is exit_cone


def test_the_probability_of_lying_above_a_limit_is_the_normal_one():
    p = p_above([1.0, 2.0, 0.0, np.nan], 1.0, 1.0)
    assert p == pytest.approx([0.5, 0.8413447, 0.1586553, 0.0])
    assert p_above(1.0, 0.0, 0.9) == 1.0
