"""A track as a GeoJSON document."""

import numpy as np

from lapkit.course.track_writer import document_of, line_geometry
from lapkit.course.types import GeoCorner, GeoLine, GeoMarker, GeoPoint, MarkerKind, Track, Turn


def test_only_what_says_something_is_written_and_what_was_kept_stands_beside_it():
    corner = GeoCorner("3", Turn.LEFT, properties={"colour": "red"}, members={"id": 7})
    (written,) = document_of(Track("", "", corners=(corner,)))["features"]
    assert written == {
        "type": "Feature",
        "id": 7,
        "properties": {"role": "corner", "name": "3", "turn": "left", "colour": "red"},
        "geometry": None,
    }


def test_a_camber_of_nothing_is_written():
    cone = GeoMarker("3", "exit", MarkerKind.EXIT, Turn.RIGHT, 8.0, 50.0, camber_deg=0.0)
    (written,) = document_of(Track("", "", markers=(cone,)))["features"]
    assert written["properties"]["camber_deg"] == 0.0
    assert written["geometry"] == {"type": "Point", "coordinates": [8.0, 50.0]}


def test_the_width_belongs_to_the_centre_alone():
    line = GeoLine(np.array([[8.0, 50.0], [8.1, 50.0]]))
    track = Track("", "", centre=line, left_edge=line, centre_width_m=9.0)
    widths = [f["properties"].get("width_m") for f in document_of(track)["features"]]
    assert widths == [9.0, None]


def test_a_bounding_box_is_not_written_again():
    point = GeoPoint(8.0, 50.0, members={"bbox": [0, 0, 1, 1], "id": "p"})
    document = document_of(Track("", "", hold_points=(point,), members={"bbox": [], "title": "t"}))
    assert document["title"] == "t" and "bbox" not in document
    assert document["features"][0]["id"] == "p" and "bbox" not in document["features"][0]


def test_a_height_that_is_not_known_is_left_out_of_its_position():
    line = GeoLine(np.array([[8.0, 50.0], [8.1, 50.0]]), np.array([120.0, np.nan]))
    assert line_geometry(line)["coordinates"] == [[8.0, 50.0, 120.0], [8.1, 50.0]]
