"""What to say first: from the measures of a day to a few sentences for the next run."""

from lapkit.findings.codes import Code
from lapkit.findings.event import EventCode, EventFinding, find_event
from lapkit.findings.finding import Finding, Kind
from lapkit.findings.ranking import find, findings_table
from lapkit.findings.rider import RiderReview
from lapkit.findings.untold import untold, worth_a_look

__all__ = [
    "Code",
    "EventCode",
    "EventFinding",
    "Finding",
    "Kind",
    "RiderReview",
    "find",
    "find_event",
    "findings_table",
    "untold",
    "worth_a_look",
]
