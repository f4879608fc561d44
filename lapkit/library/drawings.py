"""Drawings of runs as matplotlib figures: the corner from above, straightened, and along its metres."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from matplotlib.figure import Figure

from lapkit.compare.results import CornerTrace
from lapkit.course.course import Course
from lapkit.errors import no_such
from lapkit.library.run import Run, runs_given
from lapkit.reporter import figures
from lapkit.units import Units

_Drawing = Callable[..., Figure]


def draw_course(course: Course, *, units: str = "metric") -> Figure:
    """The whole course with its corners named, north up, a scale bar in ``metric`` (m) or ``us`` (feet)."""
    return figures.course_map(course, Units.named(units))


def draw_corner(
    shown: Course | Run | Iterable[Run],
    corner: str | int,
    *,
    lap: int | None = None,
    units: str = "metric",
) -> Figure:
    """A corner from above, entered from below: edges, seams, cones, marker line, every timed lap.

    Args:
        shown: a course, or runs on one course.
        corner: its name, or its number where corners are numbered.
        lap: number of the lap of the last run to bring forward.
        units: ``metric`` (metres) or ``us`` (feet), for the lengths written in it.

    Raises:
        OptionError: there is no such corner or lap; the message has the nearest.
    """
    return _drawn(figures.overhead, shown, corner, lap, units)


def draw_straightened(
    shown: Run | Iterable[Run], corner: str | int, *, lap: int | None = None, units: str = "metric"
) -> Figure:
    """A corner unrolled: metres along, lanes across, laps with 95 % bands; as :func:`draw_corner`."""
    return _drawn(figures.straightened, shown, corner, lap, units)


def draw_along(
    shown: Run | Iterable[Run], corner: str | int, *, lap: int | None = None, units: str = "metric"
) -> Figure:
    """Radius (m or ft) and lean (°) along a corner against the marker line's; as :func:`draw_corner`."""
    return _drawn(figures.along, shown, corner, lap, units)


def _drawn(
    drawing: _Drawing,
    shown: Course | Run | Iterable[Run],
    corner: str | int,
    lap: int | None,
    units: str,
) -> Figure:
    named = Units.named(units)
    if isinstance(shown, Course):
        return drawing(shown, shown.corner(corner), (), None, named)
    runs = runs_given(shown, "draw")
    course = runs[0].course
    # Drawings tell runs apart by their session, but two riders may have sessions of the same name.
    traces = [
        replace(trace, session=str(number))
        for number, run in enumerate(runs)
        for trace in run.traces(corner)
    ]
    last = str(len(runs) - 1)
    in_front = None if lap is None else _in_front(traces, last, lap)
    return drawing(course, course.corner(corner), traces, in_front, named)


def _in_front(traces: Sequence[CornerTrace], session: str, lap: int) -> tuple[str, int]:
    """Session and lap to bring forward.

    Raises:
        OptionError: the session has no such timed lap.
    """
    laps = [str(t.lap) for t in traces if t.session == session]
    if str(lap) not in laps:
        raise no_such("timed lap", str(lap), laps)
    return session, lap
