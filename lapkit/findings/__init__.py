"""What to say first: from the measures of a day to a few sentences for the next run."""

from lapkit.findings.finding import Finding, Kind

__all__ = ["Finding", "Kind"]
