"""The parts of a track file in memory."""

import numpy as np

from lapkit.course.types import GeoCorner, GeoLine, Track, Turn

LINE = GeoLine(np.zeros((2, 2)))


def test_left_is_positive_as_curvature_is():
    assert (Turn.LEFT.sign, Turn.RIGHT.sign) == (1, -1)


def test_lines_are_those_that_the_file_has_in_the_order_of_their_roles():
    track = Track("t", "", marker_line=LINE, centre=LINE, right_edge=LINE)
    assert list(track.lines()) == ["centre", "right_edge", "marker_line"]
    assert list(track.lines("left_edge", "right_edge")) == ["right_edge"]
    assert track.lines("start_line") == {}


def test_what_a_notebook_shows_is_short():
    track = Track("a.geojson", "", corners=(GeoCorner("1", Turn.LEFT),), seams=(LINE, LINE))
    assert repr(track) == "<Track a.geojson: 1 corner, no cone, 2 seams>"
