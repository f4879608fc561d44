"""Which of the coach's own words to repeat.

Cues are plain English of any wording: words are looked for from their beginning, clause by clause. Where nothing is
recognised the coach's first cue stands.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from lapkit.findings.codes import Code
from lapkit.findings.meaning import Part, Way

_NAMES = {
    Part.TURN_IN: ("turn", "brak", "entry", "enter", "tip in", "roll in"),
    Part.APEX: ("apex", "clip", "close"),
    Part.EXIT: (
        "exit", "seam", "lane", "wide", "outside", "drift", "run out", "throttle", "stand it up", "pick it up",
    ),
}  # fmt: skip
"""Words that belong to a part of the corner."""

_SOONER = ("earl", "soon")
_LATER = ("wait", "patien", "late")
"""These go with the part that a cue names: "wait for the second apex". Where it names none they are about turning in."""

_KEEP = r"(?:stay|keep|hold|run)\b.*\b"

_MORE = {
    Way.EARLY: (_SOONER, _LATER),
    Way.LATE: (_LATER, (*_SOONER, "until", "before")),
    Way.TIGHT: (
        (_KEEP + "tight", _KEEP + "inside", "hug", "tuck", r"giv.*\baway", "sacrific"),
        ("wide", "drift", "run out"),
    ),
    Way.WIDE: ((_KEEP + "wide", _KEEP + "outside"), ("tight", "close", "clip")),
}
"""What asks him for more of what he does, and what does where it stands behind a *not*."""

_CLAUSE_ENDS = re.compile(r"[.,;:!?()–—]|\s-\s|\b(?:and|but|then)\b")
_NOT = re.compile(r"\b(?:not|never|no|avoid|(?:keep|stay) off)\b|(?<!ca)n['’]t\b")
"""Not *cannot*: who cannot turn in too late is to turn in late."""


def cue_for(code: Code, cues: Sequence[str], with_it: Sequence[Code] = ()) -> str:
    """The cue that speaks most of the part of the corner that a finding is about and least of others, else the first.

    None that would have the rider do more of what he does, or of ``with_it``, codes of what comes with it: whoever
    turns in late is not told to wait. Empty where no cue is left.
    """
    fit = [cue for cue in cues if not any(_asks_for_more(each, cue) for each in (code, *with_it))]
    speaking = [cue for cue in fit if _words_of(code.means.part, cue)]
    return max(speaking, key=lambda cue: _rather(code.means.part, cue), default=next(iter(fit), ""))


def _rather(part: Part | None, cue: str) -> int:
    """By how many words a cue speaks of this part rather than of others."""
    return sum(_words_of(each, cue) * (1 if each is part else -1) for each in Part)


def _words_of(part: Part | None, cue: str) -> int:
    """How many words of a part of the corner a cue has."""
    if part is Part.TURN_IN and not _parts_named(cue):
        return _spoken(cue, (*_SOONER, *_LATER))
    return 0 if part is None else _spoken(cue, _NAMES[part])


def _parts_named(said: str) -> list[Part]:
    return [part for part in Part if _spoken(said, _NAMES[part])]


def _asks_for_more(code: Code, cue: str) -> bool:
    """Whether a cue asks for more of what he does; how tight or wide is asked only of the part that it names, if any."""
    way, part = code.means.way, code.means.part
    if way is None:
        return False
    asked, denied = _MORE[way]
    for clause in _CLAUSE_ENDS.split(cue.lower()):
        named = _parts_named(clause)
        here = part in named or not named or way in (Way.EARLY, Way.LATE)
        if here and _spoken(clause, denied if _NOT.search(clause) else asked):
            return True
    return False


def _spoken(said: str, words: Collection[str]) -> int:
    """How many of these words are said."""
    return sum(re.search(rf"\b(?:{word})", said.lower()) is not None for word in words)
