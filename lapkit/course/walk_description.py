"""The description of a waypoint, clause by clause: "camber -3; pass within 1.0; cue: look to the exit cone"."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from lapkit.course.types import Turn
from lapkit.units import FOOT_M

Value = TypeVar("Value")


@dataclass(frozen=True)
class Described:
    """What a description says.

    Attributes:
        camber_deg: degrees, positive where banked to the inside.
        pass_within_m: metres.
        target_lane: counted from the inside.
        side: the side of the rider on which a cone stands.
        turn: which way a corner goes.
        cues: sentences for the rider.
        notes: everything that is none of these.
        unread: clauses that begin like one of these and have no value that can be used.
    """

    camber_deg: float | None = None
    pass_within_m: float | None = None
    target_lane: int | None = None
    side: Turn | None = None
    turn: Turn | None = None
    cues: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()


_CLAUSES = re.compile(r"[;\n]+")
_SENTENCE = re.compile(r"(?P<kind>cue|note)s?\b[ :-]*(?P<text>.*)", re.IGNORECASE)
_NUMBER = r"(?P<value>[-+−]?\d+(?:[.,]\d+)?)"
_CAMBER = re.compile(
    rf"(?P<off>off[ -]?)?camber\s*[:=]?\s*{_NUMBER}\s*(?P<unit>%|percent|°|deg\w*)?"
)
_PASS = re.compile(
    rf"(?:pass(?: within)?|within)\s*[:=]?\s*{_NUMBER}\s*(?P<unit>m|metres?|meters?|cm|ft|feet)?"
)
_LANE = re.compile(r"(?:target )?lane\s*[:=]?\s*(?P<value>\d+)")
_SIDE = re.compile(
    r"(?:on (?:the |my |your )?|side\s*[:=]?\s*)(?P<side>left|right)|(?P<other>left|right) side"
)
_TURN = re.compile(r"(?:turns? )?(?P<turn>left|right)(?:[ -]?hander)?")
_BEGINS_LIKE_A_VALUE = re.compile(r"(?:off[ -]?)?camber|pass\b|within\b|(?:target )?lane\b|side\b")
_TO_METRES = {"c": 0.01, "f": FOOT_M}


def read_description(text: str) -> Described:
    """What a description says; its clauses end at a semicolon or a line's end."""
    return merged([_clause(" ".join(piece.split())) for piece in _CLAUSES.split(text)])


def merged(said: Sequence[Described]) -> Described:
    """What several descriptions of one place say together; of two values the later one holds."""
    return Described(
        camber_deg=_latest(one.camber_deg for one in said),
        pass_within_m=_latest(one.pass_within_m for one in said),
        target_lane=_latest(one.target_lane for one in said),
        side=_latest(one.side for one in said),
        turn=_latest(one.turn for one in said),
        cues=tuple(dict.fromkeys(cue for one in said for cue in one.cues)),
        notes=tuple(dict.fromkeys(note for one in said for note in one.notes)),
        unread=tuple(clause for one in said for clause in one.unread),
    )


def _latest(values: Iterable[Value | None]) -> Value | None:
    """The last value that is not None; None when there is no such value."""
    latest = None
    for value in values:
        latest = latest if value is None else value
    return latest


def _clause(clause: str) -> Described:
    """What one clause says."""
    if found := _SENTENCE.fullmatch(clause):
        sentences = (found["text"],) if found["text"] else ()
        is_cue = found["kind"].lower() == "cue"
        return Described(cues=sentences) if is_cue else Described(notes=sentences)
    low = clause.lower().rstrip(".")
    said = _value(low)
    if said is not None:
        return said
    if _BEGINS_LIKE_A_VALUE.match(low):
        return Described(unread=(clause,))
    return Described(notes=(clause,) if clause else ())


def _value(clause: str) -> Described | None:
    """The value that a clause sets; None when it sets none."""
    if found := _CAMBER.fullmatch(clause):
        degrees = _number(found)
        if found["unit"] in ("%", "percent"):
            degrees = math.degrees(math.atan(degrees / 100.0))
        return Described(camber_deg=-abs(degrees) if found["off"] else degrees)
    if found := _PASS.fullmatch(clause):
        metres = _number(found) * _TO_METRES.get((found["unit"] or "m")[0], 1.0)
        return Described(pass_within_m=metres) if metres > 0.0 else None
    if found := _LANE.fullmatch(clause):
        lane = int(found["value"])
        return Described(target_lane=lane) if lane > 0 else None
    if found := _SIDE.fullmatch(clause):
        return Described(side=Turn(found["side"] or found["other"]))
    if found := _TURN.fullmatch(clause):
        return Described(turn=Turn(found["turn"]))
    return None


def _number(found: re.Match[str]) -> float:
    return float(found["value"].replace("−", "-").replace(",", "."))
