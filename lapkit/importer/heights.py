"""How high antenna and centre of mass stand on a machine, and how round its tyres are: as a ``riders.csv`` gives it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from lapkit.lean import USUAL_COM_HEIGHT_M, USUAL_TYRE_RADIUS_M


@dataclass(frozen=True)
class Heights:
    """Heights above the road with the machine upright, metres.

    Attributes:
        antenna_m: height of the antenna.
        com_m: height of the centre of mass of machine and rider.
        tyre_radius_m: crown radius of the rear tyre.
        com_sd_m: how well ``com_m`` is known, one standard deviation.
        antenna_sd_m: the same of ``antenna_m``.
        antenna_measured: whether somebody measured ``antenna_m``; else it is the usual one.
    """

    antenna_m: float = 0.9
    com_m: float = USUAL_COM_HEIGHT_M
    tyre_radius_m: float = USUAL_TYRE_RADIUS_M
    com_sd_m: float = 0.04
    antenna_sd_m: float = 0.05
    antenna_measured: bool = True

    @classmethod
    def usual(cls) -> Heights:
        """The heights of a machine that nobody measured.

        Antennas are mounted anywhere from the tank to the tail, and now and then on the rider. So the usual height of an
        antenna is less certain than a measured one (our choice).
        """
        return cls(antenna_sd_m=0.10, antenna_measured=False)

    @property
    def above_m(self) -> float:
        """Height of the antenna above the centre of mass, metres."""
        return self.antenna_m - self.com_m


class _Column(NamedTuple):
    """What a column holds: a field of :class:`Heights`, and the limits between which a machine's lies, metres."""

    field: str
    least_m: float
    most_m: float


HEIGHT_COLUMNS = {
    "antenna_height_m": _Column("antenna_m", 0.0, 3.0),
    # The centre of mass stays above the tyre, or lean has no solution.
    "com_height_m": _Column("com_m", 0.3, 1.5),
    "tyre_radius_m": _Column("tyre_radius_m", 0.0, 0.25),
}
"""The columns of a ``riders.csv`` that hold a height of the machine."""

_SMALLEST_CM = 5.0  # a number from here on is not in metres, but may be in centimetres


def heights_from(cells: Mapping[str, str]) -> tuple[Heights, str]:
    """The heights that a line of a ``riders.csv`` gives, and what is wrong with them.

    Args:
        cells: what the line says, by column; what is empty or missing is as usual.

    Returns:
        The heights, and why the first cell that holds no height holds none; "" if none is wrong.
    """
    given: dict[str, Any] = {}  # by the names of a machine's fields
    faults = []
    for name, column in HEIGHT_COLUMNS.items():
        text = cells.get(name, "").replace(",", ".")
        if not text:
            continue
        value_m = _number(text)
        if column.least_m < value_m < column.most_m:
            given[column.field] = value_m
        else:
            faults.append(_fault(name, text, value_m))
    usual = Heights() if "antenna_m" in given else Heights.usual()
    return replace(usual, **given), next(iter(faults), "")


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _fault(name: str, text: str, value_m: float) -> str:
    """That a cell of a column holds no height of a machine, and what may have been meant.

    ``value_m`` is its ``text`` as a number, NaN if it is none.
    """
    _, least, most = HEIGHT_COLUMNS[name]
    in_cm = value_m >= _SMALLEST_CM and least < value_m / 100.0 < most
    meant = f"; {value_m / 100.0:.2f} if centimetres were meant" if in_cm else ""
    return f"{name} is {text!r}, not a height in metres between {least:g} and {most:g}{meant}"
