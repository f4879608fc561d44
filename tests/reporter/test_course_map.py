"""The course's map and the names on it."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.text import Text

from lapkit.course.course import Corner, Course
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn
from lapkit.reporter.figures import (
    course_map,
    svg_of,
)
from lapkit.simulate.courses import course_named


def drawn(figure):
    return str(svg_of(figure, "x-", "title", "words"))


def test_the_map_names_every_corner(event):
    svg = drawn(course_map(event.course))
    assert all(f">{c.name}<" in svg for c in event.course.corners)


@pytest.mark.parametrize("name", ["flowing", "twisty", "sample"])
def test_a_name_on_the_map_stands_nearest_to_its_own_corner(name):
    course = course_named(Path(name))
    figure = course_map(course)
    figure.canvas.draw()
    arcs = next(a for a in figure.findobj(LineCollection) if a.get_linewidth()[0] == 6.0)
    arcs = [arcs.get_transform().transform(path.vertices) for path in arcs.get_paths()]
    for number, corner in enumerate(course.corners):
        (word,) = [t for t in figure.findobj(Text) if t.get_text() == corner.name]
        low, high = word.get_window_extent().get_points()
        middle = 0.5 * (low + high)
        # From the word's nearest end and from its middle.
        away = [
            np.hypot(*(arc - np.clip(arc, low, high)).T).min() + np.hypot(*(arc - middle).T).min()
            for arc in arcs
        ]
        assert np.argmin(away) == number, corner.name


@pytest.mark.parametrize("turned_deg", [0, 45, 100, 270])
@pytest.mark.parametrize("name", ["flowing", "twisty", "sample"])
def test_no_name_on_the_map_lies_on_the_road(name, turned_deg):
    course = course_named(Path(name))
    figure = course_map(turned(course, np.radians(turned_deg)))
    figure.canvas.draw()
    (road,) = road_of(figure)
    fine = np.linspace(road[:-1], road[1:], 9).reshape(-1, 2)
    for corner in course.corners:
        (word,) = [t for t in figure.findobj(Text) if t.get_text() == corner.name]
        low, high = word.get_window_extent().get_points()
        assert not np.any(np.all((fine > low) & (fine < high), axis=1)), corner.name


def turned(course, by_rad):
    """The course as it would lie turned round: what is drawn of it."""
    way = course.reference
    spin = np.array([[np.cos(by_rad), np.sin(by_rad)], [-np.sin(by_rad), np.cos(by_rad)]])
    line = StationLine.through(*(np.stack([way.x_m, way.y_m], axis=-1) @ spin).T, True)
    return Course(course.plane, line, course.start_line @ spin, course.corners)


def road_of(figure):
    road = next(a for a in figure.findobj(LineCollection) if a.get_linewidth()[0] == 3.0)
    return [road.get_transform().transform(path.vertices) for path in road.get_paths()]


def test_where_every_place_of_a_name_on_the_map_is_on_the_road_the_one_that_hides_least_is_taken():
    # Beside the long corner's name the road comes back on its outer side.
    names = ("Gate", "Quarry", "Dip", "Nettle", "Chapel", "Long Bank", "Bowl", "Shed")
    spots = 2.5 * np.array([
        (165, 410), (325, 410), (318, 300), (360, 255), (272, 100), (258, 200), (80, 320), (150, 345),
    ], dtype=float)  # fmt: skip
    ends = np.concatenate([spots, spots[:1]])
    along = np.concatenate([np.linspace(a, b, 50, endpoint=False) for a, b in pairwise(ends)])
    reference = StationLine.through(*np.concatenate([along, along[:1]]).T, True)
    station, _ = reference.project(*spots.T)
    corners = [
        Corner(
            name,
            Turn.LEFT if name in ("Dip", "Long Bank", "Shed") else Turn.RIGHT,
            s - 50.0,
            (s,),
            s + 50.0,
        )
        for name, s in zip(names, station.tolist(), strict=True)
    ]
    start = spots[:2].mean(axis=0) + np.array([[0.0, 6.0], [0.0, -6.0]])
    figure = course_map(Course(Plane(47.0, 8.0), reference, start, tuple(corners)))
    figure.canvas.draw()
    (points,) = road_of(figure)
    for name in names:
        (word,) = [t for t in figure.findobj(Text) if t.get_text() == name]
        low, high = word.get_window_extent().get_points()
        assert np.count_nonzero(np.all((points > low) & (points < high), axis=1)) <= 2, name
