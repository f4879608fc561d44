"""How numbers are shown: units as the reader chose, rounded to what is known, words for directions."""

from __future__ import annotations

import math
import re
from datetime import datetime
from numbers import Real
from typing import NamedTuple

from lapkit.days import in_words, local_day
from lapkit.rounding import to_what_is_known
from lapkit.units import KMH_MPS, MILE_M, Units

# Between a number and its unit, around the "to" of a range, and before the number of a run, lap or lane.
_ON_ONE_LINE = re.compile(
    r"(?<=\d) (?=(?:m|ft|s|km/h|mph)\b|to \d)|(?<=\d to) (?=\d)|(?<=or take) (?=\d)"
    r"|(?<=\brun|\blap) (?=\d)|(?<=\bruns|\blaps|\blane) (?=\d)"
)

# Names stand in quotes, and file names have an ending: a corner called '30 m dip' and a file 5 m.csv keep theirs.
_SIZES = re.compile(
    r"""(?<!\w)(?:'[^']*'|"[^"]*")(?!\w)"""
    r"|(?<![\d.])(?P<size>\d{1,3}(?: \d{3})+|\d+(?:\.\d+)?) (?P<unit>km/h|km|m)\b(?!\.\w)"
)

_WHOLE_MILES = 10.0  # fewer miles are told with a decimal: a kilometre is not a whole one

# Spaces, and the joiners that some scripts are written with.
_KEPT = " \N{NO-BREAK SPACE}\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"

EMPTY = "–"
"""What stands where nothing is known."""


class Measured(NamedTuple):
    """A value with the ends of its 95 % interval, all in one unit; NaN what is not known."""

    value: float
    lo: float = math.nan
    hi: float = math.nan

    @property
    def half(self) -> float:
        """Half the interval."""
        return 0.5 * (self.hi - self.lo)


def plain(text: object, longest: int = 400) -> str:
    """Text from a file, cut to ``longest`` characters; what cannot be shown, such as a control character, is a mark."""
    shown = str(text)
    # A page has tens of thousands of cells, hardly one of which needs a look at every letter.
    if not shown.replace("\N{NO-BREAK SPACE}", " ").isprintable():
        shown = "".join(
            c if c.isprintable() or c in _KEPT else "\N{REPLACEMENT CHARACTER}" for c in shown
        )
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def unbroken(text: str) -> str:
    """The text with every number kept on one line with its unit, its doubt, its range's other end, and its run, lap or lane."""
    kept = _ON_ONE_LINE.sub("\N{NO-BREAK SPACE}", text)
    kept = kept.replace("at it ±", "at\N{NO-BREAK SPACE}it ±")
    return kept.replace(" ± ", "\N{NO-BREAK SPACE}±\N{NO-BREAK SPACE}")


def in_units(text: str, units: Units) -> str:
    """A sentence written in metres, kilometres and km/h in the reader's units; what stands in quotes is left as it is."""
    if units is Units.METRIC:
        return text

    def said(match: re.Match[str]) -> str:
        if match["unit"] is None:
            return match[0]
        size, digits = float(match["size"].replace(" ", "")), len(match["size"].partition(".")[2])
        if match["unit"] == "km":
            miles = 1e3 * size / MILE_M
            return f"{miles:,.{0 if miles >= _WHOLE_MILES else 1}f} miles"
        if match["unit"] == "km/h":
            return f"{size * KMH_MPS / units.speed_mps:.{digits}f} {units.speed}"
        return f"{size / units.length_m:.{digits}f} {units.length}"

    return _SIZES.sub(said, text)


def known(value: object) -> bool:
    """Whether a table's cell holds a finite number."""
    # Most are floats, and asking an abstract class about them would take ten times as long.
    return isinstance(value, (float, int, Real)) and math.isfinite(value)


