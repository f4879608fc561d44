import re
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from matplotlib.text import Text

from lapkit.course.types import Hazard
from lapkit.reporter.figures import (
    along,
    corner_icon,
    course_map,
    overhead,
    standalone,
    straightened,
    svg_of,
)
from lapkit.reporter.figures.along import leaves_the_panels
from lapkit.reporter.figures.canvas import one_figure, text_width
from lapkit.reporter.figures.frame import FOOT, Frame
from lapkit.reporter.figures.straightened import DRAWN_HEIGHT
from lapkit.reporter.figures.style import ACCENT, GREY
from lapkit.reporter.figures.view import apart, upright
from lapkit.units import Units

DRAWINGS = (overhead, straightened, along)


@pytest.fixture(scope="module")
def laps(event):
    rider, corner = event.riders[0], event.course.corners[1]
    return corner, [t for run in rider.runs for t in run.traces if t.corner == corner.name]


def drawn(figure):
    return str(svg_of(figure, "x-", "title", "words"))


def paths(svg, color, dash=None):
    found = re.findall(rf'<path d="([^"]+)"[^>]*style="[^"]*stroke: {color}[^"]*"', svg)
    return [np.array(re.findall(r"-?[\d.]+", p), dtype=float).reshape(-1, 2) for p in found]


@pytest.mark.parametrize("draw", DRAWINGS)
def test_figures_are_matplotlib_s_and_real_text(event, laps, draw):
    corner, traces = laps
    figure = draw(event.course, corner, traces, ("1", 2))
    assert isinstance(figure, Figure)
    svg = drawn(figure)
    assert ">turn-in</text>" in svg
    assert ">apex 1</text>" in svg
    assert not re.search(r"<(use|defs|style|image|script)\b", svg)
    assert set(re.findall(r'\bid="([^"]+)"', svg)) == {"x-title", "x-desc"}


@pytest.mark.parametrize("draw", DRAWINGS)
def test_the_same_laps_give_the_same_picture(event, laps, draw):
    corner, traces = laps
    assert drawn(draw(event.course, corner, traces)) == drawn(draw(event.course, corner, traces))


@pytest.mark.parametrize(("draw", "panels"), [(overhead, 1), (straightened, 1), (along, 2)])
def test_every_lap_is_a_grey_line_and_the_one_spoken_of_is_thick(event, laps, draw, panels):
    corner, traces = laps
    svg = drawn(draw(event.course, corner, traces, ("2", 1)))
    grey = re.findall(r'<g class="laps">.*?</g>', svg, re.DOTALL)
    assert sum(g.count("<path") for g in grey) == panels * len(traces)
    assert len(grey) == panels * 2  # a group for each run
    assert sum("stroke-dasharray" in g for g in grey) == panels  # the earlier one in dashes
    spoken = re.findall(r'<g class="spoken">.*?</g>', svg, re.DOTALL)
    assert len(spoken) == panels
    assert all(ACCENT in s and "stroke-width: 2.8" in s for s in spoken)


@pytest.mark.parametrize("draw", DRAWINGS)
def test_a_lap_has_at_most_five_hundred_points_and_stays_on_the_paper(event, laps, draw):
    corner, traces = laps
    figure = draw(event.course, corner, traces)
    width, height = 72.0 * figure.get_size_inches()
    for path in paths(drawn(figure), GREY):
        assert len(path) <= 500
        assert path.min() >= -1.0
        assert path[:, 0].max() <= width + 1.0
        assert path[:, 1].max() <= height + 1.0


def test_the_rider_comes_in_from_below(event):
    for corner in event.course.corners:
        svg = drawn(overhead(event.course, corner))
        edge = paths(svg, "#000000")[0]
        assert edge[0, 1] > edge[3, 1]
        assert abs(edge[3, 0] - edge[0, 0]) < 0.3 * (edge[0, 1] - edge[3, 1])


def test_lanes_are_numbered_from_the_inside(event):
    """In a left corner the inside is on the left of who comes in from below."""
    for corner in event.course.corners:
        svg = drawn(overhead(event.course, corner))
        x = {
            n: float(v) for v, n in re.findall(r'<text [^>]* x="([\d.]+)"[^>]*>([123])</text>', svg)
        }
        assert sorted(x) == ["1", "2", "3"]
        assert (x["1"] < x["2"] < x["3"]) == (corner.turn.value == "left")


def test_straightened_has_the_outside_on_top_whichever_way_it_turns(event):
    for corner in event.course.corners:
        svg = drawn(straightened(event.course, corner, ()))
        y = {
            n: float(v)
            for v, n in re.findall(r'y="([\d.]+)"[^>]*>(inside|outside|1|3)</text>', svg)
        }
        assert y["outside"] < y["3"] < y["1"] < y["inside"]


