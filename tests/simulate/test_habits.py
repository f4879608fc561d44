from __future__ import annotations

from dataclasses import replace

import pytest

from lapkit.simulate.courses import built_in
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, Habit
from lapkit.simulate.truth import truth_tables

QUIET = replace(STYLES["smooth"], offset_sd_m=0.0, phase_sd_m=0.0, wobble_deg=0.0, lean_sd_deg=0.0)


def ridden(laps: int = 1, **changes: object):
    tables = truth_tables(ride(built_in("sample"), replace(QUIET, **changes), laps=laps, seed=2))
    return {name: table[table.lap.between(1, laps)] for name, table in tables.items()}


@pytest.fixture(scope="module")
def on_line():
    return ridden()


def by_corner(tables, table, column):
    frame = tables[table]
    return frame.set_index("corner")[column]


def test_who_keeps_to_the_line_keeps_its_radius_and_its_lanes(on_line):
    ratio = by_corner(on_line, "corners", "exit_radius_ratio")
    # Out of an S the line still bends a little sooner than a rider who has been rolled over.
    assert ratio.drop("Weir").between(0.93, 1.06).all()
    assert ratio["Weir"] < 1.1
    wide = on_line["markers"].wide_of_line_m
    assert wide.abs().median() < 0.15
    assert (on_line["markers"].gap_m > -0.1).all()


def test_inside_the_first_seam_at_every_exit(on_line):
    inside = ridden(habit=Habit(inside_seam_exit=True))
    for tables, above in ((inside, True), (on_line, False)):
        seams = tables["seams"]
        share = seams[seams.seam == "first seam"].inside_share
        assert (share > 0.6).all() if above else (share < 0.5).all()
    ratio = by_corner(inside, "corners", "exit_radius_ratio")
    assert (ratio < 0.7).all()


@pytest.mark.parametrize("share", [0.15, 0.3])
def test_a_tightened_exit_falls_short_by_the_share_asked_for(on_line, share):
    names = ("Larch", "Ravens Drop", "Tannery")
    tables = ridden(habit_at={name: Habit(tighten_exit=share) for name in names})
    radius = by_corner(tables, "corners", "exit_radius_min_m")
    line = by_corner(on_line, "corners", "line_exit_radius_min_m")
    for name in names:
        assert radius[name] / line[name] == pytest.approx(1.0 - share, abs=0.09)
    lean = by_corner(tables, "corners", "lean_max_deg") - by_corner(
        on_line, "corners", "lean_max_deg"
    )
    assert all(lean[name] > 13.0 * share for name in names)  # he has slowed down for some of it
    others = radius.drop(list(names)) / by_corner(on_line, "corners", "exit_radius_min_m")
    assert others.drop(list(names)).between(0.9, 1.1).all()


def test_an_early_turn_in_is_early_where_the_rider_turns(on_line):
    tables = ridden(habit_at={"Larch": Habit(early_turn_in_m=9.0)})
    wide = by_corner(tables, "markers", "wide_of_line_m") - by_corner(
        on_line, "markers", "wide_of_line_m"
    )
    marker = tables["markers"].marker.to_numpy()
    assert wide["Larch"].iloc[0] < -1.0
    assert marker[0] == "turn-in"
    assert wide.drop("Larch").abs().max() < 0.1


def test_a_lapse_happens_once_and_a_drift_grows():
    tables = ridden(laps=3, lapse_at={("Anvil", 2): Habit(apex_wide_m=2.0)}, drift_wide_m=0.5)
    markers = tables["markers"]
    apex = markers[(markers.corner == "Anvil") & (markers.marker == "apex")]
    wide = apex.set_index("lap").wide_of_line_m
    assert wide[2] - wide[1] == pytest.approx(2.5, abs=0.5)
    assert wide[3] - wide[1] == pytest.approx(1.0, abs=0.3)
