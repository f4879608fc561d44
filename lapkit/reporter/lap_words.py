"""A rider's laps as his page lists and counts them."""

from __future__ import annotations

import pandas as pd

from lapkit.counting import listed
from lapkit.reporter import display
from lapkit.splitter import LapKind
from lapkit.units import Units

_KINDS = {"out": "out-lap", "timed": "timed", "in": "in-lap", "broken": "broken"}

_MISSING_S = 0.5  # less is not worth a note


def lap_rows(laps: pd.DataFrame, units: Units) -> list[tuple[str, ...]]:
    """A row for each lap of the table ``laps``: run, lap, time, kind, when it began (UTC), note."""
    rows: list[tuple[str, ...]] = []
    for r in laps.itertuples():
        notes = [] if pd.isna(r.note) else [display.in_units(str(r.note), units)]
        if display.known(r.missing_s) and r.missing_s >= _MISSING_S:
            notes.append(f"{r.missing_s:.1f} s of it not logged")
        note = "; ".join(filter(None, notes))
        stamp = pd.to_datetime(r.start_utc, utc=True, errors="coerce")
        begun = display.EMPTY if pd.isna(stamp) else f"{stamp:%H:%M:%S}"
        kind = _KINDS.get(str(r.kind), str(r.kind))
        time = display.clock_text(r.time_s, r.time_sd_s)
        rows.append((str(r.session), str(r.lap), time, kind, begun, note))
    return rows


def lap_count(laps: pd.DataFrame) -> str:
    """A sentence with how many laps of each run were timed from line to line."""
    timed = laps["kind"] == LapKind.TIMED.value
    counts = [
        f"{count or 'none'} in run {run}"
        for run, count in timed.groupby(laps["session"].astype(str), sort=False).sum().items()
    ]
    return f"Timed from line to line: {listed(counts)}."
