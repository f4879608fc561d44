"""Which of the coach's own cues to repeat with a finding.

Cues are plain English in any wording. A clause is searched for words that belong to a part of the corner, each recognised
by how it begins. Where none is recognised, the coach's first cue is taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from lapkit.findings.codes import Code
from lapkit.findings.meaning import Part, Way

_NAMES = {
    Part.TURN_IN: ("turn", "brak", "entry", "enter", "tip in", "roll in"),
    Part.APEX: ("apex", "clip", "close"),
    Part.EXIT: (
        "exit", "seam", "lane", "wide", "outside", "drift", "run out", "throttle", "stand it up", "pick it up",
    ),
}  # fmt: skip
"""Part of the corner → beginnings of words that belong to it."""

_SOONER = ("earl", "soon")
_LATER = ("wait", "patien", "late")
"""Words of time go with the part that a cue names: "wait for the second apex". If it names none, they are about turning
in."""

_KEEP = r"(?:stay|keep|hold|run)\b.*\b"

_ASKS_FOR = {
    Way.EARLY: (_SOONER, _LATER),
    Way.LATE: (_LATER, (*_SOONER, "until", "before")),
    Way.TIGHT: (
        (_KEEP + "tight", _KEEP + "inside", "hug", "tuck", r"giv.*\baway", "sacrific"),
        ("wide", "drift", "run out"),
    ),
    Way.WIDE: ((_KEEP + "wide", _KEEP + "outside", "drift", "run out"), ("tight", "close", "clip")),
}
"""Way → words that ask for more of it, and words that do so in a clause with a *not*."""

_CLAUSE_ENDS = re.compile(r"[.,;:!?()–—]|\s-\s|\b(?:and|but|then)\b")
_NOT = re.compile(r"\b(?:not|never|no|avoid|(?:keep|stay) off)\b|(?<!ca)n['’]t\b")
"""What denies a clause. *Cannot* does not: "cannot turn in too late" asks to turn in late."""


def cue_for(code: Code, cues: Sequence[str], with_it: Sequence[Code] = ()) -> str:
    """The cue that speaks most of the part of the corner that a finding is about, and least of others; else the first.

    A cue that asks for more of what the rider already does is left out: a rider who turns in late is not told to wait.

    Args:
        code: what leads the finding.
        cues: the coach's cues for the corner, in his order.
        with_it: codes of what comes with it, which a cue must not ask for more of either.

    Returns:
        The cue; empty if none is left.
    """
    codes = (code, *with_it)
    fitting = [cue for cue in cues if not any(_asks_for_more(each, cue) for each in codes)]
    part = code.means.part
    about_part = [cue for cue in fitting if _words_of(part, cue)]
    if about_part:
        return max(about_part, key=lambda cue: _preference(part, cue))
    return fitting[0] if fitting else ""


def _preference(part: Part | None, cue: str) -> int:
    """Number of words by which a cue speaks of this part, less that by which it speaks of others."""
    return sum(_words_of(each, cue) * (1 if each is part else -1) for each in Part)


def _words_of(part: Part | None, cue: str) -> int:
    """Number of words in a cue that belong to a part of the corner."""
    if part is Part.TURN_IN and not _parts_named(cue):
        return _spoken(cue, (*_SOONER, *_LATER))
    return 0 if part is None else _spoken(cue, _NAMES[part])


def _parts_named(said: str) -> list[Part]:
    return [part for part in Part if _spoken(said, _NAMES[part])]


def _asks_for_more(code: Code, cue: str) -> bool:
    """Whether a cue asks for more of what the rider does.

    A clause about tight or wide counts only if it names the part of the corner that the code is about, or no part at all.
    """
    way, part = code.means.way, code.means.part
    if way is None:
        return False
    asked, denied = _ASKS_FOR[way]
    for clause in _CLAUSE_ENDS.split(cue.lower()):
        named = _parts_named(clause)
        of_this_part = part in named or not named or way in (Way.EARLY, Way.LATE)
        if of_this_part and _spoken(clause, denied if _NOT.search(clause) else asked):
            return True
    return False


@lru_cache(maxsize=4096)
def _spoken(said: str, words: tuple[str, ...]) -> int:
    """Number of these words that are said; the same cues are asked again for every rider."""
    return sum(re.search(rf"\b(?:{word})", said.lower()) is not None for word in words)
