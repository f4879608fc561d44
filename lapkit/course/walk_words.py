"""The words of a track walk: what the names of its waypoints and tracks mean.

A name says what was marked ("3 turn-in", "3 apex 2", "start left", "3 seam 1 a", "hazard kerb sticks out").
Case, dashes and underscores do not matter.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum

from lapkit.course.types import MarkerKind, Turn


class Thing(StrEnum):
    """What a name stands for."""

    MARKER = "marker"
    START_LEFT = "start left"
    START_RIGHT = "start right"
    HOLD_POINT = "hold_point"
    BASE_POINT = "base_point"
    HAZARD = "hazard"
    SEAM = "seam"
    CENTRE = "centre"
    LEFT_EDGE = "left_edge"
    RIGHT_EDGE = "right_edge"
    COACH_LAP = "marker_line"
    PIT_LANE = "pit_lane"
    CORNER = "corner"
    TRAIL = "trail"


LINES = (
    Thing.SEAM,
    Thing.CENTRE,
    Thing.LEFT_EDGE,
    Thing.RIGHT_EDGE,
    Thing.COACH_LAP,
    Thing.PIT_LANE,
)
"""What a recorded track can be, and what waypoints with letters can draw point by point."""


@dataclass(frozen=True)
class Named:
    """What a name means.

    Attributes:
        thing: what stands there.
        corner: the corner that it belongs to; empty for none.
        kind: which cone a marker is.
        name: its name within the corner, or that of a spot.
        letter: the place of a waypoint in the order of those that draw one line.
        side: left or right, where the name says it.
        text: the words about a hazard.
    """

    thing: Thing
    corner: str = ""
    kind: MarkerKind | None = None
    name: str = ""
    letter: str = ""
    side: Turn | None = None
    text: str = ""


LONGEST_NAME = 200
"""Number of characters of a name that are read; no receiver lets one type more."""

_KINDS = {
    "turn in": MarkerKind.TURN_IN,
    "turnin": MarkerKind.TURN_IN,
    "tip in": MarkerKind.TURN_IN,
    "entry": MarkerKind.TURN_IN,
    "apex": MarkerKind.APEX,
    "clipping point": MarkerKind.APEX,
    "exit": MarkerKind.EXIT,
    "track out": MarkerKind.EXIT,
    "sight": MarkerKind.SIGHT,
}
_WORD = {MarkerKind.TURN_IN: "turn-in"}
_LINE_WORDS = {
    r"l(?:eft)? (?:edge|side)|edge l(?:eft)?": Thing.LEFT_EDGE,
    r"r(?:ight)? (?:edge|side)|edge r(?:ight)?": Thing.RIGHT_EDGE,
    r"cent(?:re|er)(?: ?line)?(?: lap)?": Thing.CENTRE,
    r"coach(?:['’ ]?s)?(?: lap| line)?|marker line": Thing.COACH_LAP,
    r"pit(?: ?lane)?": Thing.PIT_LANE,
    r"walk|trail": Thing.TRAIL,
}
_VOCABULARY = (
    "turn-in", "apex", "exit", "sight", "start", "left", "right", "hold", "base", "point", "hazard",
    "seam", "corner", "centre", "edge", "coach", "pit", "lane",
)  # fmt: skip
_NAME = r"(?P<corner>\w[\w '’&]*?)"
# "T3" is corner 3, also where "corner" stands before it.
_CORNER = rf"(?:(?:corner|turn) )?(?:(?:corner|turn|t|c) ?(?=\d))?{_NAME}"
# Words that continue a sentence and begin no corner's name: "turn right here", "exit is hidden", "apex at the kerb".
_PROSE = r"(?!(?:here|there|at|is|in|on|by|where|when|before|after)\b)"
_KIND = "|".join(_KINDS)
_MARKER = re.compile(
    rf"{_CORNER} (?P<kind>{_KIND})(?: cone| point)?(?: ?(?P<number>\d+))?(?: (?P<side>left|right))?",
    re.IGNORECASE,
)
_MARKER_FIRST = re.compile(
    rf"(?P<kind>{_KIND})(?: cone| point)? {_PROSE}{_CORNER}(?: (?P<side>left|right))?",
    re.IGNORECASE,
)
_KIND_ALONE = re.compile(rf"(?:{_KIND})(?: cone| point)?", re.IGNORECASE)
_START = re.compile(
    r"(?:start|finish|start finish|s ?f)(?: line)? (?P<side>l(?:eft)?|r(?:ight)?)", re.IGNORECASE
)
_SPOT = re.compile(
    r"(?P<thing>hold|base)(?: ?(?:point|spot|station))?(?: (?P<name>.+))?", re.IGNORECASE
)
_HAZARD = re.compile(rf"(?:{_CORNER} )?hazard (?P<text>.+)", re.IGNORECASE)
_SEAM = re.compile(rf"(?:{_CORNER} )?seam ?(?P<name>\d+)(?: ?(?P<letter>[a-z]))?", re.IGNORECASE)
_COUNTED = "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"
# Unless a number follows, "turn" is what the rider does, and left and right say where to.
_TURNS = re.compile(
    rf"(?:corner (?!(?:left|right)\b){_PROSE}|turn (?=\d|(?:{_COUNTED})\b))(?:[tc] ?(?=\d))?"
    rf"{_NAME}(?: (?P<turn>left|right))?",
    re.IGNORECASE,
)
_VISIT = re.compile(
    r"\s*(?:\(\d+\)|#\d+|\bagain|\b(?:\d+(?:st|nd|rd|th)|first|second|third) (?:visit|time|pass|walk))\s*$",
    re.IGNORECASE,
)
_NUMBERED_APEX = {"1st": 1, "first": 1, "2nd": 2, "second": 2, "3rd": 3, "third": 3}
_APEX_BY_ORDER = re.compile(rf"(?<=\S )({'|'.join(_NUMBERED_APEX)}) apex\b", re.IGNORECASE)


def read_name(name: str) -> Named | None:
    """What a waypoint's or track's name means; None when it means nothing known."""
    text, plain = _plain(name)
    if _KIND_ALONE.fullmatch(plain):
        return None
    plain = _APEX_BY_ORDER.sub(lambda said: f"apex {_NUMBERED_APEX[said[1].lower()]}", plain)
    if hazard := _HAZARD.fullmatch(plain):
        return _hazard(hazard["corner"], text)
    for pattern, reader in (
        (_START, _start),
        (_SEAM, _seam),
        (_MARKER, _marker),
        (_MARKER_FIRST, _marker),
        (_SPOT, _spot),
    ):
        if found := pattern.fullmatch(plain):
            return reader(found)
    return _line(plain) or _corner(plain)


def lacks_corner(name: str) -> bool:
    """Whether a name means a cone but does not say of which corner."""
    return _KIND_ALONE.fullmatch(_plain(name)[1]) is not None


def _plain(name: str) -> tuple[str, str]:
    """The name without the number of the visit: as it stands, and with nothing but spaces between its words."""
    text = _VISIT.sub("", " ".join(name[:LONGEST_NAME].split()))
    # Dashes and underscores only separate words; free text keeps its own.
    return text, " ".join(re.sub(r"[-_/.:]+", " ", text).split())


def meant(name: str) -> str:
    """The name that may have been meant: with its mistyped words corrected, or without its last word.

    Empty when neither gives a name that can be read.
    """
    words = " ".join(name[:LONGEST_NAME].split()).split(" ")
    mended = []
    for word in words:
        near = get_close_matches(word.lower(), _VOCABULARY, n=1, cutoff=0.75)
        mended.append(near[0] if near else word)
    for tried in (mended, words[:-1], mended[:-1]):
        if tried != words and read_name(" ".join(tried)) is not None:
            return " ".join(tried)
    return ""


def _start(found: re.Match[str]) -> Named:
    left = found["side"].lower().startswith("l")
    return Named(Thing.START_LEFT if left else Thing.START_RIGHT)


def _hazard(corner: str | None, text: str) -> Named:
    said = re.split("hazard", text, maxsplit=1, flags=re.IGNORECASE)[-1].lstrip(" :-_")
    return Named(Thing.HAZARD, corner=corner or "", text=said)


def _seam(found: re.Match[str]) -> Named:
    return Named(
        Thing.SEAM,
        corner=found["corner"] or "",
        name=f"seam {found['name']}",
        letter=(found["letter"] or "").lower(),
    )


def _marker(found: re.Match[str]) -> Named:
    kind = _KINDS[found["kind"].lower()]
    number = found.groupdict().get("number")
    word = _WORD.get(kind, kind.value)
    return Named(
        Thing.MARKER,
        corner=found["corner"],
        kind=kind,
        name=f"{word} {number}" if number else word,
        side=Turn(found["side"].lower()) if found["side"] else None,
    )


def _spot(found: re.Match[str]) -> Named:
    thing = Thing.HOLD_POINT if found["thing"].lower() == "hold" else Thing.BASE_POINT
    return Named(thing, name=found["name"] or "")


def _line(plain: str) -> Named | None:
    for words, thing in _LINE_WORDS.items():
        pattern = rf"(?:{words})(?: \d+)?(?: (?P<letter>[a-z]))?"
        if found := re.fullmatch(pattern, plain, re.IGNORECASE):
            return Named(thing, letter=(found["letter"] or "").lower())
    return None


def _corner(plain: str) -> Named | None:
    found = _TURNS.fullmatch(plain)
    if found is None:
        return None
    side = Turn(found["turn"].lower()) if found["turn"] else None
    return Named(Thing.CORNER, corner=found["corner"], side=side)
