"""The importer: files of several formats → :class:`~lapkit.importer.log.Log`."""

from __future__ import annotations

from lapkit.importer.log import Dropped, Log
from lapkit.importer.quality import Quality, assess
from lapkit.importer.read import read_log, read_logs
from lapkit.importer.source import MAX_BYTES

__all__ = ["MAX_BYTES", "Dropped", "Log", "Quality", "assess", "read_log", "read_logs"]
