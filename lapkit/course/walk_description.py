"""The description of a waypoint, clause by clause: "camber -3; pass within 1.0; cue: look to the exit cone"."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from lapkit.course.types import Turn
from lapkit.units import FOOT_M


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


_CLAUSES = re.compile(r"[;\n]+")
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
_TO_METRES = {"c": 0.01, "f": FOOT_M}


def read_description(text: str) -> Described:
    """What a description says, clause by clause; clauses end at a semicolon or a line."""
    said: dict[str, object] = {}
    cues, notes, unread = [], [], []
    for piece in _CLAUSES.split(text):
        clause = " ".join(piece.split())
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
            elif re.match(r"(?:off[ -]?)?camber|pass\b|within\b|(?:target )?lane\b|side\b", low):
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
