from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lapkit.simulate.courses import built_in
from lapkit.simulate.pit import PIT_SPEED_MPS, PitLane
from lapkit.simulate.ride import HOLD_S, ride
from lapkit.simulate.style import STYLES
from lapkit.simulate.truth import true_laps


def bare(**changes):
    return replace(built_in("twisty"), **changes)


def test_the_drawn_pit_lane_is_ridden_at_its_speed(rough):
    pit = PitLane.of(rough.course)
    inside = rough.dense.time_s < HOLD_S + 8.0
    moment = rough.dense
    assert moment.speed_mps[inside].max() < PIT_SPEED_MPS + 0.5
    x, y = rough.tyre_xy(moment.time_s[inside])
    station, offset = rough.course.reference.follow(x, y)
    along = rough.course.reference.way(station - pit.hold_station_m)
    assert np.abs(offset - pit.offset_at(along)).max() < 0.3
    assert pit.share(np.array([0.0, 400.0])).tolist() == [1.0, 0.0]


@pytest.mark.parametrize(
    "course",
    [
        bare(pit_lanes=()),
        bare(hold_points=None),
        bare(hold_points=None, pit_lanes=()),
        bare(pit_lanes=(np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 0.0]]),)),
    ],
    ids=["no lane", "no hold point", "neither", "an outline"],
)
def test_whatever_the_track_file_lacks_the_laps_are_there(course):
    run = ride(course, STYLES["novice"], laps=2, seed=1)
    assert [lap.kind for lap in true_laps(run)] == ["out", "timed", "timed", "in"]
    assert run.at(np.array([1.0])).speed_mps[0] == pytest.approx(0.0, abs=1e-6)
