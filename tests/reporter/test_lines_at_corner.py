import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from lapkit.course.line_table import columns
from lapkit.reporter.lines_at_corner import (
    exit_radius_of_line_m,
    lean_text,
    lines_at_corner,
    speed_text,
)
from lapkit.units import Units


@pytest.fixture
def table(event):
    """The lines of two corners, each row's cells from its number up."""
    first, second = (corner.name for corner in event.course.corners[:2])
    keys = [(first, "marker"), (first, "inside"), (second, "one lane in")]
    cells = [[*key, *(10.0 * i + np.arange(len(columns()) - 2))] for i, key in enumerate(keys)]
    return pd.DataFrame(cells, columns=columns())


def test_each_line_has_its_own_cells(event, table):
    one, other = lines_at_corner(table, event.course.corners[0])
    assert (one.name, other.name) == ("marker line", "inside the first seam")
    assert (one.radius_min_m, one.radius_min_at_m) == (0.0, 1.0)
    assert other.exit_radius_min_m == table["exit_radius_min_m"].iloc[1]
    assert other.length_m == table["length_m"].iloc[1]


def test_a_corner_without_a_seam_has_no_line_inside_one(event, table):
    table.loc[1, columns()[2:]] = np.nan
    (line,) = lines_at_corner(table, replace(event.course.corners[0], seams=()))
    assert line.name == "marker line"
    assert len(lines_at_corner(table, event.course.corners[0])) == 2


def test_ladders_are_keyed_by_the_numbers_in_their_columns(event, table):
    (line,) = lines_at_corner(table, event.course.corners[1])
    assert list(line.lean_deg) == [40.0, 60.0, 80.0, 100.0, 120.0]
    assert list(line.speed_kmh) == [20.0, 30.0, 40.0, 45.0]
    assert line.lean_deg[60.0] == table["lean_at_60_kmh_deg"].iloc[2]
    assert line.speed_kmh[45.0] == table["kmh_at_45_deg"].iloc[2]


def test_the_exit_is_the_marker_line_s(event, table):
    first, second = event.course.corners[:2]
    assert exit_radius_of_line_m(table, first) == table["exit_radius_min_m"].iloc[0]
    assert math.isnan(exit_radius_of_line_m(table, second))


@pytest.mark.parametrize(
    ("degrees", "told"), [(41.6, "42°"), (60.0, "60°"), (77.2, "over 60°"), (np.nan, "–")]
)
def test_a_lean_that_nobody_reaches_is_not_told_to_the_degree(degrees, told):
    assert lean_text(degrees) == told


def test_a_speed_that_no_machine_reaches_is_not_told():
    assert speed_text(118.0, Units.METRIC) == "118"
    assert speed_text(118.0, Units.US) == "73"
    assert speed_text(926.0, Units.METRIC) == speed_text(np.nan, Units.US) == "–"
