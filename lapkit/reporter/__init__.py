"""The reporter: pages, figures and tables from what the earlier links found. It computes no measure."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from lapkit.reporter.output import whole_folder
from lapkit.reporter.review_types import EventReview, RiderReview
from lapkit.reporter.slugs import distinct_slugs
from lapkit.reporter.tables import write_tables

__all__ = ["EventReview", "RiderReview", "write"]


def write(
    event: EventReview,
    out: Path,
    *,
    units: str = "metric",
    pages: bool = True,
    parquet: bool = False,
    pdf: bool = False,
    inputs: Iterable[Path] = (),
) -> list[Path]:
    """Write tables, and pages when asked for, into a folder that appears whole or not at all.

    Args:
        event: what to write.
        out: the folder.
        units: ``metric`` or ``us``, for pages.
        pages, parquet, pdf: what to write besides the CSV tables.
        inputs: what was read, so that it cannot be overwritten.

    Returns:
        The pages written, the one to open first in front; empty without pages.

    Raises:
        OutputError: the folder cannot be written.
    """
    names: list[str] = []
    with whole_folder(out, inputs) as folder:
        write_tables(event, folder, parquet=parquet)
        if pages:
            names = _write_pages(event, folder, units)
        if pdf:
            _write_pdfs(event, folder)
    return [out / name for name in names]


def _write_pages(event: EventReview, folder: Path, units: str) -> list[str]:
    from lapkit.reporter.event_page import event_page
    from lapkit.reporter.rider_page import rider_page

    slugs = distinct_slugs(r.rider for r in event.riders)
    links = {rider: f"rider-{slug}.html" for rider, slug in slugs.items()}
    for rider in event.riders:
        page = rider_page(event, rider, units=units)
        (folder / links[rider.rider]).write_text(page, encoding="utf-8")
    if len(event.riders) == 1:
        return list(links.values())
    page = event_page(event, units=units, links=links)
    (folder / "event.html").write_text(page, encoding="utf-8")
    return ["event.html", *links.values()]


def _write_pdfs(event: EventReview, folder: Path) -> None:
    from lapkit.reporter.pdf import rider_pdf

    slugs = distinct_slugs(r.rider for r in event.riders)
    for rider in event.riders:
        rider_pdf(event, rider, folder / f"rider-{slugs[rider.rider]}.pdf")
