"""One rider: his runs, and what there is to say about them."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from lapkit.compare.changes import Changed
from lapkit.compare.results import RunResult
from lapkit.counting import counted
from lapkit.errors import printable
from lapkit.findings.finding import Finding


@dataclass(frozen=True, eq=False)
class RiderReview:
    """One rider: his runs in time order, and his findings, most urgent first.

    Attributes:
        rider: name of the rider.
        group: his riding group at his latest run, as the event folder names it.
        runs: his runs in time order.
        findings: what to say to him, most urgent first.
        bikes: the bike of each run; an empty name where it is not known.
        note: the coach's own note about him, which stands on no page.
        remarks: sentences about his logs and the course, for his page.
        changed: his runs compared, measure by measure (:meth:`~lapkit.compare.changes.RunChanges.every`).
    """

    rider: str
    group: str
    runs: tuple[RunResult, ...]
    findings: tuple[Finding, ...]
    bikes: tuple[str, ...] = ()
    note: str = ""
    changed: tuple[Changed, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def changes(self) -> pd.DataFrame:
        """The changes as a table, with the fields of :class:`~lapkit.compare.changes.Changed` as columns."""
        return pd.DataFrame(self.changed, columns=list(Changed._fields))

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every table."""
        runs, findings = counted(len(self.runs), "run"), counted(len(self.findings), "finding")
        return f"<RiderReview of {printable(self.rider)}: {runs}, {findings}>"
