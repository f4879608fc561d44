"""A corner seen from above, whole and close up."""

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text

from lapkit.course.types import Hazard
from lapkit.reporter.figures import overhead
from lapkit.reporter.figures.overhead import FromAbove
from lapkit.reporter.figures.view import Box, Label, View, apart, room_above, upright


def test_the_rider_comes_in_from_below(event, drawn, paths):
    for corner in event.course.corners:
        svg = drawn(overhead(event.course, corner))
        edge = paths(svg, "#000000")[0]
        assert edge[0, 1] > edge[3, 1]
        assert abs(edge[3, 0] - edge[0, 0]) < 0.3 * (edge[0, 1] - edge[3, 1])


def test_lanes_are_numbered_from_the_inside(event, drawn):
    """In a left corner the inside is on the left of who comes in from below."""
    for corner in event.course.corners:
        svg = drawn(overhead(event.course, corner))
        x = {
            n: float(v) for v, n in re.findall(r'<text [^>]* x="([\d.]+)"[^>]*>([123])</text>', svg)
        }
        assert sorted(x) == ["1", "2", "3"]
        assert (x["1"] < x["2"] < x["3"]) == (corner.turn.value == "left")


def test_what_a_file_calls_a_cone_is_shown_as_it_stands(event, drawn):
    corner = event.course.corners[0]
    names = ("$\\frac{1}{2}$", "<b>&", "1.25 é中")
    markers = tuple(replace(m, name=n) for m, n in zip(corner.markers, names, strict=True))
    svg = drawn(overhead(event.course, replace(corner, markers=markers)))
    for shown in (">$\\frac{1}{2}$<", ">&lt;b&gt;&amp;<", ">1.25 é中<"):
        assert shown in svg


def test_a_close_up_is_larger_and_rings_the_place(event, laps, drawn):
    corner, traces = laps
    here = corner.apexes_m[0]
    span = (here - 20, here + 20)
    shown = FromAbove(event.course, corner, traces, ("1", 1), span_m=span, here_m=here)
    close = drawn(shown.figure())
    ring = re.search(r'<g class="here">.*?d="([^"]+)"', close, re.DOTALL)[1]
    apex = re.search(r'<path d="([^"]+)"[^>]*style="stroke: #000000; stroke-width: 1.8', close)[1]
    middles = [
        np.array(re.findall(r"[\d.]+", p), dtype=float).reshape(-1, 2).mean(axis=0)
        for p in (ring, apex)
    ]
    assert np.hypot(*(middles[0] - middles[1])) < 60.0
    assert ">exit<" not in close


def test_hazards_stand_where_they_are(event, drawn):
    corner = event.course.corners[2]
    marker = corner.markers[1]
    lat, lon = event.course.plane.to_lat_lon(marker.x_m + 8.0, marker.y_m)
    hazard = Hazard("oil", {"type": "Point", "coordinates": [float(lon), float(lat)]}, corner.name)
    course = replace(event.course, hazards=(hazard,))
    assert ">!</text>" in drawn(overhead(course, corner))
    assert ">!</text>" not in drawn(overhead(course, course.corners[3]))


@pytest.mark.parametrize("back_m", [-20.0, 0.0, 30.0, 70.0])
def test_a_close_up_too_is_entered_from_below(event, back_m, drawn):
    corner = next(c for c in event.course.corners if len(c.apexes_m) > 1)
    begins = corner.turn_in_m + back_m
    view = upright(event.course, corner, begins)
    heading = float(event.course.reference.heading_at(max(begins, corner.turn_in_m)))
    assert view.turned(np.cos(heading), np.sin(heading)) == pytest.approx((0.0, 1.0), abs=1e-12)
    svg = drawn(FromAbove(event.course, corner, span_m=(begins, begins + 90.0)).figure())
    width = float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1])
    lanes = re.findall(r'<text [^>]* x="([\d.]+)"[^>]*>([123])</text>', svg)
    assert [n for _, n in lanes] == ["1", "2", "3"]
    assert all(5.0 < float(x) < width - 5.0 for x, _ in lanes)


