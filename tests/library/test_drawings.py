from dataclasses import replace

import matplotlib.figure
import pytest

import lapkit


@pytest.mark.parametrize("draw", [lapkit.draw_corner, lapkit.draw_straightened, lapkit.draw_along])
def test_drawings_are_matplotlib_figures_with_every_timed_lap(run, draw):
    bare = draw(run, "Larch")
    spoken = draw(run, "Larch", lap=3, units="us")
    assert isinstance(bare, matplotlib.figure.Figure)
    assert _drawn(spoken) != _drawn(bare)
    with pytest.raises(lapkit.OptionError, match="no run"):
        draw([], "Larch")


@pytest.mark.parametrize("draw", [lapkit.draw_corner, lapkit.draw_straightened, lapkit.draw_along])
def test_a_lap_is_brought_forward_of_the_last_run_alone(run, draw):
    """Runs of two riders, each his first, have laps and sessions by the same names."""
    other = replace(run, rider="Bren")
    assert _forward(draw([other, run], "Larch", lap=3)) == _forward(draw(run, "Larch", lap=3)) > 0


def test_a_course_can_be_drawn_without_a_run(course):
    whole = lapkit.draw_course(course)
    words = {t.get_text() for t in whole.findobj(lambda a: hasattr(a, "get_text"))}
    assert {c.name for c in course.corners} <= words
    assert isinstance(lapkit.draw_corner(course, "Anvil"), matplotlib.figure.Figure)


def test_a_drawing_shows_itself_in_a_notebook(course):
    assert lapkit.draw_course(course)._repr_png_().startswith(b"\x89PNG")


def _forward(figure):
    """How many lines are drawn as the thick lap."""
    groups = figure.findobj(lambda a: (a.get_gid() or "").endswith("spoken"))
    return sum(len(group.get_paths()) for group in groups)


def _drawn(figure):
    return sorted(str(a) for a in figure.findobj(lambda a: hasattr(a, "get_text"))), len(
        figure.findobj()
    )
