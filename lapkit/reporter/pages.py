"""The pages of an event into a folder: one a rider, several at a time where there are many, and the summary."""

from __future__ import annotations

import gc
import pickle
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from lapkit.findings import RiderReview
from lapkit.measuring.reviews import EventReview
from lapkit.measuring.workers import cores, own_processes
from lapkit.reporter.event_page import event_page
from lapkit.reporter.event_sheet import event_pdf
from lapkit.reporter.figures import standalone
from lapkit.reporter.figures.canvas import one_figure
from lapkit.reporter.formats import Formats
from lapkit.reporter.rider_page import rider_page
from lapkit.reporter.rider_sheet import rider_pdf
from lapkit.reporter.slugs import distinct_slugs

FIGURES = "figures"
"""Folder of the pictures as files of their own."""

Job = tuple[RiderReview, str]
"""A rider and the slug of his files."""

_FRAME = ".lapkit-frame"  # the event as the workers read it, in the folder of this run alone
_FEW = 6  # riders whose pages take less time than starting processes for them
_kept: list[EventReview] = []
"""In a worker: the event whose pages it makes."""


def write_pages(
    event: EventReview, folder: Path, formats: Formats | None = None, workers: int | None = None
) -> list[str]:
    """Write every page, picture and sheet; names of the pages, the one to open first in front.

    Args:
        event: what to write.
        folder: an existing folder.
        formats: whether to write pages and pictures, and sheets: one for each rider, and the summary's.
        workers: processes to use; one for each core for more than a few riders when None.
    """
    formats = formats or Formats()
    slugs = distinct_slugs(r.rider for r in event.riders)
    links = {rider: f"rider-{slug}.html" for rider, slug in slugs.items()}
    if formats.pages:
        (folder / FIGURES).mkdir()
    job = partial(_write_rider, folder=folder, formats=formats)
    jobs = [(rider, slugs[rider.rider]) for rider in event.riders]
    count = workers or (1 if len(jobs) <= _FEW else cores())
    _write_all(job, jobs, _bare(event), min(count, len(jobs)), folder / _FRAME)
    # A rider all of whose logs are of no use has no page of his own: the summary is where he is named.
    alone = len({r.rider for r in event.riders} | {u.rider for u in event.unusable}) == 1
    if formats.pdf and not alone:
        event_pdf(event, folder / "event.pdf", units=formats.units)
    if not formats.pages:
        return []
    if alone:
        return list(links.values())
    page = event_page(event, units=formats.units, links=links)
    (folder / "event.html").write_text(page, encoding="utf-8")
    return ["event.html", *links.values()]


def _bare(event: EventReview) -> EventReview:
    """What a rider's page needs of the event, small enough to be read by every worker."""
    return replace(event, riders=(), tables={})


def _write_all(
    job: Callable[[EventReview, Job], None],
    jobs: Sequence[Job],
    frame: EventReview,
    workers: int,
    handed_over: Path,
) -> None:
    if workers <= 1:
        for one in jobs:
            job(frame, one)
        return
    # Not given to the processes as they start: it is more than a pipe holds, so this process would wait for ever for a
    # worker that was stopped before it read all of it, as happens where memory is short.
    handed_over.write_bytes(pickle.dumps(frame))
    try:
        with own_processes(workers, _keep, (handed_over,)) as pool:
            list(pool.map(partial(_in_worker, job), jobs))
    finally:
        handed_over.unlink()


def _keep(handed_over: Path) -> None:
    """Make a worker ready. What is loaded by now stays, so the garbage collector need not look through it again."""
    _kept.append(pickle.loads(handed_over.read_bytes()))
    gc.freeze()


def _in_worker(job: Callable[[EventReview, Job], None], one: Job) -> None:
    """Make one rider's page: the course came once, with the worker, and not with every rider."""
    job(_kept[-1], one)


def _write_rider(frame: EventReview, job: Job, *, folder: Path, formats: Formats) -> None:
    """Write what there is of one rider."""
    rider, slug = job
    if formats.pdf:
        rider_pdf(frame, rider, folder / f"rider-{slug}.pdf", units=formats.units)
    if not formats.pages:
        return
    with one_figure():
        page = rider_page(frame, rider, units=formats.units)
    (folder / f"rider-{slug}.html").write_text(page.html, encoding="utf-8")
    for name, svg in page.pictures.items():
        path = folder / FIGURES / f"{slug}-{name}.svg"
        path.write_text(standalone(svg), encoding="utf-8")
