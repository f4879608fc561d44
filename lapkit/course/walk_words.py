"""The words of a track walk: what the names and descriptions of its waypoints and tracks mean.

A name says what stands there ("3 turn-in", "3 apex 2", "start left", "3 seam 1 a", "hazard kerb
sticks out"), a description says more about it ("camber -3; pass within 1.0; cue: look to the exit
cone"). Case, dashes and underscores do not matter.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum

from lapkit.course.types import MarkerKind, Turn
from lapkit.units import FOOT_M


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
"""What a recorded track can be, and what waypoints with a letter can draw."""


@dataclass(frozen=True)
class Named:
    """What a name means. ``letter`` orders the waypoints of one line; ``text`` is free text."""

    thing: Thing
    corner: str = ""
    kind: MarkerKind | None = None
    name: str = ""
    letter: str = ""
    side: Turn | None = None
    text: str = ""


@dataclass(frozen=True)
class Described:
    """What a description says; ``unread`` are its clauses that begin well and cannot be used."""

    camber_deg: float | None = None
    pass_within_m: float | None = None
    target_lane: int | None = None
    side: Turn | None = None
    turn: Turn | None = None
    cues: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()


LONGEST_NAME = 200
"""Characters of a name that are read; no receiver lets one type more."""

_KINDS = {
    "turn in": MarkerKind.TURN_IN,
    "turnin": MarkerKind.TURN_IN,
    "entry": MarkerKind.TURN_IN,
    "apex": MarkerKind.APEX,
    "exit": MarkerKind.EXIT,
    "sight": MarkerKind.SIGHT,
}
_WORD = {MarkerKind.TURN_IN: "turn-in"}
_LINE_WORDS = {
    r"left edge|edge left": Thing.LEFT_EDGE,
    r"right edge|edge right": Thing.RIGHT_EDGE,
    r"cent(?:re|er)(?: ?line)?(?: lap)?": Thing.CENTRE,
    r"coach(?: ?s)?(?: lap| line)?|marker line": Thing.COACH_LAP,
    r"pit(?: ?lane)?": Thing.PIT_LANE,
    r"walk|trail": Thing.TRAIL,
}
_VOCABULARY = (
    "turn-in", "apex", "exit", "sight", "start", "left", "right", "hold", "base", "point", "hazard",
    "seam", "corner", "centre", "edge", "coach", "pit", "lane",
)  # fmt: skip
_CORNER = r"(?:(?:corner|turn) |(?:corner|turn|t|c) ?(?=\d))?(?P<corner>\w[\w ]*?)"
_KIND = "|".join(_KINDS)
_MARKER = re.compile(
    rf"{_CORNER} (?P<kind>{_KIND})(?: cone)?(?: ?(?P<number>\d+))?(?: (?P<side>left|right))?",
    re.IGNORECASE,
)
_MARKER_FIRST = re.compile(
    rf"(?P<kind>{_KIND})(?: cone)? {_CORNER}(?: (?P<side>left|right))?", re.IGNORECASE
)
_START = re.compile(r"(?:start|finish|start finish)(?: line)? (?P<side>left|right)", re.IGNORECASE)
_SPOT = re.compile(
    r"(?P<thing>hold|base)(?: ?(?:point|spot|station))?(?: (?P<name>.+))?", re.IGNORECASE
)
_HAZARD = re.compile(rf"(?:{_CORNER} )?hazard (?P<text>.+)", re.IGNORECASE)
_SEAM = re.compile(rf"(?:{_CORNER} )?seam ?(?P<name>\d+)(?: ?(?P<letter>[a-z]))?", re.IGNORECASE)
_TURNS = re.compile(
    r"(?:corner|turn) (?P<corner>\w[\w ]*?)(?: (?P<turn>left|right))?", re.IGNORECASE
)
_VISIT = re.compile(r"\s*(?:\(\d+\)|#\d+)\s*$")

_CLAUSES = re.compile(r"[;\n]+")
_NUMBER = r"(?P<value>[-+−]?\d+(?:[.,]\d+)?)"
_CAMBER = re.compile(
    rf"(?P<off>off[ -]?)?camber\s*[:=]?\s*{_NUMBER}\s*(?P<unit>%|percent|°|deg\w*)?"
)
_PASS = re.compile(
    rf"pass(?: within)?\s*[:=]?\s*{_NUMBER}\s*(?P<unit>m|metres?|meters?|cm|ft|feet)?"
)
_LANE = re.compile(r"(?:target )?lane\s*[:=]?\s*(?P<value>\d+)")
_SIDE = re.compile(
    r"(?:on (?:the |my |your )?|side\s*[:=]?\s*)(?P<side>left|right)|(?P<other>left|right) side"
)
_TURN = re.compile(r"(?:turns? )?(?P<turn>left|right)(?:[ -]?hander)?")
_TO_METRES = {"c": 0.01, "f": FOOT_M}


def read_name(name: str) -> Named | None:
    """What a waypoint's or track's name means; None when it means nothing known."""
    text = _VISIT.sub("", " ".join(name[:LONGEST_NAME].split()))
    # Dashes and underscores only part words; free text keeps its own.
    plain = re.sub(r"[-_/.:]+", " ", text)
    plain = " ".join(plain.split())
    for pattern, reader in (
        (_START, _start),
        (_HAZARD, _hazard),
        (_SEAM, _seam),
        (_MARKER, _marker),
        (_MARKER_FIRST, _marker),
        (_SPOT, _spot),
    ):
        found = pattern.fullmatch(plain)
        if found:
            return reader(found, text)
    return _line(plain) or _corner(plain)


def meant(name: str) -> str:
    """The name with its mistyped words mended, where that makes it one that is known; else empty."""
    words = " ".join(name[:LONGEST_NAME].split()).split(" ")
    mended = []
    for word in words:
        near = get_close_matches(word.lower(), _VOCABULARY, n=1, cutoff=0.75)
        mended.append(near[0] if near else word)
    found = " ".join(mended)
    return found if mended != words and read_name(found) is not None else ""


def _start(found: re.Match[str], text: str) -> Named:
    left = found["side"].lower() == "left"
    return Named(Thing.START_LEFT if left else Thing.START_RIGHT)


def _hazard(found: re.Match[str], text: str) -> Named:
    said = re.split("hazard", text, maxsplit=1, flags=re.IGNORECASE)[-1].lstrip(" :-_")
    return Named(Thing.HAZARD, corner=found["corner"] or "", text=said)


def _seam(found: re.Match[str], text: str) -> Named:
    return Named(
        Thing.SEAM,
        corner=found["corner"] or "",
        name=f"seam {found['name']}",
        letter=(found["letter"] or "").lower(),
    )


def _marker(found: re.Match[str], text: str) -> Named:
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


def _spot(found: re.Match[str], text: str) -> Named:
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


def read_description(text: str) -> Described:
    """What a description says, clause by clause; clauses end at a semicolon or a line."""
    said: dict[str, object] = {}
    cues, notes, unread = [], [], []
    for clause in _CLAUSES.split(text):
        clause = " ".join(clause.split())
        low = clause.lower().rstrip(".")
        if not clause:
            continue
        if low.startswith("cue"):
            cues.append(clause[3:].lstrip(" :-"))
        elif low.startswith("note"):
            notes.append(clause[4:].lstrip(" :-"))
        else:
            value = _value(low)
            if value is not None:
                said.update([value])
            elif re.match(r"(?:off[ -]?)?camber|pass\b|(?:target )?lane\b|side\b", low):
                unread.append(clause)
            else:
                notes.append(clause)
    return Described(
        **said,  # type: ignore[arg-type]
        cues=tuple(c for c in cues if c),
        notes=tuple(n for n in notes if n),
        unread=tuple(unread),
    )


def merged(said: Sequence[Described]) -> Described:
    """What several descriptions of one place say together; of two values the later one holds."""
    values: dict[str, object] = {}
    for one in said:
        for name in ("camber_deg", "pass_within_m", "target_lane", "side", "turn"):
            if getattr(one, name) is not None:
                values[name] = getattr(one, name)
    return Described(
        **values,  # type: ignore[arg-type]
        cues=tuple(dict.fromkeys(cue for one in said for cue in one.cues)),
        notes=tuple(dict.fromkeys(note for one in said for note in one.notes)),
    )


def _value(clause: str) -> tuple[str, object] | None:
    """The field of :class:`Described` that a clause sets, and its value."""
    if found := _CAMBER.fullmatch(clause):
        degrees = _number(found)
        if found["unit"] in ("%", "percent"):
            degrees = math.degrees(math.atan(degrees / 100.0))
        return "camber_deg", -abs(degrees) if found["off"] else degrees
    if found := _PASS.fullmatch(clause):
        metres = _number(found) * _TO_METRES.get((found["unit"] or "m")[0], 1.0)
        return ("pass_within_m", metres) if metres > 0.0 else None
    if found := _LANE.fullmatch(clause):
        return ("target_lane", int(found["value"])) if int(found["value"]) > 0 else None
    if found := _SIDE.fullmatch(clause):
        return "side", Turn(found["side"] or found["other"])
    if found := _TURN.fullmatch(clause):
        return "turn", Turn(found["turn"])
    return None


def _number(found: re.Match[str]) -> float:
    return float(found["value"].replace("−", "-").replace(",", "."))
