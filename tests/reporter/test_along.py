"""A corner drawn along its length: the line straightened, and radius and lean."""

import re
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.patches import Polygon
from matplotlib.text import Text

from lapkit.reporter.figures import along, straightened
from lapkit.reporter.figures.along import leaves_the_panels
from lapkit.reporter.figures.canvas import text_width
from lapkit.reporter.figures.frame import FOOT, Frame
from lapkit.reporter.figures.straightened import DRAWN_HEIGHT
from lapkit.reporter.figures.style import GREY
from lapkit.units import Units


def test_straightened_has_the_outside_on_top_whichever_way_it_turns(event, drawn):
    for corner in event.course.corners:
        svg = drawn(straightened(event.course, corner, ()))
        y = {
            n: float(v)
            for v, n in re.findall(r'y="([\d.]+)"[^>]*>(inside|outside|1|3)</text>', svg)
        }
        assert y["outside"] < y["3"] < y["1"] < y["inside"]


def test_a_lap_that_leans_the_other_way_breaks_off_and_that_is_said(event, laps, drawn, paths):
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


def test_the_marker_line_is_not_cut_where_it_asks_for_more_than_was_ridden(
    event, laps, drawn, paths
):
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


def badly_placed(event):
    """A corner and laps as badly placed as a receiver is that nothing holds."""
    corner = event.course.corners[1]
    traces = [t for t in event.riders[0].runs[0].traces if t.corner == corner.name]
    return corner, [replace(t, offset_sd_m=np.full_like(t.offset_sd_m, 1.5)) for t in traces]


def test_without_edges_the_shade_that_laps_may_have_been_in_has_room(found_event):
    corner, traces = badly_placed(found_event)
    figure = straightened(replace(found_event.course, found=False), corner, traces)
    shades = [p.get_path().vertices[:, 1] for p in figure.findobj(Polygon)]
    assert len(shades) == len(traces)
    low, high = min(s.min() for s in shades), max(s.max() for s in shades)
    assert low > FOOT + 6.0 and high < FOOT + 6.0 + DRAWN_HEIGHT
    assert high - low > 0.7 * DRAWN_HEIGHT


@pytest.mark.parametrize(("units", "told"), [(Units.METRIC, "5.9 m"), (Units.US, "19.3 ft")])
def test_of_a_course_found_from_logs_the_doubt_stands_once_at_the_side(
    found_event, drawn, units, told
):
    """Shades of laps that nothing holds lay over each other and hid the laps."""
    corner, traces = badly_placed(found_event)
    figure = straightened(found_event.course, corner, traces, None, units)
    assert not figure.findobj(Polygon)
    assert told in drawn(figure)
    (bar,) = figure.findobj(lambda artist: artist.get_gid() == "doubt")
    heights = np.concatenate([path.vertices[:, 1] for path in bar.get_paths()])
    assert 0.5 * DRAWN_HEIGHT < np.ptp(heights) < DRAWN_HEIGHT
