import re
from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.changes import Changed
from lapkit.compare.results import MeasureAt
from lapkit.compare.standard import standards
from lapkit.compare.usual import Usual, usual_of
from lapkit.reporter.between import run_changes, usual_words
from lapkit.units import Units

FIELDS = (
    "session_before", "session_after", "corner", "measure", "marker", "before", "after", "change",
    "change_lo", "change_hi", "found",
)  # fmt: skip


def changes_of(event, rows):
    rider = event.riders[0]
    changed = tuple(
        Changed(rider=rider.rider, p=0.001, **dict(zip(FIELDS, row, strict=True))) for row in rows
    )
    return run_changes(replace(rider, changed=changed), Units.METRIC)


def test_changes_are_sentences_in_words(event):
    rows = [
        ("1", "2", "Weir", "exit_radius_min_m", "", 66.0, 77.0, 11.0, 7.0, 15.0, True),
        ("1", "2", "Weir", "lean_max_deg", "", 45.0, 41.0, -4.0, -5.0, -3.0, True),
        ("1", "2", "Larch", "wide_of_line_m", "exit", 0.9, -0.5, -1.4, -1.6, -1.2, True),
        ("1", "2", "Anvil", "lean_max_deg", "", 45.0, 30.0, -15.0, -40.0, 10.0, False),
    ]
    assert changes_of(event, rows) == [
        (
            "run 1 to run 2",
            [
                (
                    "Weir",
                    [
                        "exit radius 11 ± 4 m more open, was 66 m",
                        "largest lean 4° ± 1° less, was 45°",
                    ],
                ),
                (
                    "Larch",
                    ["at the exit cone 1.4 ± 0.2 m further in, was 0.9 m wide"],
                ),
            ],
        )
    ]


ROW = ("Weir", "exit_radius_min_m", "", 66.0, 77.0)
MORE, LESS = (11.0, 7.0, 15.0, True), (-11.0, -15.0, -7.0, True)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            [("1", "2", *ROW, *MORE), ("1", "3", *ROW, *MORE)],
            ["run 1 to run 2, and still in run 3"],
        ),
        ([("2", "3", *ROW, *MORE), ("1", "3", *ROW, *MORE)], ["run 2 to run 3"]),
        ([("1", "2", *ROW, *MORE), ("1", "3", *ROW, *LESS)], ["run 1 to run 2", "run 1 to run 3"]),
        ([("1", "3", *ROW, *MORE)], ["run 1 to run 3"]),
        (
            [("1", "2", *ROW, *MORE), ("2", "3", *ROW, *MORE), ("1", "3", *ROW, *MORE)],
            ["run 1 to run 2", "run 2 to run 3", "run 1 to run 3"],
        ),
        ([("1", "2", *ROW, *MORE), ("2", "3", *ROW, *LESS)], ["run 1 to run 2", "run 2 to run 3"]),
    ],
)
def test_a_change_that_lasts_is_told_once(event, rows, told):
    rider = event.riders[0]
    runs = tuple(replace(rider.runs[0], session=s) for s in "123")
    three = replace(event, riders=(replace(rider, runs=runs, bikes=()),))
    assert [between for between, _ in changes_of(three, rows)] == told


def test_another_bike_is_named_where_runs_are_compared(event):
    rider = event.riders[0]
    rows = [("1", "2", *ROW, *MORE)]
    for bikes, told in (
        (("red", "blue"), "run 1 (red) to run 2 (blue)"),
        (("red", "red"), "run 1 to run 2"),
        (("", "blue"), "run 1 to run 2"),
    ):
        ridden = replace(event, riders=(replace(rider, bikes=bikes),))
        assert [between for between, _ in changes_of(ridden, rows)] == [told]


def test_one_run_has_no_change(event):
    assert run_changes(event.riders[1], Units.METRIC) == []


@pytest.mark.parametrize("units", Units)
def test_the_usual_lap_is_a_sentence_with_what_is_known(event, units):
    rider, corner = event.riders[1], event.course.corners[0]
    standard = standards(event.course)[corner.name]
    usual = usual_of(rider.runs[-1])
    said = usual_words(usual, corner, standard, rider, units)
    found = re.fullmatch(
        r"Your usual lap, the mean of \d laps: exit radius (\d+) ± \d+ (m|ft) where the line keeps (\d+) \2, "
        r"largest lean (\d+)° ± \d°, within \d\.\d \2 of the line at the exit cone\.",
        said,
    )
    assert found, said
    bend = usual[corner.name, "", "exit_curvature_1pm"].mean
    assert abs(float(found[1]) - 1.0 / bend / units.length_m) <= 0.5
    assert found[2] == units.length


def known_to(mean, half):
    """What eight laps tell of a measure, its 95 % interval reaching so far to either side."""
    return Usual(8, mean, 0.0, half / 1.96)


def test_a_side_of_the_line_is_named_where_it_is_known(event):
    rider, corner = event.riders[1], event.course.corners[0]
    usual = usual_of(rider.runs[-1])
    where = MeasureAt(corner.name, "exit", "wide_of_line_m")
    for wide, side in (
        (-1.4, "1.4 ± 0.3 m inside the line"),
        (2.0, "2.0 ± 0.3 m wide of the line"),
    ):
        here = usual | {where: known_to(wide, 0.3)}
        said = usual_words(here, corner, standards(event.course)[corner.name], rider, Units.METRIC)
        assert side in said


def test_where_the_line_is_known_too_badly_nothing_is_said_of_it(event):
    rider, corner = event.riders[1], event.course.corners[0]
    where = MeasureAt(corner.name, "exit", "wide_of_line_m")
    standard = standards(event.course)[corner.name]
    told = []
    for half in (2.9, 3.1):
        here = usual_of(rider.runs[-1]) | {where: known_to(-1.0, half)}
        told.append(usual_words(here, corner, standard, rider, Units.METRIC))
    assert "at the exit cone" in told[0] and told[1].endswith("°.")


def test_nothing_is_said_where_nothing_is_known(event):
    rider, corner = event.riders[1], event.course.corners[0]
    assert usual_words({}, corner, standards(event.course)[corner.name], rider, Units.US) == ""


def test_scatter_from_lap_to_lap_is_in_what_is_known_of_the_usual_lap(event):
    rider = event.riders[1]
    table = rider.runs[-1].tables["usual"]
    row = table[table["laps"] > 1].iloc[0]
    sd = usual_of(rider.runs[-1])[row.corner, row.marker, row.measure].sd
    assert sd == pytest.approx(np.hypot(row.shared_sd, row.scatter_sd / row.laps**0.5))
    assert sd > row.shared_sd
