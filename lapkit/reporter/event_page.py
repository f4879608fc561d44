"""The summary after the event: who to talk to, who ran inside the seam, which corner troubles most."""

from __future__ import annotations

from collections.abc import Mapping

from lapkit.compare.standard import standards
from lapkit.compare.usual import usual_of
from lapkit.findings import EventCode
from lapkit.measuring.reviews import EventReview
from lapkit.reporter.course_words import course_rows
from lapkit.reporter.event_summary import summary
from lapkit.reporter.event_words import Head, Said, event_sentences
from lapkit.reporter.figures import course_map_svg
from lapkit.reporter.log_words import words_of_run
from lapkit.reporter.page import render
from lapkit.reporter.seam_grid import SEAM_RULE, SEAM_SURE
from lapkit.reporter.summary_corners import ALL_ROUND
from lapkit.reporter.usual_lap import side_by_side
from lapkit.units import Units


def event_page(event: EventReview, *, units: Units, links: Mapping[str, str]) -> str:
    """The event's page, complete in itself.

    Args:
        event: what to show.
        units: what is read.
        links: rider → file name of his page.
    """
    usual = [(r, usual_of(r.runs[-1])) for r in event.riders]
    words = summary(event, units, links)
    return render(
        "event.html.j2",
        title=f"{words.heading} – summary",
        version=event.provenance.get("version", ""),
        **vars(words),
        heads=Head,
        said=Said,
        seam_rule=SEAM_RULE,
        seam_sure=SEAM_SURE,
        all_round_head=ALL_ROUND,
        map=course_map_svg(event.course, units),
        course=course_rows(event.course, units),
        apart=event_sentences(event, EventCode.APART),
        tables=[
            side_by_side(usual, corner, standards(event.course)[corner.name], units)
            for corner in event.course.corners
        ],
        logs=_logs(event, units),
    )


def _logs(event: EventReview, units: Units) -> list[tuple[str, ...]]:
    # Of the runs that were measured: the event's own table also has the logs that are listed as not used.
    runs = [run for rider in event.riders for run in rider.runs]
    words = [log for run in runs for log in words_of_run(run, units, event.course)]
    return [(log.rider, log.session, log.verdict, log.text) for log in words]
