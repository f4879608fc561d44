from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import lapkit
from lapkit.compare import corners, markers, seams
from lapkit.compare.tables import LAP_COLUMNS
from lapkit.findings import RiderReview
from lapkit.measuring.reviews import EventReview


def test_tables_have_the_columns_of_the_files(run):
    for table, columns in (
        (run.laps, LAP_COLUMNS),
        (run.corners, corners.COLUMNS),
        (run.markers, markers.COLUMNS),
        (run.seams, seams.COLUMNS),
    ):
        assert list(table.columns[: len(columns)]) == list(columns)
        assert len(table) > 0


def test_a_radius_with_its_interval_in_five_lines(folder):
    truth = pd.read_csv(folder / "truth_corners.csv", dtype={"session": str})
    true = truth.query("rider == 'Iska' and session == '1' and lap == 3 and corner == 'Larch'")
    run = lapkit.measure(folder / "logs/iska-1.csv", lapkit.read_course(folder / "track.geojson"))
    lap = run.corners.set_index(["lap", "corner"]).loc[(3, "Larch")]
    assert lap.radius_min_lo_m < lap.radius_min_m < lap.radius_min_hi_m
    assert lap.radius_min_m == pytest.approx(float(true.radius_min_m.iloc[0]), rel=0.05)


def test_a_table_can_be_changed_without_changing_the_run(run):
    table = run.corners
    table["lap"] = -1
    assert (run.corners["lap"] >= 0).all()


def test_trace_has_a_row_for_each_fix_of_the_laps(run):
    assert len(run.trace) == pytest.approx(run.laps["samples"].sum(), abs=len(run.laps))
    assert {"lat", "lon", "speed_mps", "lean_deg", "curvature_sd_1pm"} <= set(run.trace.columns)


def test_what_a_notebook_shows_unasked_is_one_short_line(run, course):
    assert repr(run) == "<Run 1 of Iska: 8 timed laps>"
    assert repr(course).startswith("<Course of 2791 m: Larch, Kiln Square, ")
    assert repr(course.corners[0]) == "<Corner Larch, right: 3 cones, 2 seams>"
    assert repr(course.track).endswith("track.geojson: 8 corners, 25 cones, 16 seams>")
    assert repr(run.result).startswith("<RunResult of run 1 of Iska: laps, ")
    assert repr(run.path).endswith(f"iska-1.csv: {len(run.log)} fixes, 32 draws>")
    assert (
        repr(run.path.at(run.log.time_s[:9])) == "<PathDraws: the estimate and 32 draws at 9 times>"
    )
    assert repr(run.log).endswith(f"iska-1.csv: {len(run.log)} fixes>")
    rider = RiderReview("Iska", "quick", (run.result,), ())
    event = EventReview(course, (rider,), (), run.result.tables, title="Spring")
    assert repr(rider) == "<RiderReview of Iska: 1 run, no finding>"
    assert repr(event) == "<EventReview of Spring: Iska>"


def test_a_track_file_is_no_course_until_it_is_read(folder):
    log, track = folder / "logs/iska-1.csv", folder / "track.geojson"
    for given in (track, str(track), lapkit.read_track(track)):
        with pytest.raises(lapkit.OptionError, match="measured on a course") as error:
            lapkit.measure(log, given)
        assert "lapkit.read_course" in error.value.remedy


def test_a_run_without_a_track_file_finds_its_own_course(folder):
    run = lapkit.measure(folder / "logs" / "iska-2.csv")
    assert run.course.found
    # Its start line stands elsewhere on the loop and may be crossed once more.
    assert (run.laps["kind"] == "timed").sum() in (8, 9)
    assert run.rider == "iska-2"


def test_a_log_at_hand_needs_no_file_for_its_course(folder):
    log = lapkit.read_log(folder / "logs" / "iska-2.csv")
    run = lapkit.measure(replace(log, source="given away.csv"))
    assert run.course.found
    assert (run.laps["kind"] == "timed").sum() in (8, 9)


def test_a_run_is_of_whom_the_log_names_unless_told_otherwise(folder, course):
    log = replace(lapkit.read_log(folder / "logs" / "iska-2.csv"), rider="Iska Moen")
    assert lapkit.measure(log, course).rider == "Iska Moen"
    assert lapkit.measure(log, course, rider="Iska").rider == "Iska"


def test_heights_reach_the_path(folder, course, run):
    log = lapkit.read_log(folder / "logs" / "iska-1.csv")
    heights = lapkit.Heights(antenna_m=0.6, antenna_sd_m=0.02)
    low = lapkit.measure(log, course, heights=heights)
    assert low.path.heights == heights
    assert float(low.table("logs")["antenna_height_m"].iloc[0]) == 0.6
    assert not low.corners["radius_min_m"].equals(run.corners["radius_min_m"])


def test_a_log_says_whether_its_antenna_height_was_only_taken_to_be_the_usual_one(
    folder, course, run
):
    said = "No antenna height was given, so 0.9 m above the road was taken"
    assert said in run.table("logs")["note"].iloc[0]
    log = lapkit.read_log(folder / "logs" / "iska-1.csv")
    given = lapkit.measure(log, course, heights=lapkit.Heights(antenna_m=0.9))
    assert "antenna" not in given.table("logs")["note"].iloc[0]


@pytest.mark.parametrize(
    ("ask", "near"),
    [
        (lambda run: run.course.corner("Larsh"), "'Larch'"),
        (lambda run: run.traces("ANVIL"), "'Anvil'"),
        (lambda run: lapkit.draw_along(run, "Ravens Dorp"), "'Ravens Drop'"),
        (lambda run: run.table("corner"), "'corners'"),
        (lambda run: run.course.corner(3), "Larch"),
        (lambda run: lapkit.draw_corner(run, run.course.corners[0]), "Larch"),
        (lambda run: run.lap(99), "0, 1, 2"),
        (lambda run: lapkit.draw_corner(run, "Larch", lap=99), "1, 2, 3"),
        (lambda run: lapkit.draw_corner(run, "Larch", units="imperial"), "us"),
    ],
)
def test_a_mistyped_name_gets_the_nearest(run, ask, near):
    with pytest.raises(lapkit.OptionError, match=r"no |unit") as caught:
        ask(run)
    assert near in str(caught.value)


def test_a_number_calls_a_corner_that_is_numbered(folder):
    run = lapkit.measure(folder / "logs" / "iska-1.csv")
    assert run.traces(2)
    assert {trace.corner for trace in run.traces(2)} == {"2"}


def test_a_path_is_asked_at_a_single_time_too(run):
    start = run.lap(3).start_s
    one, two = run.path.at(start), run.path.at(np.array([start, start + 1.0]))
    assert one.x_m.shape == (33, 1)
    np.testing.assert_allclose(one.x_m[:, 0], two.x_m[:, 0], rtol=1e-14)  # matmul sums otherwise
