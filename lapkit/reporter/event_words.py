"""What an event is called, and words of its summary that stand on the page and on the sheet alike."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lapkit.findings import EventCode
    from lapkit.measuring.reviews import EventReview

NO_TRACK_FILE = (
    "There is no track file: the course and its corners were found from the logs. Cones, seams, lanes and the "
    "marker line are left out, and corners are numbered from the start line."
)

"""What is said of an event without a track file."""


class Head(StrEnum):
    """Headings of the summary's sections."""

    TALK = "Riders to talk to first"
    SEAMS = "Who ran inside the seam at the exit"
    EXITS = "Whose exits tighten"
    CORNERS = "Corners by trouble"
    RUNS = "From run to run"


class Said(StrEnum):
    """Words of the summary's sentences. Those that break off go on with names, which are links on the page."""

    UNREMARKED = "Nothing stands out for"
    LEFT_OFF = "Nothing stands out any more for"
    UNTOLD = "No habit can be told for"
    NEXT = "Then"
    """Before what else to keep in mind, where a habit to work on came first."""
    IN_MIND = "Keep in mind"
    """The same where none did."""
    LINE_INSIDE = "the marker line itself runs inside, so nobody is counted there."
    """What follows the names of corners without a counted seam."""
    NO_CHANGE = "No change is sure."


def event_title(event: EventReview) -> str:
    """What an event is called: the course's own name, else its folder's, written as words."""
    named = event.course.track.members.get("name") if event.course.track else None
    if isinstance(named, str) and named.strip():
        return named.strip()
    spaced = " ".join(event.title.replace("_", " ").split())
    return spaced[:1].upper() + spaced[1:]


def event_sentences(event: EventReview, code: EventCode) -> list[str]:
    """What is found about the event as a whole under one code."""
    return [finding.text for finding in event.findings if finding.code is code]
