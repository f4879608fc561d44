"""A corner's section of the rider's page: pictures, and the tables under them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from markupsafe import Markup
from matplotlib.figure import Figure

from lapkit.findings import Finding
from lapkit.reporter.captions import picture_caption, thick_lap
from lapkit.reporter.corner_head import CornerHead
from lapkit.reporter.corner_tables import Table, cones_table, lanes_table, laps_table
from lapkit.reporter.figures import along, overhead, straightened, svg_of
from lapkit.reporter.figures.along import leaves_the_panels
from lapkit.reporter.page import data_block
from lapkit.reporter.readings import readings
from lapkit.reporter.rider_at_corner import RiderAtCorner


@dataclass(frozen=True)
class Picture:
    """A picture with its caption and the table under it.

    Attributes:
        kind: ``plan``, ``line`` or ``bend`` in a corner's section, that of its finding on the first screen.
        svg: the picture.
        caption: how to read it.
        label: what the table is called.
        head, rows: the table; empty without one.
        main: heads of the columns that a small screen shows first.
        own: how the caption begins, which no other corner's does: on paper the rest stands once.
    """

    kind: str
    svg: Markup
    caption: str
    label: str
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    main: tuple[str, ...] = ()
    own: str = ""


@dataclass(frozen=True)
class CornerSection:
    """What the page shows of one corner.

    Attributes:
        head: what stands over it.
        findings: what is told there, most urgent first.
        pictures: with their tables; none where no lap tells radius or lean.
        data: readings along it, for the script; None without pictures of them.
        untold: why nothing can be told; empty where something can.
        usual: the usual lap in words; empty where it is not known.
    """

    head: CornerHead
    findings: Sequence[Finding]
    pictures: Sequence[Picture]
    data: Markup | None
    untold: str = ""
    usual: str = ""


def corner_section(here: RiderAtCorner, *, untold: str = "", usual: str = "") -> CornerSection:
    """The section of one corner; arguments as in :class:`CornerSection`."""
    measured = replace(here, traces=here.measured)
    if measured.traces:
        pictures = _pictures(measured)
        data = data_block(readings(here.corner, measured.traces, here.thick, here.units))
    else:
        pictures, data = _places_alone(here), None
    return CornerSection(
        head=CornerHead.of(
            here.course, here.corner, here.number, here.standard.exit_radius_m, here.units
        ),
        findings=here.findings,
        pictures=pictures,
        data=data,
        untold=untold,
        usual=usual,
    )


def _pictures(here: RiderAtCorner) -> list[Picture]:
    """The corner from above, pulled straight, and along its metres; each with what its table holds."""
    lined = here.standard.line is not None
    above = picture_caption(here.findings, here.traces, lined)
    thick = thick_lap(here.findings[0]) if here.findings else ""
    other_way = _OTHER_WAY if leaves_the_panels(here.corner, here.traces) else ""
    lap = "the thick lap" if here.findings else "the latest lap"
    bend = _BEND.format(lap=lap) if lined else _BARE
    bend = f"{other_way} {bend}".strip()
    name = here.name
    return [
        _picture(here, _Drawing("plan", overhead, f"{name} from above", above), thick),
        _picture(here, _Drawing("line", straightened, f"{name} pulled straight", _straight(here))),
        _picture(here, _Drawing("bend", along, f"Radius and lean through {name}", bend), other_way),
    ]


class _Drawing(NamedTuple):
    """A drawing to be made of a corner: its kind, the function that draws it, its title and its caption."""

    kind: str
    draw: Callable[..., Figure]
    title: str
    caption: str

    def of(self, here: RiderAtCorner) -> Markup:
        figure = self.draw(here.course, here.corner, here.traces, here.thick, here.units)
        return svg_of(figure, f"c{here.number + 1}{self.kind}-", self.title, self.caption)


def _straight(here: RiderAtCorner) -> str:
    """How to read the corner pulled straight: how well a lap's place across the road is known, by shade or by a bar."""
    return f"{_PULLED} {_BAR if here.course.found else _SHADE}"


def _places_alone(here: RiderAtCorner) -> list[Picture]:
    """Where laps too coarsely logged for radius and lean may have run; without tables of dashes.

    A lap that may have run anywhere is not drawn: its line between two far fixes would cross the fields.
    """
    placed = [t for t in here.traces if np.median(t.offset_sd_m) <= _ANYWHERE_M]
    if not placed:
        return []
    bare = replace(here, findings=(), traces=placed)
    above = picture_caption((), placed, bare.standard.line is not None)
    drawings = (
        _Drawing("plan", overhead, f"{here.name} from above", above),
        _Drawing("line", straightened, f"{here.name} pulled straight", _straight(here)),
    )
    return [
        Picture(each.kind, each.of(bare), each.caption, _TABLES[each.kind][0]) for each in drawings
    ]


def _picture(here: RiderAtCorner, drawing: _Drawing, own: str = "") -> Picture:
    """A drawing with the table of its kind; ``own`` is how its caption begins."""
    label, table = _TABLES[drawing.kind]
    return Picture(drawing.kind, drawing.of(here), drawing.caption, label, *table(here), own)


_ANYWHERE_M = 2.5
"""A place across the road known no better, one standard deviation, is anywhere on a road of ten metres."""

_PULLED = "Pulled straight: along from turn-in, the inside below."
_SHADE = "Shade: where the lap may have been."
_BAR = (
    "The bar: a lap may truly lie anywhere in so wide a strip about its line; laps ridden one after another lie off by "
    "much the same."
)
_BEND = (
    "Black dashes: what the marker line has, and the lean that it would have asked for at the speed of "
    "{lap}."
)
_OTHER_WAY = "A line breaks off where you lean further the other way."
_BARE = "Every lap’s radius and lean along the corner."


_TABLES: dict[str, tuple[str, Callable[[RiderAtCorner], Table]]] = {
    "plan": ("How far from the cones, lap by lap", cones_table),
    "line": ("Lanes and seams, lap by lap", lanes_table),
    "bend": ("Radius, lean and speed, lap by lap", laps_table),
}
"""The table under each kind of picture, and what it is called."""
