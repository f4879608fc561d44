"""Which of the coach's own words to repeat."""

from __future__ import annotations

from collections.abc import Sequence

ABOUT = {
    "inside_seam": "exit", "exit_tightened": "exit", "exit_cone_missed": "exit",
    "turn_in_early": "turn_in", "turn_in_late": "turn_in", "turn_in_cone_missed": "turn_in",
    "apex_missed": "apex", "drifts_wide": "apex", "drifts_tight": "exit",
}  # fmt: skip
"""Code → the part of the corner that it is about."""

_CUE_WORDS = {
    "turn_in": ("turn", "wait", "patien", "brake", "early", "late"),
    "apex": ("apex", "close", "inside"),
    "exit": ("exit", "drift", "run out", "seam", "lane"),
}
_CUE_AGAINST = {"turn_in_early": ("early",), "turn_in_late": ("wait", "patien", "late")}
"""Words of cues that would have him do more of it."""


def cue_for(code: str, cues: Sequence[str], with_it: Sequence[str] = ()) -> str:
    """The coach's own words that fit best: the cue that speaks of that part of the corner, else his first.

    None that would have the rider do more of what he does, or of ``with_it``, codes of what comes with it: whoever
    turns in late is not told to wait.
    """

    def spoken(cue: str, words: Sequence[str]) -> int:
        return sum(f" {word}" in f" {cue.lower()}" for word in words)

    against = [word for each in (code, *with_it) for word in _CUE_AGAINST.get(each, ())]
    words = _CUE_WORDS.get(ABOUT.get(code, ""), ())
    fit = [cue for cue in cues if not spoken(cue, against)]
    return max(fit, key=lambda cue: spoken(cue, words), default="")
