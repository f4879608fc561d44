"""Habits described in a coach's words: which rider does what at which corner, instead of the habit drawn for him."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from lapkit.counting import corner_name
from lapkit.course.course import Course
from lapkit.errors import OptionError, no_such
from lapkit.simulate.invented_runs import Run
from lapkit.simulate.plan import most_tightened
from lapkit.simulate.style import Habit

EVERY_CORNER = "every corner"
"""Written in place of a corner's name."""

MOST_EARLY_M = 40.0
"""Nobody turns in earlier, metres: before that lies another corner."""

MOST_WIDE_M = 5.0
"""Nobody passes a cone wider, metres: it is half a road."""

_NUMBER = r"(?P<value>\d+(?:[.,]\d+)?)"
_METRES = rf"{_NUMBER} ?(?:m|metres?|meters?)"
_FORMS = "stays inside the seam; tightens exit by 15 %; turns in 8 m early (or late); passes apex 1.2 m wide "
_FORMS += "(or inside); passes exit 1 m wide (or inside); keeps to the line"


@dataclass(frozen=True)
class DescribedHabit:
    """One habit, as it was described.

    Attributes:
        rider: whose; everybody's when empty.
        corner: where; everywhere when empty.
        fields: those of :class:`~lapkit.simulate.style.Habit` that it sets, metres and shares.
    """

    rider: str
    corner: str
    fields: Mapping[str, Any]


def read_habits(
    texts: Sequence[str], course: Course, riders: Sequence[str]
) -> list[DescribedHabit]:
    """Habits in words: ``CORNER: what``, ``every corner: what`` or ``RIDER at CORNER: what; what``.

    Args:
        texts: in these forms; upper and lower case are alike.
        course: whose corners are named.
        riders: names of those who ride.

    Raises:
        OptionError: there is no such corner, rider or habit, or the habit cannot be ridden there.
    """
    if texts and not course.corners:
        raise OptionError(
            "--habit: the course has no corner to have a habit at",
            remedy="Mark the cones of its corners in the track file, or leave --habit out.",
        )
    return [_read(text, course, riders) for text in texts]


def with_habits(runs: Sequence[Run], habits: Sequence[DescribedHabit]) -> tuple[Run, ...]:
    """The runs with these habits in every session; riders whom they concern lose the habit drawn for them."""
    changed = []
    for run in runs:
        own = [habit for habit in habits if habit.rider in ("", run.rider)]
        changed.append(_with_habits(run, own) if own else run)
    return tuple(changed)


def _with_habits(run: Run, habits: Sequence[DescribedHabit]) -> Run:
    everywhere = Habit()
    for habit in habits:
        if not habit.corner:
            everywhere = replace(everywhere, **habit.fields)
    # What is described for one corner comes on top of what is described for all.
    at: dict[str, Habit] = {}
    for habit in habits:
        if habit.corner:
            at[habit.corner] = replace(at.get(habit.corner, everywhere), **habit.fields)
    return replace(run, style=replace(run.style, habit=everywhere, habit_at=at))


def _read(text: str, course: Course, riders: Sequence[str]) -> DescribedHabit:
    where, colon, what = text.partition(":")
    clauses = [" ".join(clause.split()) for clause in what.split(";") if clause.strip()]
    if not colon or not clauses:
        raise OptionError(
            f"--habit has {text!r}",
            remedy="Write where and what, e.g. 'Larch: tightens exit by 15 %'.",
        )
    rider, corner = _where(" ".join(where.split()), course, riders)
    fields: dict[str, Any] = {}
    for clause in clauses:
        fields |= _fields(clause)
    _require_rideable(fields, corner, course)
    return DescribedHabit(rider, corner, fields)


def _where(where: str, course: Course, riders: Sequence[str]) -> tuple[str, str]:
    """Rider and corner, each empty for all."""
    corners = {corner_name(corner.name).casefold(): corner.name for corner in course.corners}
    corners |= {corner.name.casefold(): corner.name for corner in course.corners}
    corners[EVERY_CORNER] = ""
    known = corners.get(where.casefold())
    if known is not None:
        return "", known
    who, at, there = where.partition(" at ")
    if not at and where.casefold() in {name.casefold() for name in riders}:
        raise OptionError(
            f"--habit: it is not said at which corner {where} does so",
            remedy=f"Say '{where} at {EVERY_CORNER}: ...', or name a corner.",
        )
    if not at:
        raise no_such("corner", where, [*(c.name for c in course.corners), EVERY_CORNER])
    rider = {name.casefold(): name for name in riders}.get(who.casefold())
    if rider is None:
        raise no_such("rider", who, riders)
    known = corners.get(there.casefold())
    if known is None:
        raise no_such("corner", there, [*(c.name for c in course.corners), EVERY_CORNER])
    return rider, known


def _fields(clause: str) -> dict[str, Any]:
    """The fields of a habit that one clause sets."""
    for form, fields_of in _CLAUSES:
        found = form.fullmatch(clause)
        if found:
            return fields_of(found)
    raise OptionError(
        f"--habit: it is not known how a rider {clause!r}", remedy=f"Known: {_FORMS}."
    )


def _value(found: re.Match[str]) -> float:
    return float(found["value"].replace(",", "."))


def _signed(found: re.Match[str], minus: str, most_m: float) -> float:
    """Metres; negative where the clause has the word ``minus``."""
    if _value(found) > most_m:
        raise OptionError(
            f"--habit: {found[0]!r} is more than anybody does", remedy=f"Give up to {most_m:.0f} m."
        )
    return -_value(found) if found["way"].casefold() == minus else _value(found)


def _form(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


_CLAUSES: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], dict[str, Any]]], ...] = (
    (
        _form(r"(?:stays|runs) inside the (?:first )?seam(?: at the exit)?"),
        lambda found: {"inside_seam_exit": True},
    ),
    (
        _form(rf"tightens (?:the )?exit by {_NUMBER} ?%"),
        lambda found: {"tighten_exit": _value(found) / 100.0},
    ),
    (
        _form(rf"turns in {_METRES} (?P<way>early|late)"),
        lambda found: {"early_turn_in_m": _signed(found, "late", MOST_EARLY_M)},
    ),
    (
        _form(rf"passes (?:the )?apex(?:es)? {_METRES} (?P<way>wide|inside)"),
        lambda found: {"apex_wide_m": _signed(found, "inside", MOST_WIDE_M)},
    ),
    (
        _form(rf"passes (?:the )?exit {_METRES} (?P<way>wide|inside)"),
        lambda found: {"exit_wide_m": _signed(found, "inside", MOST_WIDE_M)},
    ),
    (_form(r"keeps to the line"), lambda found: asdict(Habit())),
)


def _require_rideable(fields: Mapping[str, Any], name: str, course: Course) -> None:
    """Refuse what no line through the corner can do; without a name, what none of the corners allows.

    Raises:
        OptionError: there is no seam to stay inside of, or the exit cannot tighten so much.
    """
    corners = [course.corner(name)] if name else course.corners
    if fields.get("inside_seam_exit") and not any(corner.seams for corner in corners):
        raise OptionError(
            f"--habit: {name or 'the course'} has no seam to stay inside of",
            remedy="Mark seams in the track file, or tell another habit.",
        )
    share = fields.get("tighten_exit", 0.0)
    most = max(most_tightened(course, corner.name) for corner in corners) if share else 1.0
    if share > most:
        raise OptionError(
            f"--habit: an exit of {name or 'this course'} cannot be tightened by {100 * share:.0f} %",
            remedy=f"Give up to {100 * most - 0.5:.0f} %.",
        )
