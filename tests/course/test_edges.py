"""Edges as offsets from the reference, between the stations at which they are known."""

import numpy as np
import pytest

from lapkit.course.edges import Edges
from lapkit.course.stations import StationLine

EDGES = Edges(np.array([0.0, 50.0]), np.array([4.0, 6.0]), np.array([-5.0, -3.0]))


def test_edges_are_linear_between_stations_and_keep_the_shape_asked_for():
    line = StationLine.through([0.0, 50.0, 100.0], [0.0, 0.0, 0.0], False)
    left, right = EDGES.along(line, [[0.0, 25.0], [50.0, 90.0]])
    assert left == pytest.approx(np.array([[4.0, 5.0], [6.0, 6.0]]))
    assert right == pytest.approx(np.array([[-5.0, -4.0], [-3.0, -3.0]]))


def test_on_a_loop_they_go_on_from_the_last_station_to_the_first_a_lap_on():
    angle = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    ring = StationLine.through(
        *(100.0 / 2.0 / np.pi * np.array([np.cos(angle), np.sin(angle)])), True
    )
    left, _ = EDGES.along(ring, np.array([75.0, ring.length_m + 25.0]))
    assert left == pytest.approx([5.0, 5.0], abs=0.01)