def rounded(value: float, half: float, unit: str, finest: int = 0) -> str:
    """A value with half its interval, both to the digits that the interval leaves: ``41 ± 2 m``.

    A value that is surely not zero has one digit more where ``2 ± 2`` would leave that open.

    Args:
        value: the value, in the unit shown.
        half: half its 95 % interval; NaN when it has none.
        unit: stands behind the value, a degree sign without a space; empty in a table whose head names it.
        finest: the most decimals shown; the digit more may be a first decimal, but no second one.
    """
    if not known(value):
        return EMPTY
    shown, wide = to_what_is_known(value, half if known(half) else float("nan"), finest)
    degree = "°" if unit == "°" else ""
    behind = f" {unit}" if unit and not degree else ""
    return f"{shown}{degree}" + (f" ± {wide}{degree}" if wide else "") + behind


def length_text(value_m: float, units: Units, digits: int = 0) -> str:
    """A length with its unit."""
    return rounded(value_m / units.length_m, float("nan"), units.length, digits)


def radius_text(radius_m: Measured, units: Units, *, bare: bool = False) -> str:
    """A radius with half its interval; ``bare`` leaves the unit to the head of a table."""
    shown, half = radius_m.value / units.length_m, radius_m.half / units.length_m
    return rounded(shown, half, "" if bare else units.length)


def degrees_text(angle_deg: Measured) -> str:
    """An angle with half its interval, whole degrees."""
    return rounded(angle_deg.value, angle_deg.half, "°")


def speed_text(value_mps: float, units: Units) -> str:
    """A speed without its unit."""
    return rounded(value_mps / units.speed_mps, float("nan"), "")


def seconds_text(value_s: float) -> str:
    """Seconds to a hundredth, without their unit."""
    return rounded(value_s, float("nan"), "", 2)


def gap_text(gap_m: Measured, units: Units) -> str:
    """Distance to a cone without its unit, in words when the tyres passed it on the wrong side.

    Where the side is not sure, only how near the cone they passed is said.
    """
    text = _distance_text(gap_m, units)
    if text == EMPTY:
        return text
    if gap_m.lo < 0.0 < gap_m.hi:
        reach = max(-gap_m.lo, gap_m.hi) / units.length_m
        return f"at it {rounded(0.0, reach, '', 1).partition(' ')[2]}"
    return text if gap_m.value >= 0 else f"{text} on the wrong side"


def wide_text(wide_m: Measured, units: Units) -> str:
    """Distance from the marker line without its unit, its side in words; what is written as 0 has no side."""
    text = _distance_text(wide_m, units)
    if text == EMPTY or not float(text.partition(" ")[0]):
        return text
    return f"{text} {'wide' if wide_m.value >= 0 else 'inside'}"


def _distance_text(offset_m: Measured, units: Units) -> str:
    """How far something is off, whichever way."""
    if not known(offset_m.value):
        return EMPTY
    return rounded(abs(offset_m.value) / units.length_m, offset_m.half / units.length_m, "", 1)


def lane_text(lane: float, p: float) -> str:
    """A lane, with a question mark where it is only the likeliest."""
    # Here, not above: the season's pages show no lanes, and would wait for scipy.
    from lapkit.path.summary import CALL_AT

    if not known(lane):
        return EMPTY
    return f"{int(lane)}" if p >= CALL_AT else f"{int(lane)}?"


def clock_text(seconds: float, sd_s: float = float("nan")) -> str:
    """A lap time as minutes:seconds, to a hundredth or, where that is not known, to a tenth."""
    if not known(seconds):
        return EMPTY
    digits = 1 if known(sd_s) and sd_s > 0.05 else 2
    minutes, rest = divmod(round(float(seconds), digits), 60.0)
    return f"{int(minutes)}:{rest:0{digits + 3}.{digits}f}"


def share_text(ratio: float) -> str:
    """An exit's radius as a share of the marker line's."""
    return f"{100 * ratio:.0f} %" if known(ratio) else EMPTY


def moment_text(start: str, lon_deg: float) -> str:
    """The day where it was, and the time in UTC, with a word where that is on another day.

    Args:
        start: when, ISO 8601 in UTC.
        lon_deg: longitude of the place, degrees.
    """
    utc, day = datetime.fromisoformat(start), local_day(start, lon_deg)
    beside = {-1: " the day before", 0: "", 1: " the day after"}[(utc.date() - day).days]
    return f"{in_words(day)}, {utc:%H:%M} UTC{beside}"
