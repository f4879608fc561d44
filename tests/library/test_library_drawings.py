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


def test_a_course_can_be_drawn_without_a_run(course):
    whole = lapkit.draw_course(course)
    words = {t.get_text() for t in whole.findobj(lambda a: hasattr(a, "get_text"))}
    assert {c.name for c in course.corners} <= words
    assert isinstance(lapkit.draw_corner(course, "Anvil"), matplotlib.figure.Figure)


def test_a_drawing_shows_itself_in_a_notebook(course):
    assert lapkit.draw_course(course)._repr_png_().startswith(b"\x89PNG")


def _drawn(figure):
    return sorted(str(a) for a in figure.findobj(lambda a: hasattr(a, "get_text"))), len(
        figure.findobj()
    )
