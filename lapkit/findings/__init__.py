"""What to say first: from the measures of a day to a few sentences for the next run."""

from lapkit.findings.finding import Finding, Kind
from lapkit.findings.ranking import find, findings_table

__all__ = ["Finding", "Kind", "find", "findings_table"]
