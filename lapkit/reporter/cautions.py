"""What stands on everything that a rider or a coach is given to read."""

from __future__ import annotations

CAUTIONS = (
    "The event’s rules, the marshals, licensed instructors and your own judgement come first.",
    "Nothing here is a target. Being off the line is what to mind, not being slow.",
    "Radius and lean are inferred from satellite fixes, not measured.",
    "The lean is the balance lean, not the angle of the chassis: hanging off and the width of the tyre "
    "change that angle.",
    "Grip figures say what cornering asked for, never what the tyre has left.",
)
"""On every page and every printed sheet."""

TERMINAL_CAUTION = (
    "Radius and lean are inferred from satellite fixes and are no target; the event's rules, marshals,\n"
    "licensed instructors and the rider's own judgement come first."
)
"""Under every result on the terminal, broken into lines."""
