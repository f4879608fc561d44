from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course import place, read_track
from lapkit.sample import sample_event
from lapkit.simulate.road import Road


def test_a_centre_whose_first_points_have_no_height_has_a_road_all_the_same():
    track = read_track(sample_event() / "track.geojson")
    height = np.array(track.centre.height_m)
    height[:5] = np.nan
    part = replace(track, centre=replace(track.centre, height_m=height))
    whole, patched = (Road.of(place(one)) for one in (track, part))
    station = np.arange(300.0, 2000.0, 50.0)
    away = patched.height_at(station) - whole.height_at(station)
    assert away == pytest.approx(np.mean(away), abs=0.1)
    assert patched.height_at(np.zeros(1))[0] == pytest.approx(height[5], abs=0.01)
