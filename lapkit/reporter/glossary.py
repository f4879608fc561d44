"""What the words on a page mean, as a rider meets them."""

from __future__ import annotations

from lapkit.curvature import HELD_OVER_M
from lapkit.reporter import display
from lapkit.units import Units

GLOSSARY = (
    ("Marker line", "the line the coach wants ridden, past his cones."),
    (
        "Tightest radius",
        "the smallest radius held over any {window} of your path. Larger is more open.",
    ),
    ("Exit", "from the last apex cone to the exit cone."),
    (
        "An exit that tightens",
        "tight enough to mind: its radius is clearly smaller than the marker line’s, and it takes more lean than the line "
        "would at that speed. Where it takes no more lean, a tighter exit counts only below seven "
        "tenths of the line’s radius. Once it is a habit, every lap counts whose exit is surely below nine tenths "
        "of the line’s radius.",
    ),
    ("Lean", "the lean from the vertical that balances speed and radius, held over {window}."),
    (
        "Usual lap",
        "the mean of a run’s timed laps. Its ± says how well that mean is known, their scatter counted; one lap "
        "may lie further off.",
    ),
    (
        "Give or take",
        "how well a lap’s own figure is known. What is called off the line is told with the middling lap of those "
        "counted, so it may differ from the usual lap.",
    ),
    ("Lane", "the strip between two seams, counted 1, 2, 3 from the inside of the corner outward."),
    (
        "Inside the seam",
        "the tyres ran on the inner side of it for more than half of the exit. Where the marker line runs "
        "inside too, that is said beside it.",
    ),
    (
        "Unclear",
        "the log cannot tell which side of a seam it was with nine chances in ten.",
    ),
    (
        "Data",
        "how well the log tells a lap’s radius and lean there: good or fair. Where it is poor, they are left out.",
    ),
    (
        "Off camber",
        "the road falls away to the outside: the same lean is more, seen from the road.",
    ),
    (
        "Habit, lapse",
        "a habit shows in more than half of all laps, or in more than two thirds of the last run’s; a lapse "
        "does not. A habit is told as the last run shows it; what was surely left off there is a habit no more.",
    ),
)
"""Terms of the trade and of lapkit, each with its meaning; ``{window}`` is the length that extremes are held over."""

_ALWAYS = ("Tightest radius", "Lean", "Usual lap", "Data")
_OF_SEAMS = ("Lane", "Inside the seam", "Unclear")


def glossary(units: Units, *, lined: bool = True, seamed: bool = True) -> list[tuple[str, str]]:
    """Each term with its meaning, lengths in the reader's units.

    Args:
        units: what the reader reads.
        lined, seamed: whether the page has a marker line, and seams; terms that need them are left out otherwise.
    """

    def is_met(term: str) -> bool:
        return term in _ALWAYS or (seamed if term in _OF_SEAMS else lined)

    window = display.length_text(HELD_OVER_M, units)
    return [(term, meaning.format(window=window)) for term, meaning in GLOSSARY if is_met(term)]
