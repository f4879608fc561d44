"""Which of the coach's own words to repeat."""

from __future__ import annotations

from collections.abc import Sequence

from lapkit.findings.codes import Code
from lapkit.findings.meaning import Part

_CUE_WORDS = {
    Part.TURN_IN: ("turn", "wait", "patien", "brake", "early", "late"),
    Part.APEX: ("apex", "close", "inside"),
    Part.EXIT: ("exit", "drift", "run out", "seam", "lane"),
}
_CUE_AGAINST = {Code.TURN_IN_EARLY: ("early",), Code.TURN_IN_LATE: ("wait", "patien", "late")}
"""Words of cues that would have him do more of it."""


def cue_for(code: Code, cues: Sequence[str], with_it: Sequence[Code] = ()) -> str:
    """The coach's own words that fit best: the cue that speaks of that part of the corner, else his first.

    None that would have the rider do more of what he does, or of ``with_it``, codes of what comes with it: whoever
    turns in late is not told to wait.
    """

    def spoken(cue: str, words: Sequence[str]) -> int:
        return sum(f" {word}" in f" {cue.lower()}" for word in words)

    against = [word for each in (code, *with_it) for word in _CUE_AGAINST.get(each, ())]
    words = () if code.means.part is None else _CUE_WORDS[code.means.part]
    fit = [cue for cue in cues if not spoken(cue, against)]
    return max(fit, key=lambda cue: spoken(cue, words), default="")