def test_what_a_file_calls_a_cone_is_shown_as_it_stands(event):
    corner = event.course.corners[0]
    names = ("$\\frac{1}{2}$", "<b>&", "1.25 é中")
    markers = tuple(replace(m, name=n) for m, n in zip(corner.markers, names, strict=True))
    svg = drawn(overhead(event.course, replace(corner, markers=markers)))
    for shown in (">$\\frac{1}{2}$<", ">&lt;b&gt;&amp;<", ">1.25 é中<"):
        assert shown in svg


def test_a_course_without_cones_and_edges_can_be_drawn(found_event):
    run = found_event.riders[0].runs[0]
    for corner in found_event.course.corners:
        traces = [t for t in run.traces if t.corner == corner.name]
        for draw in DRAWINGS:
            assert "NaN" not in drawn(draw(found_event.course, corner, traces, None, Units("us")))


def test_a_close_up_is_larger_and_rings_the_place(event, laps):
    corner, traces = laps
    here = corner.apexes_m[0]
    close = drawn(
        overhead(event.course, corner, traces, ("1", 1), span_m=(here - 20, here + 20), here_m=here)
    )
    ring = re.search(r'<g class="here">.*?d="([^"]+)"', close, re.DOTALL)[1]
    apex = re.search(r'<path d="([^"]+)"[^>]*style="stroke: #000000; stroke-width: 1.8', close)[1]
    middles = [
        np.array(re.findall(r"[\d.]+", p), dtype=float).reshape(-1, 2).mean(axis=0)
        for p in (ring, apex)
    ]
    assert np.hypot(*(middles[0] - middles[1])) < 60.0
    assert ">exit<" not in close


def test_hazards_stand_where_they_are(event):
    corner = event.course.corners[2]
    marker = corner.markers[1]
    lat, lon = event.course.plane.to_lat_lon(marker.x_m + 8.0, marker.y_m)
    hazard = Hazard("oil", {"type": "Point", "coordinates": [float(lon), float(lat)]}, corner.name)
    course = replace(event.course, hazards=(hazard,))
    assert ">!</text>" in drawn(overhead(course, corner))
    assert ">!</text>" not in drawn(overhead(course, course.corners[3]))


@pytest.mark.parametrize("back_m", [-20.0, 0.0, 30.0, 70.0])
def test_a_close_up_too_is_entered_from_below(event, back_m):
    corner = next(c for c in event.course.corners if len(c.apexes_m) > 1)
    begins = corner.turn_in_m + back_m
    view = upright(event.course, corner, begins)
    heading = float(event.course.reference.heading_at(max(begins, corner.turn_in_m)))
    assert view.turned(np.cos(heading), np.sin(heading)) == pytest.approx((0.0, 1.0), abs=1e-12)
    svg = drawn(overhead(event.course, corner, span_m=(begins, begins + 90.0)))
    width = float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1])
    lanes = re.findall(r'<text [^>]* x="([\d.]+)"[^>]*>([123])</text>', svg)
    assert [n for _, n in lanes] == ["1", "2", "3"]
    assert all(5.0 < float(x) < width - 5.0 for x, _ in lanes)


def test_names_that_would_lie_on_each_other_move_apart():
    boxes = [
        (0.0, 50.0, 0.0, 20.0),
        (10.0, 60.0, 5.0, 25.0),
        (20.0, 40.0, 1.0, 21.0),
        (200.0, 220.0, 0.0, 20.0),
    ]
    moved = [(a, b, c + s, d + s) for (a, b, c, d), s in zip(boxes, apart(boxes), strict=True)]
    assert moved[0] == boxes[0]
    assert moved[3] == boxes[3]
    for i, one in enumerate(moved):
        for other in moved[:i]:
            assert (
                one[0] >= other[1] or other[0] >= one[1] or one[2] >= other[3] or other[2] >= one[3]
            )


def test_icons_are_numbers_only(event):
    for corner in event.course.corners:
        assert re.fullmatch(
            r"<svg [^>]+><polyline points=\"[-\d., ]+\"/><polygon points=\"[-\d., ]+\"/></svg>",
            corner_icon(event.course, corner),
        )


def test_a_picture_can_be_a_file_of_its_own(event):
    text = standalone(svg_of(course_map(event.course), "m-", "t", "d"))
    assert text.startswith('<svg xmlns="http://www.w3.org/2000/svg"')


def test_pictures_written_out_one_after_the_other_share_a_figure_and_look_alike(event, laps):
    corner, traces = laps
    args = (event.course, corner, traces, ("1", 2))
    alone = [drawn(draw(*args)) for draw in DRAWINGS]
    with one_figure():
        figures, shared = zip(*((f := draw(*args), drawn(f)) for draw in DRAWINGS), strict=True)
    assert list(shared) == alone
    assert len({id(figure) for figure in figures}) == 1
    assert overhead(*args) is not figures[0]