def test_names_that_would_lie_on_each_other_move_apart():
    boxes = [
        Box(0.0, 50.0, 0.0, 20.0),
        Box(10.0, 60.0, 5.0, 25.0),
        Box(20.0, 40.0, 1.0, 21.0),
        Box(200.0, 220.0, 0.0, 20.0),
    ]
    moved = [box.lifted(by) for box, by in zip(boxes, apart(boxes), strict=True)]
    assert moved[0] == boxes[0]
    assert moved[3] == boxes[3]
    for i, one in enumerate(moved):
        for other in moved[:i]:
            beside = one.left >= other.right or other.left >= one.right
            assert beside or one.low >= other.high or other.low >= one.high


def test_a_name_below_its_cone_moves_down_as_far_as_there_is_room():
    boxes = [Box(0.0, 50.0, low, low + 20.0) for low in (40.0, 30.0, 35.0)]
    assert apart(boxes) == [0.0, 30.0, 45.0]
    assert apart(boxes, [np.inf, 15.0, 5.0]) == [0.0, -10.0, 25.0]
    assert apart(boxes, [np.inf, 25.0, -5.0]) == [0.0, 30.0, -15.0]


def test_names_of_two_apexes_inside_a_bend_stand_nearest_to_their_own_cones():
    # Moved up, the second name came to stand beside the first cone, across the road.
    places = np.array([[60.0, 190.0], [0.0, 170.0]])
    sides = ((-0.2, -0.98), (0.7, -0.7))
    labels = [
        Label(*place, *side, f"apex {n}")
        for n, (place, side) in enumerate(zip(places, sides, strict=True), 1)
    ]
    lifts, height = room_above(labels, View(1.0, 0.0), 200.0, floor=46.0)
    assert lifts[0] == 0.0 and lifts[1] < 0.0 and height > 190.0
    for own, (label, lift) in enumerate(zip(labels, lifts, strict=True)):
        left, right, low, high = label.box(*places[own])
        nearest = np.clip(places, [left, low + lift], [right, high + lift])
        assert np.argmin(np.hypot(*(nearest - places).T)) == own
    # Without room below it has to go up.
    assert room_above(labels, View(1.0, 0.0), 200.0, floor=150.0)[0][1] > 0.0


def test_a_cone_in_the_ring_keeps_its_shape(event, laps, drawn):
    corner, traces = laps
    apex = corner.apexes_m[0]
    span = (apex - 30.0, apex + 30.0)
    shown = FromAbove(event.course, corner, traces, ("1", 2), span_m=span, here_m=apex)
    svg = drawn(shown.figure())
    halo = svg.index("stroke: #ffffff; stroke-width: 5")
    cone = max(m.start() for m in re.finditer(r"stroke: #000000; stroke-width: 1\.8", svg))
    assert halo < cone < svg.index('class="here"')


def test_a_ring_does_not_lie_on_the_name_of_the_cone_that_it_is_about(event):
    corner = event.course.corners[0]
    traces = [t for t in event.riders[1].runs[0].traces if t.corner == corner.name]
    thick = (traces[0].session, traces[0].lap)
    for cone in corner.markers:
        at = cone.station_m
        span = (at - 45.0, at + 45.0)
        figure = FromAbove(event.course, corner, traces, thick, span_m=span, here_m=at).figure()
        figure.canvas.draw()
        name = next(t for t in figure.findobj(Text) if t.get_text() == cone.name)
        ring = next(p for p in figure.findobj() if p.get_gid() == "here")
        circle = ring.get_transform().transform(ring.get_segments()[0])
        middle = 0.5 * (circle.min(axis=0) + circle.max(axis=0))
        box = name.get_window_extent()
        nearest = np.clip(middle, [box.x0, box.y0], [box.x1, box.y1])
        assert np.hypot(*(nearest - middle)) > 0.5 * np.ptp(circle[:, 0])
