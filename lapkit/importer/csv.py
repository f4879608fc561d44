"""CSV with a header → raw fixes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from lapkit.arrays import BoolArray, FloatArray, IntArray
from lapkit.errors import LogError
from lapkit.importer.csv_angles import from_degrees_minutes
from lapkit.importer.csv_columns import CHANNEL_OF, SPEED_UNITS, UNIT_SIZES
from lapkit.importer.csv_layout import find_layout
from lapkit.importer.csv_speed import speed_unit
from lapkit.importer.csv_table import Table
from lapkit.importer.csv_times import CsvTimes
from lapkit.importer.fixes import RawFixes
from lapkit.importer.source import Source, safe_name, used_up_to

_MOST_RIDERS = 200  # more names in one file are something else's
_ROWS_PER_RIDER = 10  # on average; with fewer the names are no riders'


def read_csv(source: Source, columns: Mapping[str, str]) -> RawFixes:
    """Read every row of a CSV log, in file order.

    Args:
        source: the file.
        columns: column name → header, for what the user says himself.

    Raises:
        LogError: no usable header, no rows, times in no known form, or a line too long to be one.
        OptionError: ``columns`` names no column of lapkit's.
    """
    layout = find_layout(source, columns)
    if not layout.sample:
        raise LogError(
            "it has a header, but no fix below it",
            where=source.name,
            remedy="Check that the receiver had a fix and was told to log",
        )
    table = Table(layout, CsvTimes(layout, source.name))
    fault = ""
    try:
        table.read(source)
    except (ValueError, OverflowError) as error:
        # pandas raises many kinds of ValueError; all mean that a row is beyond repair.
        reason = safe_name(str(error).split("\n")[0][:120])
        fault = f"the rows break off ({reason})"
    remarks = _Remarks(dict(layout.guesses), list(source.notes()))
    if fault:
        remarks.notes.insert(0, used_up_to(fault))
    time_s, has_clock = table.times.seconds()
    remarks.guesses |= table.times.guesses
    lat_deg, lon_deg = _positions(table, remarks)
    channels = _channels(table)
    if "speed_mps" in channels and not layout.columns["speed"].unit:
        unit = speed_unit(time_s, lat_deg, lon_deg, channels["speed_mps"])
        _settle_speed_unit(channels, unit, remarks)
    for name in ("height", "accuracy"):
        if name in layout.columns and not layout.columns[name].unit:
            remarks.guesses[f"{name} unit"] = "m"
    void = _void_rows(channels, remarks)
    rider_of, riders = _riders(table)
    return RawFixes(
        time_s=time_s,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        channels=channels,
        void=void,
        has_clock=has_clock,
        rider_of=rider_of,
        riders=riders,
        guesses=remarks.guesses,
        notes=tuple(remarks.notes),
        breaks_off=bool(fault) or source.breaks_off,
    )


@dataclass
class _Remarks:
    """What the user should know about a file, gathered on the way: guesses → what was chosen, and notes."""

    guesses: dict[str, str]
    notes: list[str]


def _positions(table: Table, remarks: _Remarks) -> tuple[FloatArray, FloatArray]:
    """Latitudes and longitudes, degrees, ``(n,)`` each."""
    lat, lon = _degrees(table, "lat"), _degrees(table, "lon")
    split = from_degrees_minutes(lat, lon)
    if split is not None:
        remarks.guesses["position"] = "degrees and minutes as one number"
        lat, lon = split
    return _on_side(lat, table.take("lat_side")), _on_side(lon, table.take("lon_side"))


def _degrees(table: Table, name: str) -> FloatArray:
    values = table.take(name)
    assert values is not None  # find_layout refuses a file without positions
    return np.degrees(values) if table.layout.columns[name].unit == "rad" else values


def _on_side(degrees: FloatArray, sign: FloatArray | None) -> FloatArray:
    """Angles with the sign of their side of the globe, where a column of its own gives it."""
    if sign is None:
        return degrees
    return np.where(np.isnan(sign), degrees, np.abs(degrees) * sign)


def _channels(table: Table) -> dict[str, FloatArray]:
    """The optional channels in SI units, ``(n,)`` each; a column without a unit is taken as it is."""
    channels = {}
    for name, channel in CHANNEL_OF.items():
        values = table.take(name)
        if values is not None:
            unit = table.layout.columns[name].unit
            channels[channel] = values * UNIT_SIZES.get(unit, 1.0)
    return channels


def _settle_speed_unit(channels: dict[str, FloatArray], unit: str, remarks: _Remarks) -> None:
    """Bring a speed whose column gives no unit into m/s; take it out where the positions do not tell the unit."""
    if unit:
        remarks.guesses["speed unit"] = f"{unit}, because it agrees with the positions"
        channels["speed_mps"] = channels["speed_mps"] * SPEED_UNITS[unit]
    else:
        del channels["speed_mps"]
        remarks.notes.append(
            "the speed has no unit and agrees with the positions in none; it was ignored"
        )


def _void_rows(channels: dict[str, FloatArray], remarks: _Remarks) -> BoolArray | None:
    """Rows with a fix quality of 0, ``(n,)``; None without such a channel.

    A fix quality that is 0 throughout says nothing and is taken out of ``channels``.
    """
    fix = channels.get("fix_quality")
    if fix is None:
        return None
    if len(fix) and np.all(fix == 0):
        del channels["fix_quality"]
        remarks.notes.append("the fix quality is 0 throughout and was ignored")
        return None
    return fix == 0


def _riders(table: Table) -> tuple[IntArray | None, tuple[str, ...]]:
    """The rider's number of each row, ``(n,)``, and the names; nothing where the column is not one of riders."""
    rows = table.take("rider")
    if rows is None or len(table.riders) > min(_MOST_RIDERS, len(rows) / _ROWS_PER_RIDER):
        return None, ()
    return rows.astype(np.int64), tuple(map(safe_name, table.riders))
