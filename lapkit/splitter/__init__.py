"""Laps by the start line, each with its time and how well that is known."""

from __future__ import annotations

from lapkit.splitter.fixes import missing_s
from lapkit.splitter.lap import UNTIMED, Lap, LapKind
from lapkit.splitter.laps import split, why_no_lap

__all__ = ["UNTIMED", "Lap", "LapKind", "missing_s", "split", "why_no_lap"]
