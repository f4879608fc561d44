import re
from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.results import MeasureAt
from lapkit.compare.standard import standards
from lapkit.compare.usual import Usual, usual_of
from lapkit.reporter.display import EMPTY
from lapkit.reporter.usual_lap import side_by_side, usual_words
from lapkit.units import Units


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


def through(corner, laps=8, bend=0.02, lean=40.0, wide=1.2):
    """A usual lap through a corner, each value known to its last digit."""
    at = {
        ("", "exit_curvature_1pm"): bend,
        ("", "lean_deg"): lean,
        ("exit", "wide_of_line_m"): wide,
    }
    return {
        MeasureAt(corner.name, marker, measure): Usual(laps, value, 0.0, 0.0)
        for (marker, measure), value in at.items()
    }


@pytest.mark.parametrize(
    ("runs", "laps", "begins"),
    [
        (1, 8, "Your usual lap, the mean of 8 laps: "),
        (2, 8, "Your usual lap of run 2, the mean of its 8 laps: "),
        (1, 1, "Your only measured lap: "),
        (2, 1, "Your only measured lap of run 2: "),
    ],
)
def test_of_which_run_and_how_many_laps_is_said(event, runs, laps, begins):
    corner = event.course.corners[0]
    rider = replace(event.riders[0], runs=event.riders[0].runs[:runs])
    standard = standards(event.course)[corner.name]
    said = usual_words(through(corner, laps), corner, standard, rider, Units.METRIC)
    assert said.startswith(begins + "exit radius 50")


def test_riders_stand_side_by_side_under_what_the_line_keeps(event):
    corner = event.course.corners[0]
    standard = standards(event.course)[corner.name]
    one, other = event.riders
    usual = [
        (one, through(corner)),
        (other, through(corner, laps=1, bend=0.0, wide=-0.5)),
        (replace(other, rider="Cy", group=""), {}),
        (replace(other, rider="Di", group=""), through(corner)),
    ]
    table = side_by_side(usual, corner, standard, Units.METRIC)
    assert table.corner == corner.name
    assert table.head == (
        "Rider", "Group", "Run", "Laps", f"exit radius, m (the line {standard.exit_radius_m:.0f})",
        f"largest lean, {corner.turn}", "exit: from the line, m",
    )  # fmt: skip
    assert table.rows == [
        (one.rider, one.group, "2", "8", "50", "40°", "1.2 wide"),
        (other.rider, other.group, "1", "1", EMPTY, "40°", "0.5 inside"),
        ("Di", EMPTY, "1", "8", "50", "40°", "1.2 wide"),
    ]


def test_without_cones_and_line_no_column_needs_them(event):
    corner = replace(event.course.corners[0], markers=())
    bare = replace(standards(event.course)[corner.name], line=None)
    head = side_by_side([], corner, bare, Units.US).head
    assert head[4:] == ("exit radius, ft", f"largest lean, {corner.turn}")


def test_a_radius_is_known_as_well_as_its_curvature(event):
    corner, rider = event.course.corners[0], event.riders[1]
    bare = replace(standards(event.course)[corner.name], line=None)
    bend = MeasureAt(corner.name, "", "exit_curvature_1pm")
    # Two hundredths of a curvature of 1/50 m: as much of 50 m.
    usual = through(corner) | {bend: known_to(0.02, 0.02 * 0.02)}
    said = usual_words(usual, corner, bare, rider, Units.METRIC)
    assert "exit radius 50 ± 1 m, largest lean" in said
    usual[bend] = known_to(0.02, 0.2 * 0.02)
    assert "exit radius 50 ± 10 m, " in usual_words(usual, corner, bare, rider, Units.METRIC)
