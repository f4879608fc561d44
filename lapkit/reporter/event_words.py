"""What an event is called, and what is said of one without a track file."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lapkit.findings import EventCode
    from lapkit.measuring.reviews import EventReview

NO_TRACK_FILE = (
    "There is no track file: the course and its corners were found from the logs. Cones, seams, lanes and the "
    "marker line are left out, and corners are numbered from the start line."
)


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
