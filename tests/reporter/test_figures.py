"""What all figures of a corner have: real text, the same picture for the same laps, a line for each lap."""

import re

import pytest
from matplotlib.figure import Figure

from lapkit.reporter.figures import (
    along,
    corner_icon,
    course_map,
    overhead,
    standalone,
    straightened,
    svg_of,
)
from lapkit.reporter.figures.canvas import one_figure
from lapkit.reporter.figures.style import ACCENT, GREY
from lapkit.units import Units

DRAWINGS = (overhead, straightened, along)


@pytest.mark.parametrize("draw", DRAWINGS)
def test_figures_are_matplotlib_s_and_real_text(event, laps, draw, drawn):
    corner, traces = laps
    figure = draw(event.course, corner, traces, ("1", 2))
    assert isinstance(figure, Figure)
    svg = drawn(figure)
    assert ">turn-in</text>" in svg
    assert ">apex 1</text>" in svg
    assert not re.search(r"<(use|defs|style|image|script)\b", svg)
    assert set(re.findall(r'\bid="([^"]+)"', svg)) == {"x-title", "x-desc"}


@pytest.mark.parametrize("draw", DRAWINGS)
def test_the_same_laps_give_the_same_picture(event, laps, draw, drawn):
    corner, traces = laps
    assert drawn(draw(event.course, corner, traces)) == drawn(draw(event.course, corner, traces))


@pytest.mark.parametrize(("draw", "panels"), [(overhead, 1), (straightened, 1), (along, 2)])
def test_every_lap_is_a_grey_line_and_the_one_that_a_finding_is_about_is_thick(
    event, laps, draw, panels, drawn
):
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
def test_a_lap_has_at_most_five_hundred_points_and_stays_on_the_paper(
    event, laps, draw, drawn, paths
):
    corner, traces = laps
    figure = draw(event.course, corner, traces)
    width, height = 72.0 * figure.get_size_inches()
    for path in paths(drawn(figure), GREY):
        assert len(path) <= 500
        assert path.min() >= -1.0
        assert path[:, 0].max() <= width + 1.0
        assert path[:, 1].max() <= height + 1.0


def test_a_course_without_cones_and_edges_can_be_drawn(found_event, drawn):
    run = found_event.riders[0].runs[0]
    for corner in found_event.course.corners:
        traces = [t for t in run.traces if t.corner == corner.name]
        for draw in DRAWINGS:
            assert "NaN" not in drawn(draw(found_event.course, corner, traces, None, Units("us")))


def test_icons_are_numbers_only(event):
    for corner in event.course.corners:
        assert re.fullmatch(
            r"<svg [^>]+><polyline points=\"[-\d., ]+\"/><polygon points=\"[-\d., ]+\"/></svg>",
            corner_icon(event.course, corner),
        )


def test_a_picture_can_be_a_file_of_its_own(event):
    text = standalone(svg_of(course_map(event.course), "m-", "t", "d"))
    assert text.startswith('<svg xmlns="http://www.w3.org/2000/svg"')


def test_pictures_written_out_one_after_the_other_share_a_figure_and_look_alike(event, laps, drawn):
    corner, traces = laps
    args = (event.course, corner, traces, ("1", 2))
    alone = [drawn(draw(*args)) for draw in DRAWINGS]
    with one_figure():
        figures, shared = zip(*((f := draw(*args), drawn(f)) for draw in DRAWINGS), strict=True)
    assert list(shared) == alone
    assert len({id(figure) for figure in figures}) == 1
    assert overhead(*args) is not figures[0]
