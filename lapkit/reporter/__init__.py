"""The reporter: pages, figures and tables from what the earlier links found. It computes no measure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.reporter.contents import Contents
from lapkit.reporter.formats import Formats
from lapkit.reporter.output import whole_folder

if TYPE_CHECKING:
    from lapkit.measuring.reviews import EventReview

__all__ = ["whole_folder", "write", "write_pages_into"]


def write(
    event: EventReview,
    out: Path,
    formats: Formats | None = None,
    *,
    workers: int | None = None,
) -> list[Path]:
    """Write tables, and pages when asked for, into a folder that appears whole or not at all.

    Args:
        event: what to write.
        out: the folder.
        formats: as what; as pages in metres when None.
        workers: processes that make pages; one for each core when there are many and this is None.

    Returns:
        The pages written, the one to open first in front; empty without pages.

    Raises:
        OutputError: the folder cannot be written, holds results of something else, or holds a file that
            ``event`` was measured from.
    """
    # Tables load pandas, which a season's answers do without.
    from lapkit.reporter.tables import write_tables

    formats = formats or Formats()
    with whole_folder(out, event.files, Contents.of(event)) as folder:
        write_tables(event, folder, parquet=formats.parquet)
        names = write_pages_into(folder, event, formats, workers)
    return [out / name for name in names]


def write_pages_into(
    folder: Path, event: EventReview, formats: Formats, workers: int | None
) -> list[str]:
    """Write pages and sheets into a folder that is there; names of the pages. Arguments as for :func:`write`."""
    if not (formats.pages or formats.pdf):
        return []
    # The drawing library is loaded only where something is drawn.
    from lapkit.reporter.pages import write_pages

    return write_pages(event, folder, formats, workers)
