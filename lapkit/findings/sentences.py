"""Every sentence that findings are told in, and how numbers are written in them.

Plain English with the trade's words; left and right, inside and wide, early and late in place of
signs; how sure in words. A template is filled from the facts that :mod:`lapkit.findings.facts`
works out.
"""

from __future__ import annotations

from enum import StrEnum

from lapkit.errors import OptionError
from lapkit.units import FOOT_M, KMH_MPS, MPH_MPS


class Units(StrEnum):
    """What a reader chose to read."""

    METRIC = "metric"
    US = "us"

    @classmethod
    def named(cls, name: str) -> Units:
        """The units of that name, in any case.

        Raises:
            OptionError: there is no such name.
        """
        try:
            return cls(str(name).lower())
        except ValueError:
            names = ", ".join(cls)
            raise OptionError(
                f"no units are called {name!r}", remedy=f"Use one of {names}."
            ) from None


TEXTS: dict[str, str] = {
    "exit_tightened": "The exit tightens {often}: {radius} radius where the marker line keeps {line_radius}, "
    "tightest {after_apex} after the last apex.",
    "inside_seam": "Inside the {seam} at the exit {often}, {size} inside the marker line.",
    "turn_in_early": "Turned in {size} early {often}.",
    "turn_in_late": "Turned in {size} late {often}.",
    "apex_missed": "{size} wider of the {marker} cone than the marker line {often}.",
    "exit_cone_missed": "{size} short of the {marker} cone {often}: the road at the exit is left unused.",
    "turn_in_cone_missed": "{size} inside the {marker} cone's line {often}: the corner begins too far in.",
    "cone_wrong_side": "Passed the {marker} cone on the wrong side {often}, by {size}.",
    "lean_off_camber": "{lean} more lean than the marker line asks for at the same speed {often}, "
    "where the road falls away.",
    "lean_added": "{lean} more lean than the marker line asks for at the same speed {often}.",
    "uneven": "A different line every lap: {size} apart from lap to lap.",
    "drifts_wide": "The line at the {marker} moves {size} wider from the first lap of a run to the last.",
    "on_line": "On the marker line {often}: within {size} at every cone, and the exit stays open.",
    "near_line": "Closest to the marker line here: within {size} at every cone in the usual lap.",
    "steady": "The same line every lap: within {size} from lap to lap.",
    "mended": "Mended since the first run: {what}.",
    "opened": "The exit opened from {before} to {after} radius since {since}.",
}
"""What is said first, by the finding's code."""

DETAILS: dict[str, str] = {
    "lean": "It takes {lean} more lean to the {turn} than the marker line would at the same speed.",
    "off_camber": "The road falls away by {camber} there: from the road's own surface he leans that much more.",
    "on_the_way": "With it: {others}.",
    "also_at": "The same at {corners}.",
    "runs": "By run: {runs}.",
    "sure": "{sure}.",
    "lean_saved": "On the marker line the same speeds would have taken {lean} less lean.",
    "time": "At the same lean, the marker line would have carried {speed} more at the slowest point; "
    "that would have been {seconds} through the corner.",
    "lapse": "A lapse, not a habit.",
    "no_cue": "",
}
"""What is added to it."""

SHORT: dict[str, str] = {
    "exit_tightened": "the exit tightens",
    "inside_seam": "inside the seam at the exit",
    "turn_in_early": "turning in early",
    "turn_in_late": "turning in late",
    "apex_missed": "wide of the apex cone",
    "exit_cone_missed": "short of the exit cone",
    "turn_in_cone_missed": "inside at the turn-in cone",
    "cone_wrong_side": "a cone passed on the wrong side",
    "lean_off_camber": "more lean than needed off camber",
    "lean_added": "more lean than needed",
    "uneven": "a different line every lap",
    "drifts_wide": "drifting wide over a run",
}
"""A finding in a few words, to be named along with others."""

SURE = (
    (0.99, "Almost certain"),
    (0.95, "Very likely"),
    (0.9, "Likely"),
    (0.0, "Not certain"),
)
"""From how probable on, in words."""


def metres(value_m: float, units: Units) -> str:
    """A length as it is read: ``1.4 m``, ``49 m``, ``4.6 ft``."""
    size = abs(value_m) / (FOOT_M if units is Units.US else 1.0)
    name = "ft" if units is Units.US else "m"
    return f"{size:.1f} {name}" if size < 9.95 else f"{size:.0f} {name}"


def degrees(value_deg: float) -> str:
    """An angle as it is read: ``4°``."""
    return f"{abs(value_deg):.0f}°"


def speed(value_mps: float, units: Units) -> str:
    """A speed as it is read: ``4 km/h``, ``3 mph``."""
    if units is Units.US:
        return f"{abs(value_mps) / MPH_MPS:.0f} mph"
    return f"{abs(value_mps) / KMH_MPS:.0f} km/h"


def often(seen: int, counted: int) -> str:
    """How often: ``in 6 of 8 laps``, ``in all 8 laps``, ``in one of 8 laps``."""
    if seen == counted:
        return "in the one lap" if counted == 1 else f"in all {counted} laps"
    return f"in {'one' if seen == 1 else seen} of {counted} laps"


def sure(p: float) -> str:
    """How sure, in words."""
    return next(word for least, word in SURE if p >= least)


def listed(words: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