def test_a_cone_in_the_ring_keeps_its_shape(event, laps):
    corner, traces = laps
    apex = corner.apexes_m[0]
    span = (apex - 30.0, apex + 30.0)
    svg = drawn(overhead(event.course, corner, traces, ("1", 2), span_m=span, here_m=apex))
    halo = svg.index("stroke: #ffffff; stroke-width: 5")
    cone = max(m.start() for m in re.finditer(r"stroke: #000000; stroke-width: 1\.8", svg))
    assert halo < cone < svg.index('class="here"')


def test_a_lap_that_leans_the_other_way_breaks_off_and_that_is_said(event, laps):
    corner, traces = laps
    lap = replace(traces[0], lean_deg=np.maximum(traces[0].lean_deg, 0.0))
    assert not leaves_the_panels(corner, [lap])
    swung = replace(lap, lean_deg=np.where(lap.station_m > corner.exit_m, -30.0, lap.lean_deg))
    assert leaves_the_panels(corner, [swung])
    ends = [
        paths(drawn(along(event.course, corner, [one])), GREY)[-1][:, 0].max()
        for one in (lap, swung)
    ]
    assert ends[1] < ends[0] - 10.0  # no flat line along the panel's edge instead


@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("tightest_m", [12.0, 45.0, 110.0, 160.0])
def test_a_radius_can_be_read_however_wide_the_bend(found_event, units, tightest_m):
    """At least three radii have a line: one alone shows no scale."""
    corner = found_event.course.corners[1]
    runs = found_event.riders[0].runs
    traces = [t for run in runs for t in run.traces if t.corner == corner.name]
    wide = [
        replace(t, curvature_1pm=np.full(len(t.station_m), 1.0 / r))
        for t, r in zip(traces, np.linspace(tightest_m, 1.6 * tightest_m, len(traces)), strict=True)
    ]
    figure = along(found_event.course, corner, wide, units=units)
    told = [t.get_text() for t in figure.findobj(Text) if t.get_horizontalalignment() == "right"]
    radii = [name for name in told if re.fullmatch(rf"\d+(?: {units.length})?", name)]
    assert len(radii) >= 3


def test_the_marker_line_is_not_cut_where_it_asks_for_more_than_was_ridden(event, laps):
    corner, traces = laps
    upright_laps = [replace(t, lean_deg=0.0 * t.lean_deg) for t in traces]
    svg = drawn(along(event.course, corner, upright_laps))
    lean = max(paths(svg, "#000000"), key=len)
    assert len(lean) > 30
    assert (lean[:, 1] == lean[:, 1].min()).sum() < 5


@pytest.mark.parametrize("units", Units)
def test_numbers_along_a_corner_do_not_run_into_each_other(units):
    for long_m in range(25, 900, 3):
        corner = SimpleNamespace(turn_in_m=100.0, exit_m=100.0 + long_m, markers=())
        told = Frame(corner, units).metres()
        ends = [(at - 0.5 * text_width(n), at + 0.5 * text_width(n)) for _, at, n in told]
        assert all(a[1] < b[0] for a, b in pairwise(ends))
        assert len(told) >= 2
        assert told[0][2] == "0" and told[-1][2].endswith(f" {units.length}")


def test_without_edges_the_shade_that_laps_may_have_been_in_has_room(found_event):
    corner = found_event.course.corners[1]
    traces = [t for t in found_event.riders[0].runs[0].traces if t.corner == corner.name]
    # As badly placed as a receiver is that nothing holds.
    traces = [replace(t, offset_sd_m=np.full_like(t.offset_sd_m, 1.5)) for t in traces]
    figure = straightened(found_event.course, corner, traces)
    shades = [p.get_path().vertices[:, 1] for p in figure.findobj(Polygon)]
    assert len(shades) == len(traces)
    low, high = min(s.min() for s in shades), max(s.max() for s in shades)
    assert low > FOOT + 6.0 and high < FOOT + 6.0 + DRAWN_HEIGHT
    assert high - low > 0.7 * DRAWN_HEIGHT


def test_a_ring_does_not_lie_on_the_name_of_the_cone_that_it_is_about(event):
    corner = event.course.corners[0]
    traces = [t for t in event.riders[1].runs[0].traces if t.corner == corner.name]
    spoken = (traces[0].session, traces[0].lap)
    for cone in corner.markers:
        at = cone.station_m
        figure = overhead(
            event.course,
            corner,
            traces,
            spoken,
            Units.METRIC,
            span_m=(at - 45.0, at + 45.0),
            here_m=at,
        )
        figure.canvas.draw()
        name = next(t for t in figure.findobj(Text) if t.get_text() == cone.name)
        ring = next(p for p in figure.findobj() if p.get_gid() == "here")
        circle = ring.get_transform().transform(ring.get_segments()[0])
        middle = 0.5 * (circle.min(axis=0) + circle.max(axis=0))
        box = name.get_window_extent()
        nearest = np.clip(middle, [box.x0, box.y0], [box.x1, box.y1])
        assert np.hypot(*(nearest - middle)) > 0.5 * np.ptp(circle[:, 0])
