"""The one exception family of lapkit.

Every error says what is wrong, where (file, line or row) and what to do about it. The command line
catches :class:`LapkitError` alone and prints it as one line; nothing else is expected to reach it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

_Thing = TypeVar("_Thing")


def printable(text: object) -> str:
    """Text from a file or an option, with a mark in place of every character that a terminal would obey."""
    return "".join(c if c.isprintable() else "�" for c in str(text))


class LapkitError(Exception):
    """What is wrong, where, and what to do.

    Args:
        what: the fault, in plain words, without a full stop at the end.
        where: the file, and the line, row or feature in it when known.
        remedy: what the user can do now.
    """

    exit_status = 1

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(what, where, remedy)

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        sentences = (one for one in (text, self.remedy) if one)
        return printable(" ".join(one if one[-1] in ".!?" else f"{one}." for one in sentences))


class LogError(LapkitError):
    """A rider's log cannot be read, or holds nothing that can be used."""


class TrackError(LapkitError):
    """A track file or a track walk cannot be read, or describes no usable course."""


class EventError(LapkitError):
    """An event folder, its riders.csv or a file it names cannot be used."""


class PathError(LapkitError):
    """A log was read, but no ridden path can be recovered from it."""


class SeasonError(LapkitError):
    """A season file, or an event's results that were to go into it, cannot be used."""


class OutputError(LapkitError):
    """Results cannot be written where they were asked for (wrong use)."""

    exit_status = 2


class OptionError(LapkitError):
    """A command or function was asked for something that does not exist (wrong use)."""

    exit_status = 2


_MOST_NAMES = 12  # more would bury the message


def no_such(kind: str, name: str, names: Iterable[str], *, begins: str = "there is") -> OptionError:
    """The error for a name that does not exist; its remedy gives the most similar name, else those there are.

    Args:
        kind: what should have the name (a corner, a rider).
        name: the name that was asked for.
        names: the names there are.
        begins: how the sentence begins, in front of "no corner 'X'".
    """
    from difflib import get_close_matches

    known = list(dict.fromkeys(names))
    folded = {one.casefold(): one for one in known}
    # Numbers that look alike have nothing to do with each other.
    similar = [] if name.isdigit() else get_close_matches(name.casefold(), folded, n=1)
    if similar:
        remedy = f"Did you mean {folded[similar[0]]!r}?"
    else:
        listed = ", ".join(known[:_MOST_NAMES]) or "none"
        if len(known) > _MOST_NAMES:
            listed += f" and {len(known) - _MOST_NAMES} more"
        remedy = f"There are: {listed}."
    return OptionError(f"{begins} no {kind} {name!r}", remedy=remedy)


def named(kind: str, name: str, things: Mapping[str, _Thing]) -> _Thing:
    """The thing of that name.

    Args:
        kind: what has names (a rider, a lap).
        name: the name that was asked for.
        things: name → thing.

    Raises:
        OptionError: there is none of that name; see :func:`no_such`.
    """
    if name not in things:
        raise no_such(kind, name, things)
    return things[name]
