"""One rider: his runs, and what there is to say of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from lapkit.compare.changes import RunChanges
from lapkit.compare.results import RunResult
from lapkit.counting import counted
from lapkit.errors import printable
from lapkit.findings.finding import Finding


@dataclass(frozen=True, eq=False)
class RiderReview:
    """One rider: his runs in time order and his findings, most urgent first.

    ``group`` is the riding group of his latest run as the event folder names it; ``bikes`` names the bike of
    each run, empty where it is not known; ``changes`` is a table of
    :meth:`~lapkit.compare.changes.RunChanges.every`.
    """

    rider: str
    group: str
    runs: tuple[RunResult, ...]
    findings: tuple[Finding, ...]
    bikes: tuple[str, ...] = ()
    note: str = ""
    changes: pd.DataFrame = field(default_factory=RunChanges(()).every)

    def __repr__(self) -> str:
        """Short: a notebook shows it where nobody asked for every table."""
        runs, findings = counted(len(self.runs), "run"), counted(len(self.findings), "finding")
        return f"<RiderReview of {printable(self.rider)}: {runs}, {findings}>"
